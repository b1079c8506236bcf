"""Copies of the book: made before migrations and restores and once a day of use, rotated, put back by one command.

Backups lie in a folder beside the book, `NAME.backups/`, as books of their own, named like
`clipmark-000012-20260301T101112Z-daily.book`. The running number orders them, not the clock, which may have been
set back. A backup appears under its name only when it is complete and was checked.
"""

from __future__ import annotations

import datetime
import errno
import os
import re
import shutil
import sqlite3
import stat
import time
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from clipmark.atomic_files import make_folder, sync_file, sync_folder
from clipmark.book.errors import (
    BookDamaged,
    BookError,
    BookForeign,
    BookOutOfReach,
    NoBook,
    NotABook,
    from_system,
    sentences,
)
from clipmark.book.file.connect import connect, copy_pages
from clipmark.book.file.schema import STEPS, migrate, version_of
from clipmark.errors import ClipmarkError
from clipmark.plain_file import odd

KEPT = 10  # newest backups of any reason
KEPT_BEFORE = 3  # newest backups before a migration or a restore
KEPT_MONTHS = 12  # and the newest one of each of so many months
JOURNALS = ("-journal", "-wal", "-shm")  # what may lie beside an SQLite file and belongs to it
STALE_S = 3_600  # an unfinished copy of this age belongs to nobody any more
_NAME = re.compile(r"-(\d{6,})-(\d{8}T\d{6})Z-([a-z-]+)\.book$", re.ASCII)


class NoBackup(ClipmarkError):
    def __init__(self, asked: str, folder: Path):
        super().__init__(
            f"There is no backup {asked} in “{folder}”. “clipmark book backup --list” shows what there is; "
            "without one, “clipmark book salvage NEW” saves what can be read of a damaged book."
        )
        self.folder = folder


@dataclass(frozen=True, slots=True)
class Backup:
    """One backup: running number, day and time as its name says (UTC), reason: daily, asked, migration, restore, or
    damaged for what was no readable book and was moved aside."""

    path: Path
    number: int
    made_at: str
    reason: str
    size: int

    @property
    def day(self) -> str:
        """The day on which it was made, UTC: `20260301`."""
        return self.made_at[:8]

    @property
    def readable(self) -> str:
        """Day and time, UTC: `2026-03-01 10:11`."""
        return datetime.datetime.strptime(self.made_at, "%Y%m%dT%H%M%S").strftime("%Y-%m-%d %H:%M")


def folder_of(book: Path) -> Path:
    """Where the backups of a book lie."""
    return book.with_name(book.name + ".backups")


def backups(book: Path) -> tuple[Backup, ...]:
    """The backups of a book, oldest first.

    Raises:
        BookError: the folder is there and cannot be looked into.
    """
    found = []
    try:
        paths = list(folder_of(book).iterdir())
    except OSError as error:
        if error.errno in (errno.ENOENT, errno.ENOTDIR, errno.ENAMETOOLONG):
            return ()
        raise from_system(error, folder_of(book)) from error
    for path in paths:
        match = _NAME.search(path.name)
        with suppress(OSError):  # taken away meanwhile
            if match and path.is_file():
                found.append(Backup(path, int(match[1]), match[2], match[3], path.stat().st_size))
    return tuple(sorted(found, key=lambda one: one.number))


def backup(book: Path, reason: str = "asked", to: Path | None = None, wait_s: float = 5.0) -> Path:
    """Copy a book while it may be in use; returns where the copy lies.

    Args:
        to: the copy's own place (replaced if it is there); None for the backups' folder, which is rotated.
    Raises:
        NoBook, NotABook, BookDamaged, BookLocked, BookFull, BookOutOfReach.
    """
    if not book.is_file():
        raise NoBook(book)
    if to is None:
        made = _named(book, reason, lambda place: _copy(book, place, wait_s))
        _rotate(book)
        return made
    if to.absolute() == book.absolute() or (to.exists() and to.samefile(book)):
        raise BookOutOfReach(book, "a book cannot be its own backup")
    reason_against = odd(to) or ("it is a link" if to.is_symlink() else "")
    if reason_against:
        raise BookOutOfReach(to, f"{reason_against}; give the backup another name")
    _copy(book, to, wait_s)
    if to.parent == folder_of(book):
        _rotate(book)
    return to


def _named(book: Path, reason: str, make: Callable[[Path], None]) -> Path:
    """Make a backup under a running number that no other program gives meanwhile; returns its place."""
    folder = folder_of(book)
    try:
        make_folder(folder)
    except OSError as error:
        raise from_system(error, folder) from error
    number = 0
    while True:
        number = max([number, *(one.number for one in backups(book)[-1:])]) + 1
        claim = folder / f".clipmark-{number:06d}.claim"
        try:
            os.close(os.open(claim, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except FileExistsError:
            with suppress(OSError):
                if time.time() - claim.stat().st_mtime > STALE_S:
                    claim.unlink()
            continue
        except OSError as error:
            raise from_system(error, folder) from error
        try:
            if any(one.number >= number for one in backups(book)[-1:]):
                continue  # somebody was quicker between our looking and our claim
            stamp = datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%SZ")
            to = folder / f"{book.stem[:40]}-{number:06d}-{stamp}-{reason}.book"
            make(to)
            return to
        finally:
            with suppress(OSError):
                claim.unlink()


def daily(book: Path) -> Path | None:
    """Make today's backup if there is none yet; None where there is one. Days are UTC days."""
    known = latest(book)
    today = datetime.datetime.now(datetime.UTC).strftime("%Y%m%d")
    if known is not None and known.day == today:
        return None
    return backup(book, "daily")


def latest(book: Path) -> Backup | None:
    """The newest backup, without what was moved aside because it was damaged; None where there is none."""
    return next((one for one in reversed(backups(book)) if one.reason != "damaged"), None)


def find_backup(book: Path, asked: str = "") -> Backup:
    """The newest backup (as `latest`), or that of a running number.

    Raises:
        NoBackup: there is none.
    """
    found = latest(book)
    if asked:
        found = next((one for one in backups(book) if asked.isdecimal() and one.number == int(asked)), None)
    if found is None:
        raise NoBackup(f"of number {asked}" if asked else "yet", folder_of(book))
    return found


def restore(book: Path, source: Path, wait_s: float = 5.0) -> Path | None:
    """Put a backup in the book's place. What the book held is kept as a backup itself; returns where.

    Safety copy and replacement are one transaction: what another program adds meanwhile waits, and stands in the
    restored book. An open window goes on with the restored book; a book that cannot be read as one is moved aside.

    Raises:
        NoBook, NotABook, BookDamaged: about the backup; BookNewer, BookLocked, BookFull, BookOutOfReach.
    """
    with sentences(source):
        if not source.is_file():
            raise NoBook(source)
        _sound(source, wait_s)
    if not book.exists():
        _copy(source, book, wait_s)
        return None
    try:
        return _replace(book, source, wait_s)
    except (NotABook, BookDamaged, BookForeign) as error:
        if error.path == source:
            raise
    kept = _aside(book)
    _copy(source, book, wait_s)
    return kept


def _replace(book: Path, source: Path, wait_s: float) -> Path:
    """Replace what a readable book holds, table by table, in the transaction in which its safety copy is made."""
    part = book.with_name(f".clipmark-{uuid4().hex}.part")
    try:
        with sentences(book), closing(connect(book, wait_s)) as db:
            version = version_of(db, book)
            if version == 0:
                raise NotABook(book, "it is empty")
            if version < len(STEPS):
                migrate(db, book, backup(book, "migration", wait_s=wait_s))
            _copy(source, part, wait_s)
            with sentences(source), closing(connect(part, wait_s)) as fresh:
                migrate(fresh, source)
            # read-only, so that the change is one of one file: SQLite would tie two together by a name that may move
            db.execute("ATTACH DATABASE ? AS brought", (f"{part.absolute().as_uri()}?mode=ro",))
            db.execute("BEGIN IMMEDIATE")  # from here on nobody else writes
            try:
                kept = _named(book, "restore", lambda to: _copy(book, to, wait_s))  # readers are let in
                _take_over(db)
                db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    db.execute("ROLLBACK")
                raise
        _rotate(book)
        return kept
    except OSError as error:
        raise from_system(error, book) from error
    finally:
        _remove_part(part)


def _take_over(db: sqlite3.Connection) -> None:
    """All rows of the attached book instead of the open one's; its own name and its count of changes stay its own."""
    before = int(db.execute("SELECT value FROM main.about WHERE name = 'writes'").fetchone()[0])
    named = db.execute("SELECT value FROM main.about WHERE name = 'name'").fetchone()
    db.execute("PRAGMA defer_foreign_keys = ON")
    given = db.execute(
        "SELECT name, max(seq) FROM"
        " (SELECT * FROM main.sqlite_sequence UNION ALL SELECT * FROM brought.sqlite_sequence) GROUP BY name"
    ).fetchall()
    asked_for = "SELECT name FROM brought.sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'"
    tables = [row[0] for row in db.execute(asked_for).fetchall()]
    for table in tables:  # all of them first: with a step SQLite itself removes what it changed
        db.execute(f'DELETE FROM main."{table}"')
    for table in tables:
        names = [f'"{row[1]}"' for row in db.execute(f'PRAGMA brought.table_info("{table}")').fetchall()]
        listed = ", ".join(names)
        db.execute(f'INSERT INTO main."{table}" ({listed}) SELECT {listed} FROM brought."{table}"')
    db.execute("DELETE FROM main.sqlite_sequence")  # no number is given twice, before or after the restore
    db.executemany("INSERT INTO main.sqlite_sequence (name, seq) VALUES (?, ?)", [tuple(row) for row in given])
    # the counter must move for windows that have the book open
    db.execute("UPDATE main.about SET value = ? WHERE name = 'writes'", (before + 1,))
    if named is not None:
        db.execute("UPDATE main.about SET value = ? WHERE name = 'name'", (named[0],))


def _copy(source: Path, to: Path, wait_s: float) -> None:
    """Copy by SQLite's own backup, check the copy, then give it its name."""
    try:
        with sentences(source), closing(connect(source, wait_s, write=False)) as db:
            version_of(db, source)
            _write_copy(db, source, to, wait_s)
    except OSError as error:
        raise from_system(error, to) from error


def _write_copy(db: sqlite3.Connection, source: Path, to: Path, wait_s: float) -> None:
    # a name that nobody had before: after a power loss a half copy and its journal may lie there
    part = to.with_name(f".clipmark-{uuid4().hex}.part")
    try:
        make_folder(to.parent)
        # as private as the book, from the first byte on
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with sentences(to), closing(connect(part, wait_s, create=True)) as copy:
            copy_pages(db, copy, wait_s, source)
        _sound(part, wait_s, called=source)
        os.chmod(part, stat.S_IMODE(source.stat().st_mode))
        _without_journal(to)
        os.replace(part, to)
        sync_folder(to.parent)
    finally:
        _remove_part(part)


def _remove_part(part: Path) -> None:
    with suppress(OSError):
        part.unlink(missing_ok=True)
        part.with_name(part.name + "-journal").unlink(missing_ok=True)


def _sound(path: Path, wait_s: float, called: Path | None = None) -> None:
    with closing(connect(path, wait_s, write=False)) as db:
        if version_of(db, called or path) == 0:
            raise NotABook(called or path, "it is empty")
        said = [row[0] for row in db.execute("PRAGMA quick_check(1)").fetchall()]
    if said != ["ok"]:
        raise BookDamaged(called or path, " ".join(str(said[0]).split()))


def _aside(book: Path) -> Path:
    """Move a file that is no readable book into the backups' folder, its journals with it."""
    try:
        return _named(book, "damaged", lambda to: _move(book, to))
    except OSError as error:
        raise from_system(error, book) from error


def _move(book: Path, to: Path) -> None:
    for ending in JOURNALS:
        journal = book.with_name(book.name + ending)
        if journal.exists():
            shutil.move(journal, to.with_name(to.name + ending))
    try:
        os.rename(book, to)
    except OSError:  # the backups' folder is a link to another disk: the copy is whole before anything goes
        shutil.copy2(book, to)
        sync_file(to)
        book.unlink()
    sync_folder(to.parent)


def _without_journal(place: Path) -> None:
    """Let no journal of another book lie where a copy is to be put: SQLite would play it into the copy.

    Such a one is left by a killed program, or by a book that was moved away or deleted alone. Where its book is
    there, the interrupted write is taken back as it should be; else the journal is kept under another name.
    """
    if not any(place.with_name(place.name + ending).exists() for ending in JOURNALS):
        return
    if place.exists():
        with suppress(sqlite3.Error, BookError), closing(connect(place, 1.0)) as db:
            db.execute("BEGIN IMMEDIATE")
            db.execute("ROLLBACK")
    for ending in JOURNALS:
        left = place.with_name(place.name + ending)
        if left.exists():
            os.replace(left, left.with_name(left.name + ".old"))


def surplus(known: Sequence[Backup]) -> list[Backup]:
    """The backups that rotation gives up, of those given oldest first."""
    kept = {one.number for one in known[-KEPT:]}
    for reason in ("migration", "restore", "damaged"):
        kept |= {one.number for one in [one for one in known if one.reason == reason][-KEPT_BEFORE:]}
    months = {one.made_at[:6]: one.number for one in known}  # the newest of each month
    kept |= set(list(months.values())[-KEPT_MONTHS:])
    return [one for one in known if one.number not in kept]


def _rotate(book: Path) -> None:
    with suppress(OSError):  # a copy too many does no harm
        for one in surplus(backups(book)):
            for ending in ("", *JOURNALS):
                one.path.with_name(one.path.name + ending).unlink(missing_ok=True)
        for part in (*folder_of(book).glob(".clipmark-*"), *book.parent.glob(".clipmark-*.part*")):
            if time.time() - part.stat().st_mtime > STALE_S:
                part.unlink(missing_ok=True)


def check_backup(path: Path) -> str:
    """Why a backup would not do; empty where it is sound."""
    try:
        with sentences(path):
            _sound(path, 1.0)
    except (BookError, sqlite3.Error) as error:
        return str(error)
    return ""
