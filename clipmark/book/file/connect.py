"""Opening a book's SQLite file, the same way for the store, backups, and salvage."""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

from clipmark.book.errors import BookLocked, NotABook
from clipmark.book.file.leftovers import check_leftovers
from clipmark.plain_file import odd

# EXTRA: the journal's removal reaches the disk before a commit returns, so that what was acknowledged outlasts a
# power loss as far as the disk keeps its word. The tests' books, which outlast nothing, turn it off.
SYNCHRONOUS = "EXTRA"


def connect(path: Path, wait_s: float, *, create: bool = False, write: bool = True) -> sqlite3.Connection:
    """A connection in which every transaction is begun in words. SQLite's errors are not translated here.

    A connection that only reads is not opened as read-only by name: where a program was killed in the middle of a
    write, the next one to come has to put the file right, and a reader may be that.

    Raises:
        NotABook: there is a folder, pipe or device of this name. BookLeftovers: a journal of another book lies there.
    """
    if odd(path):
        raise NotABook(path, odd(path))
    check_leftovers(path)
    mode = "rwc" if create else "rw"
    db = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True, timeout=wait_s, isolation_level=None)
    try:
        db.row_factory = sqlite3.Row
        db.execute("PRAGMA foreign_keys = ON")
        db.execute(f"PRAGMA synchronous = {SYNCHRONOUS}")
        db.execute("PRAGMA trusted_schema = OFF")  # a book from a stranger runs no functions from its schema
        if not write:
            db.execute("PRAGMA query_only = ON")
    except BaseException:
        db.close()
        raise
    return db


def copy_pages(source: sqlite3.Connection, to: sqlite3.Connection, wait_s: float, path: Path) -> None:
    """Copy one book over another by SQLite's online backup, in one transaction.

    Raises:
        BookLocked: either stayed locked for longer than `wait_s`; the backup itself would wait for ever. `path` is
            the book to name then.
    """
    until = time.monotonic() + wait_s

    def watch(status: int, remaining: int, total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > until:
            raise BookLocked(path)

    source.backup(to, progress=watch, sleep=0.05)
