"""What can go wrong with a book file, and the one place where SQLite's errors become sentences."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from clipmark.errors import ClipmarkError

LONGEST_NAME = 240  # bytes of a book's own name: most systems take 255, and “.backups” or “-journal” must fit as well


class BookError(ClipmarkError):
    """Something about a book file; `path` is the book."""

    def __init__(self, path: Path, sentence: str):
        super().__init__(sentence)
        self.path = path


class NoBook(BookError):
    def __init__(self, path: Path):
        super().__init__(path, f"There is no book at “{path}”. Check the name, or start one in the window.")


class NotABook(BookError):
    def __init__(self, path: Path, reason: str = "it is some other file"):
        super().__init__(
            path, f"“{path}” is not a clipmark book ({reason}). Choose another file; it was not changed."
        )


class BookNewer(BookError):
    def __init__(self, path: Path, found: int, known: int):
        super().__init__(
            path,
            f"“{path}” was written by a newer clipmark (book version {found}, this one knows up to {known}). "
            "Update clipmark; the book was not changed.",
        )
        self.found, self.known = found, known


class BookLocked(BookError):
    def __init__(self, path: Path):
        super().__init__(
            path, f"“{path}” is being written by another program. Try again in a moment, or close that program."
        )


class BookReadOnly(BookError):
    def __init__(self, path: Path):
        super().__init__(
            path,
            f"“{path}” cannot be written: the file or its folder is read-only. "
            "Allow writing there, or copy the book to another folder.",
        )


class BookDamaged(BookError):
    def __init__(self, path: Path, reason: str):
        super().__init__(
            path,
            f"“{path}” is damaged ({reason}). “clipmark book restore” brings back a backup, “clipmark book salvage” "
            "saves what can be read into a new book.",
        )
        self.reason = reason


class BookLeftovers(BookError):
    """A journal beside the book is not its own; `beside` is that file."""

    def __init__(self, path: Path, beside: Path):
        super().__init__(
            path,
            f"Beside “{path}” lies “{beside.name}”, which an interrupted change of another book, or of this one on "
            "another day, left there. It would ruin the book, so nothing was opened. If you copied the book to this "
            f"place, move “{beside.name}” away; next time use “clipmark book restore”, do not copy over.",
        )
        self.beside = beside


class BookForeign(BookError):
    """The file holds instructions of its own that no clipmark wrote."""

    def __init__(self, path: Path, kind: str, name: str):
        super().__init__(
            path,
            f"“{path}” holds a {kind} (“{name[:40]}”) that clipmark did not write; it could change what you keep. "
            "It was not opened and not changed. “clipmark book salvage” saves the records into a new book.",
        )


class BookFull(BookError):
    def __init__(self, path: Path):
        super().__init__(path, f"The disk with “{path}” is full. Make room; nothing was changed by this step.")


class BookOutOfReach(BookError):
    def __init__(self, path: Path, reason: str):
        super().__init__(
            path,
            f"“{path}” could not be read or written ({reason}). Check that the drive is connected and has room; "
            "nothing was changed by this step.",
        )
        self.reason = reason


class BookNameTooLong(BookError):
    def __init__(self, path: Path):
        super().__init__(
            path,
            f"“{path.name[:40]}…” is too long a name for a book: files beside it are called by it and a little more. "
            f"Name it with at most {LONGEST_NAME} bytes; it was not changed.",
        )


class MigrationFailed(BookError):
    def __init__(self, path: Path, number: int, reason: str, backup: Path | None):
        kept = f" A backup lies at “{backup}”." if backup else ""
        super().__init__(
            path,
            f"“{path}” could not be brought to book version {number} ({reason}). The book was left as it was.{kept}",
        )
        self.number, self.backup = number, backup


class NoSuchThing(ClipmarkError):
    """Something asked for by id or name is not in the book."""

    def __init__(self, what: str, asked: object):
        super().__init__(f"There is no {what} {asked} in the book. Choose another, or look at “clipmark book list”.")
        self.what, self.asked = what, asked


class NoSuchSession(NoSuchThing):
    def __init__(self, asked: object):
        super().__init__("session", asked if isinstance(asked, int) else f"“{asked}”")


class SessionUnclear(ClipmarkError):
    def __init__(self, asked: str, found: tuple[tuple[int, str], ...]):
        names = "; ".join(f"{number} “{title}”" for number, title in found[:5])
        super().__init__(f"“{asked}” fits several sessions ({names}). Give the number instead.")
        self.found = found


class ChangedMeanwhile(ClipmarkError):
    """A field was changed by somebody else between being shown and being changed here; `theirs` is what it says."""

    def __init__(self, word: str, field: str, theirs: object):
        said = "empty" if theirs in (None, "") else f"“{theirs}”"
        super().__init__(
            f"The {field.replace('_', ' ')} of this {word} was changed by another window and is {said} now. "
            "Look at it, then change it again if you still want to."
        )
        self.field, self.theirs = field, theirs


class StepGone(ClipmarkError):
    def __init__(self) -> None:
        super().__init__("Something was changed meanwhile, so nothing was taken back. Look again, then undo.")


class CannotKeep(ClipmarkError):
    """A value that the book does not take, with the reason."""


def from_system(error: OSError, path: Path) -> BookError:
    """The sentence for an error of the file system."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return BookFull(path)
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return BookReadOnly(path)
    return BookOutOfReach(path, error.strerror or str(error))


_CORRUPT_HINT = "SQLite finds its pages malformed"


def translated(error: sqlite3.Error, path: Path) -> Exception:
    """The sentence for an SQLite error; the error itself where it is a fault of ours."""
    code = getattr(error, "sqlite_errorcode", None)
    primary = code & 0xFF if code is not None else None
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookLocked(path)
    if primary == sqlite3.SQLITE_READONLY:
        return BookReadOnly(path)
    if primary == sqlite3.SQLITE_FULL:
        return BookFull(path)
    if primary in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_TOOBIG):
        return BookOutOfReach(path, str(error))
    if primary == sqlite3.SQLITE_CORRUPT:
        return BookDamaged(path, _CORRUPT_HINT)
    if primary == sqlite3.SQLITE_NOTADB:
        return NotABook(path)
    if primary is None and "decode to UTF-8" in str(error):  # raised by Python's own reading of a text
        return BookDamaged(path, "a text in it is no text")
    return error


@contextmanager
def sentences(path: Path) -> Iterator[None]:
    """Translate SQLite's errors inside, keeping each as the cause."""
    try:
        yield
    except sqlite3.Error as error:
        plain = translated(error, path)
        if plain is error:
            raise
        raise plain from error
    except UnicodeDecodeError as error:  # even SQLite's words about the damage were damaged
        raise BookDamaged(path, "a text in it is no text") from error
