"""The films of a session, opened once when first asked for; what is said where one is not there."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from clipmark.book.model import ClipRecord
from clipmark.errors import ClipmarkError
from clipmark.report.text import one_line

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.reader import Reader


class FilmMissing(ClipmarkError):
    """The film of a clip cannot be had; `reason` is a sentence fragment for the sheet."""

    def __init__(self, name: str, reason: str):
        super().__init__(f"The film “{name}” {reason}. Find it again with clipmark book relink, then try again.")
        self.name, self.reason = name, reason


def film_of(record: ClipRecord) -> Clip:
    """The film file of a clip in the book, opened.

    Raises:
        FilmMissing: it is not there, cannot be read, or is another film under the same name.
    """
    from clipmark.media.clip import open_clip

    path = Path(record.path)
    name = one_line(path.name, 120)
    try:
        if not path.is_file():
            raise FilmMissing(name, "is not where the book says")
        clip = open_clip(path)
    except FilmMissing:
        raise
    except ClipmarkError as error:
        raise FilmMissing(name, f"cannot be read ({one_line(str(error), 200)})") from error
    except (OSError, ValueError) as error:  # ValueError: a path with a NUL in it
        raise FilmMissing(name, f"cannot be read ({error})") from error
    if record.fingerprint and clip.fingerprint != record.fingerprint:
        raise FilmMissing(name, "is another film than the one that was reviewed")
    return clip


class Films:
    """The films of a session, opened once when first asked for, read by one reader each. A context manager."""

    def __init__(self) -> None:
        self._films: dict[int, Reader | FilmMissing] = {}

    def reader(self, record: ClipRecord) -> Reader:
        """The reader of a clip.

        Raises:
            FilmMissing: the same as the first time.
        """
        from clipmark.media.frames.reader import Reader

        if record.id not in self._films:
            try:
                self._films[record.id] = Reader(film_of(record))
            except FilmMissing as missing:
                self._films[record.id] = missing
        found = self._films[record.id]
        if isinstance(found, FilmMissing):
            raise found
        return found

    def __enter__(self) -> Films:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None
    ) -> None:
        for reader in self._films.values():
            if not isinstance(reader, FilmMissing):
                reader.close()
