"""The book: the one object through which anything is kept."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import TracebackType

from clipmark import settings
from clipmark.book import journal
from clipmark.book.core import WAIT_S
from clipmark.book.passes import Passes
from clipmark.book.schema import STEPS, migrate, version_of
from clipmark.book.trouble import (
    BookOutOfReach,
    BookReadOnly,
    NoBook,
    NotABook,
    sentences,
)


class Book(Passes):
    """An open record book (a context manager). Queries are in book/queries.py, changes in book/edits.py, motion
    passes in book/passes.py.

    Two windows may have one book open: each write is one short transaction, a second writer waits for the first,
    and `changed` tells that somebody wrote. A lock file would be left behind by a crash and would keep a second
    window from even looking; SQLite's own locks vanish with the process. Undo takes back the latest step of the
    book, whichever window made it, and says which in its label.
    """

    @classmethod
    def open(cls, path: Path | str | None = None, *, read_only: bool = False, wait_s: float = WAIT_S) -> Book:
        """Open a book; where there is none a new one is made, unless `read_only`.

        Args:
            path: the book file; None for `settings.default_book()`.
            wait_s: how long to wait for another writer.
        Raises:
            NoBook, NotABook, BookNewer, BookDamaged, BookLocked, BookReadOnly, BookFull, BookOutOfReach,
            MigrationFailed: each a sentence, the file left as it was.
        """
        place = Path(path) if path is not None else settings.default_book()
        return cls._opened(place, read_only, wait_s)

    @classmethod
    def _opened(cls, path: Path, read_only: bool, wait_s: float) -> Book:
        if path.is_dir():
            raise NotABook(path, "it is a folder")
        if read_only and not path.exists():
            raise NoBook(path)
        if not read_only:
            _make_room_for(path)
        with sentences(path):
            db = _connect(path, "ro" if read_only else "rwc", wait_s)
            try:
                version = version_of(db, path)
                if read_only:
                    db = _readable(db, path, version)
                else:
                    _writable(db, path, version)
            except BaseException:
                db.close()
                raise
        return cls(path, db, read_only)

    @property
    def undo_label(self) -> str | None:
        """What `undo` would take back."""
        with sentences(self.path):
            step = journal.next_undo(self._db)
        return None if step is None else step[1]

    @property
    def redo_label(self) -> str | None:
        """What `redo` would do again."""
        with sentences(self.path):
            step = journal.next_redo(self._db)
        return None if step is None else step[1]

    def undo(self) -> str | None:
        """Take back the latest step; returns its label, None where nothing is left to take back."""
        with self._transaction():
            return journal.undo(self._db)

    def redo(self) -> str | None:
        """Do the step again that was taken back last; a new edit forgets it."""
        with self._transaction():
            return journal.redo(self._db)

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _connect(path: Path, mode: str, wait_s: float) -> sqlite3.Connection:
    db = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True, timeout=wait_s, isolation_level=None)
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA synchronous = EXTRA")  # the journal's removal reaches the disk before a commit returns
    db.execute("PRAGMA trusted_schema = OFF")  # a book from a stranger cannot run functions from its schema
    return db


def _make_room_for(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except PermissionError as error:
        raise BookReadOnly(path) from error
    except OSError as error:
        raise BookOutOfReach(path, error.strerror or str(error)) from error


def _readable(db: sqlite3.Connection, path: Path, version: int) -> sqlite3.Connection:
    """A book that can be read as today's: one of an older version is brought up to date in memory."""
    if version == 0:
        raise NoBook(path)
    if version == len(STEPS):
        return db
    memory = sqlite3.connect(":memory:", isolation_level=None)
    memory.row_factory = sqlite3.Row
    db.backup(memory)
    db.close()
    migrate(memory, path)
    return memory


def _writable(db: sqlite3.Connection, path: Path, version: int) -> None:
    db.execute("BEGIN IMMEDIATE")  # says at once that the file is locked or read-only
    db.execute("ROLLBACK")
    if version < len(STEPS):
        migrate(db, path)
