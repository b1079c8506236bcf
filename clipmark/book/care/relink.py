"""Finding film again that was moved or renamed: by size first, then by fingerprint, never by name alone."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from clipmark.book.model import ClipRecord
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Progress


class NoSuchFolder(ClipmarkError):
    def __init__(self, path: Path):
        super().__init__(f"There is no folder “{path}”. Name the folder in which the film lies now.")
        self.path = path


@dataclass(frozen=True, slots=True)
class Search:
    """The outcome: where film was found again, clips still missing, clips whose file is there but another film."""

    found: tuple[tuple[ClipRecord, Path], ...]
    missing: tuple[ClipRecord, ...]
    changed: tuple[ClipRecord, ...]


def film_trouble(clip: ClipRecord) -> str:
    """Why a clip's film cannot be used: "missing", "changed" (another film of that name), or "" where it is fine."""
    path = Path(clip.path)
    try:
        if not path.is_file():
            return "missing"
        return "" if _same(path, clip) else "changed"
    except (OSError, ValueError):
        return "missing"


def search(clips: Iterable[ClipRecord], folders: Sequence[Path], progress: Progress = SILENT) -> Search:
    """Look in folders, and the folders in them, for the film of clips that is not where the book says.

    Where several copies lie there, the one of the old name is taken, then the first by path.
    Raises:
        NoSuchFolder; Cancelled through `progress`.
    """
    for folder in folders:
        if not folder.is_dir():
            raise NoSuchFolder(folder)
    troubled = [(clip, film_trouble(clip)) for clip in clips]
    wanted = [clip for clip, trouble in troubled if trouble]
    by_size: dict[int, list[ClipRecord]] = {}
    for clip in wanted:
        by_size.setdefault(clip.size, []).append(clip)
    places: dict[int, list[Path]] = {}
    files = [path for folder in folders for path in _files(folder)] if wanted else []
    for done, path in enumerate(files, start=1):
        for clip in by_size.get(_size(path), ()):
            if _same(path, clip):
                places.setdefault(clip.id, []).append(path)
        progress.advance(done, len(files))
    found: list[tuple[ClipRecord, Path]] = []
    missing: list[ClipRecord] = []
    changed: list[ClipRecord] = []
    for clip, trouble in troubled:
        if trouble and clip.id in places:
            name = Path(clip.path).name
            found.append((clip, min(places[clip.id], key=lambda path: (path.name != name, str(path)))))
        elif trouble:
            (missing if trouble == "missing" else changed).append(clip)
    return Search(tuple(found), tuple(missing), tuple(changed))


def _files(folder: Path) -> Iterable[Path]:
    for root, folders, names in os.walk(folder.absolute()):  # does not follow links to folders, so it ends
        folders.sort()
        for name in sorted(names):
            yield Path(root) / name


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return -1


def _same(path: Path, clip: ClipRecord) -> bool:
    from clipmark.media.fingerprint import fingerprint

    try:
        return path.is_file() and path.stat().st_size == clip.size and fingerprint(path) == clip.fingerprint
    except OSError:
        return False
