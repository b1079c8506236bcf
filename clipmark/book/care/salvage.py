"""Saving what can be read of a damaged book into a new one, and saying what that was.

Rows are read table by table, forwards, backwards, and by halving in between, so that a broken page costs the rows on
it and no others. Where the list of tables is broken, that of an empty book is put in its place in a copy: tables
begin at the same pages in every book that was made by one version. What is saved goes through the same checks as
anything new; what refers to something lost gets a stand-in where that is possible.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections import deque
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from clipmark.atomic_files import make_folder, sync_folder
from clipmark.book.errors import NoBook, NotABook, from_system
from clipmark.book.file.connect import connect
from clipmark.book.file.schema import migrate
from clipmark.book.forms import rows
from clipmark.book.meaning.checks import from_plain
from clipmark.book.steps import journal
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
from clipmark.json_values import hints, to_plain

LONGEST_GAP = 50_000_000  # ids are given one by one; a number beyond this is damage, not a row
UNKNOWN_GAP = 65_536  # how far to look where no row beyond is known
MOST_TRIES, MOST_IN_VAIN = 200_000, 2_000  # questions about the gaps of one table


class NothingSaved(ClipmarkError):
    def __init__(self, path: Path):
        super().__init__(f"Nothing of “{path}” can be read as a book. Restore a backup: “clipmark book restore”.")
        self.path = path


class PlaceTaken(ClipmarkError):
    def __init__(self, path: Path):
        super().__init__(f"“{path}” is there already. Name a new file for what is saved.")
        self.path = path


@dataclass
class Salvaged:
    """What was saved: per table the rows saved and those that were found but do not fit; notes for the keeper."""

    saved: dict[str, int] = field(default_factory=dict)
    dropped: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def salvage(damaged: Path, to: Path) -> Salvaged:
    """Save what can be read of `damaged` into the new book `to`; the damaged file is not touched.

    Raises:
        NoBook, PlaceTaken, NothingSaved, BookFull, BookReadOnly, BookOutOfReach.
    """
    if not damaged.is_file():
        raise NoBook(damaged) if not damaged.exists() else NotABook(damaged, "it is a folder")
    if to.exists():
        raise PlaceTaken(to)
    said = Salvaged()
    try:
        make_folder(to.parent)
        with tempfile.TemporaryDirectory(prefix=".clipmark-salvage-", dir=to.parent) as room:
            copy = Path(room) / "damaged.book"
            shutil.copyfile(damaged, copy)
            half = damaged.with_name(damaged.name + "-journal")
            if half.is_file():  # an interrupted write, which opening the copy takes back
                shutil.copyfile(half, copy.with_name(copy.name + "-journal"))
            found = _read_all(copy, said)
            if not any(found[kind.table] for kind in rows.KINDS):
                raise NothingSaved(damaged)
            fresh = Path(room) / "saved.book"
            with closing(Book.open(fresh, backups=False)) as book:
                _write(book, found, said)
            os.replace(fresh, to)
            sync_folder(to.parent)
    except OSError as error:
        raise from_system(error, to) from error
    return said


Found = dict[str, dict[int, dict[str, Any]]]
_TABLES = (*(kind.table for kind in rows.KINDS), "trace", "act_set")


def _read_all(copy: Path, said: Salvaged) -> Found:
    found = _read(copy)
    if not _lists_all_tables(copy):
        mended = _mended(copy)
        again = _read(mended) if mended is not None else found
        mended_any = False
        for table in _TABLES:
            if len(again[table]) > len(found[table]):
                found[table] = again[table]
                mended_any = True
        if mended_any:
            said.notes.append("The list of tables was broken; that of an empty book took its place.")
    return found


def _lists_all_tables(copy: Path) -> bool:
    try:
        with closing(connect(copy, 1.0, write=False)) as db:
            names = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()}
    except (sqlite3.Error, UnicodeDecodeError):
        return False
    return names >= set(_TABLES)


def _read(copy: Path) -> Found:
    found: Found = {table: {} for table in _TABLES}
    try:
        db = connect(copy, 1.0, write=False)
    except (sqlite3.Error, UnicodeDecodeError):
        return found
    with closing(db):
        db.execute("PRAGMA cell_size_check = ON")  # broken cells are errors, not nonsense
        db.text_factory = lambda text: text.decode("utf-8", "replace")
        for table in _TABLES:
            key = "pass_id" if table == "trace" else "id"
            found[table] = _rows_of(db, table, key)
    return found


def _rows_of(db: sqlite3.Connection, table: str, key: str) -> dict[int, dict[str, Any]]:
    saved: dict[int, dict[str, Any]] = {}

    def take(query: str, *values: int) -> bool:
        """Keep the rows of a query; False where it broke off."""
        try:
            cursor = db.execute(query, values)
            names = [column[0] for column in cursor.description]
            for row in cursor:
                number = row[key]
                if isinstance(number, int):
                    saved[number] = dict(zip(names, tuple(row), strict=True))
        except (sqlite3.Error, UnicodeDecodeError, OverflowError, MemoryError):
            return False
        return True

    whole = f'SELECT * FROM "{table}" NOT INDEXED ORDER BY "{key}"'
    if take(whole):
        return saved
    low = max(saved, default=0)
    before = set(saved)
    take(whole + " DESC")
    behind = [number for number in saved if number not in before]
    high = min(behind) if behind else low + UNKNOWN_GAP
    one_stretch = f'SELECT * FROM "{table}" NOT INDEXED WHERE "{key}" >= ? AND "{key}" < ?'
    stretches, tries = deque([(low + 1, min(high, low + LONGEST_GAP))]), 0
    # the longest stretches first; a table of which nothing at all can be read is given up early
    while stretches and tries < (MOST_TRIES if saved else MOST_IN_VAIN):
        a, b = stretches.popleft()
        tries += 1
        if a < b and not take(one_stretch, a, b) and b - a > 1:
            stretches += [(a, (a + b) // 2), ((a + b) // 2, b)]
    return saved


def _mended(copy: Path) -> Path | None:
    """A further copy whose list of tables (the first page and those it points to) is that of an empty book."""
    data = bytearray(copy.read_bytes())
    empty = copy.with_name("empty.book")
    with closing(sqlite3.connect(empty, isolation_level=None)) as db:
        migrate(db, empty)
    fresh = empty.read_bytes()
    size = int.from_bytes(fresh[16:18], "big")
    pages = [1, *_below(fresh[:size])]
    if len(data) < size * max(pages):
        return None
    for page in pages:
        data[(page - 1) * size : page * size] = fresh[(page - 1) * size : page * size]
    data[28:32] = (len(data) // size).to_bytes(4, "big")  # pages in the file
    data[32:40] = bytes(8)  # the list of free pages is not trusted
    mended = copy.with_name("mended.book")
    mended.write_bytes(data)
    return mended


def _below(first: bytes) -> list[int]:
    """The pages that a book's first page points to. Source: SQLite file format, 1.6 (B-tree pages)."""
    if first[100] != 5:
        return []
    cells = int.from_bytes(first[103:105], "big")
    starts = [int.from_bytes(first[112 + 2 * cell : 114 + 2 * cell], "big") for cell in range(cells)]
    return [int.from_bytes(first[at : at + 4], "big") for at in starts] + [int.from_bytes(first[108:112], "big")]


def _write(book: Book, found: Found, said: Salvaged) -> None:
    db = book.connection
    with book.transaction():
        db.execute("PRAGMA defer_foreign_keys = ON")
        _stand_ins(found, said)
        for table in _TABLES:
            found[table] = {
                number: journal.in_columns_of_today(db, table, row) for number, row in found[table].items()
            }
        known: dict[str, set[int]] = {}
        for kind in rows.KINDS:
            known[kind.table] = set()
            for number, row in sorted(found[kind.table].items()):
                if number > 0 and _fits(kind, row, known):
                    _insert(db, kind.table, row)
                    known[kind.table].add(number)
            _count(said, kind.table, len(known[kind.table]), len(found[kind.table]))
        for table in ("trace", "act_set"):
            kept = 0
            for _, row in sorted(found[table].items()):
                if (table != "trace" or row["pass_id"] in known["pass"]) and _unpacks(table, row, book):
                    _insert(db, table, row)
                    kept += 1
            _count(said, table, kept, len(found[table]))
    said.notes.append("Earlier steps of undo were not saved.")


def _count(said: Salvaged, table: str, kept: int, found: int) -> None:
    said.saved[table] = kept
    if found > kept:
        said.dropped[table] = found - kept


def _fits(kind: rows.Kind[Any], row: Mapping[str, Any], known: Mapping[str, set[int]]) -> bool:
    for name, table in _REFERENCES:
        if name in row and row[name] is not None and row[name] not in known[table]:
            return False
    try:
        value = rows.decode(kind.type, row)
        from_plain(kind.type, to_plain(value), kind.word)
    except (ValueError, TypeError, LookupError, ArithmeticError, AttributeError, RecursionError, ClipmarkError):
        return False
    return True


_REFERENCES = (
    ("animal_id", "animal"),
    ("female_id", "animal"),
    ("male_id", "animal"),
    ("session_id", "session"),
    ("clip_id", "clip"),
    ("pass_id", "pass"),
    ("flag_id", "flag"),
)


def _stand_ins(found: Found, said: Salvaged) -> None:
    """Put something in the place of lost parents, where what hangs on them means something without them."""
    for row in found["session"].values():
        for name in ("female_id", "male_id"):
            if row.get(name) is not None and row[name] not in found["animal"]:
                row[name] = None
                said.notes.append(f"The animal of the session “{row.get('title')}” was lost ({name[:-3]}).")
    for number in sorted({row.get("session_id") for row in found["clip"].values()} - set(found["session"]), key=str):
        if isinstance(number, int):
            found["session"][number] = _blank("session", id=number, title=f"Saved session {number}")
            said.notes.append(f"Session {number} itself was lost; its film and marks stand under a new title.")
    lost = {row.get("pass_id"): row for row in found["flag"].values() if row.get("pass_id") not in found["pass"]}
    for number, row in lost.items():
        if isinstance(number, int):
            found["pass"][number] = _blank(
                "pass", id=number, clip_id=row.get("clip_id"), parameters=row.get("parameters"), current=1
            )
            said.notes.append(f"The facts of motion pass {number} were lost; its flags were saved.")


def _blank(table: str, **values: Any) -> dict[str, Any]:
    kind = next(kind for kind in rows.KINDS if kind.table == table)
    empty: dict[str, Any] = {}
    for name, hint in hints(kind.type).items():
        empty[name] = "" if hint is str else 0.0 if hint is float else 0 if hint in (int, bool) else None
    return {**empty, **values}


def _unpacks(table: str, row: Mapping[str, Any], book: Book) -> bool:
    from clipmark.book.forms.traces import unpacked

    try:
        if table == "trace":
            unpacked(row["frames"], row["columns"], row["data"])
        else:
            book.read_acts(row["acts"])
    except (ValueError, TypeError, LookupError, MemoryError, ClipmarkError):
        return False
    return True


def _insert(db: sqlite3.Connection, table: str, row: Mapping[str, Any]) -> None:
    quoted = ", ".join(f'"{name}"' for name in row)
    db.execute(f'INSERT INTO "{table}" ({quoted}) VALUES ({", ".join("?" * len(row))})', list(row.values()))
