"""The sessions of a book as a start page lists them: what is said of each, and a small still. No Qt."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from clipmark import settings
from clipmark.book.model import ClipRecord, SessionRecord, SessionRow
from clipmark.progress import SILENT, Progress

STILL_WIDTH = 192  # pixels


def pair_words(row: SessionRow) -> str:
    """Who was paired: both names, what is known of them, or that nobody is entered."""
    names = " × ".join(name for name in (row.female, row.male) if name) or "no animals entered"
    return f"{names} · {row.species}" if row.species else names


def state_words(row: SessionRow) -> str:
    """How far the session has come, in a few words."""
    if not row.clips:
        return "no film yet"
    parts = [_count(row.clips, "clip")]
    if row.flags:
        parts.append(f"{_count(row.flags, 'flag')}, {row.called} called")
    if row.marks:
        parts.append(_count(row.marks, "mark"))
    if not row.flags and not row.marks:
        parts.append("not reviewed yet")
    if row.outcome:
        parts.append(row.outcome)
    return " · ".join(parts)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


@dataclass(frozen=True, slots=True)
class StillPlace:
    """The frame that stands for a session: a clip and a tick of it."""

    clip: ClipRecord
    pts: int

    @property
    def path(self) -> Path:
        """Where its picture is kept once it was made; it can be made anew at any time."""
        name = f"{self.clip.fingerprint}-{self.pts}".replace("/", "_").replace(":", "_")
        return settings.cache_dir() / "stills" / f"{name}.jpg"


def still_place(record: SessionRecord) -> StillPlace | None:
    """The frame on which her abdomen was outlined first, else the middle of the first clip; None without film."""
    if not record.clips:
        return None
    drawn = [outline for outline in record.outlines if outline.part == "abdomen"]
    if drawn:
        first = min(drawn, key=lambda one: record.clip(one.clip_id).on_clock(one.pts))
        return StillPlace(record.clip(first.clip_id), first.pts)
    clip = record.clips[0]
    return StillPlace(clip, (clip.first_pts + clip.end_pts) // 2)


def make_still(place: StillPlace, progress: Progress = SILENT) -> Path:
    """The picture of a session as a JPEG file in the cache, made where it is missing; for a background task.

    Raises:
        ClipUnreadable, FrameLost: the film cannot be read there. CannotWrite: the cache cannot be written.
    """
    import cv2

    from clipmark.atomic_files import CannotWrite
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.reader import Reader

    if place.path.exists():
        return place.path
    film = open_clip(Path(place.clip.path), progress)
    with Reader(film, threads=1) as reader:
        rgb = reader.frame(film.index.at_or_before(place.pts)).rgb(STILL_WIDTH)
    good, data = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])
    try:
        place.path.parent.mkdir(parents=True, exist_ok=True)
        fresh = place.path.with_suffix(f".{os.getpid()}.new")
        fresh.write_bytes(data.tobytes() if good else b"")
        os.replace(fresh, place.path)
    except OSError as error:
        raise CannotWrite(place.path, error.strerror or str(error)) from error
    return place.path
