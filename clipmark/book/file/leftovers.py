"""What an interrupted write left beside a book, and whether it belongs there.

SQLite plays a journal that it finds beside a file back into it. Where the file was put there by copying, the journal
is that of another book, or of another day, and would ruin it. So it is looked at first. Sources: SQLite file format,
1.3 (the database header) and 3 (the rollback journal); "How To Corrupt An SQLite Database File", 1.4.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

from clipmark.book.errors import BookLeftovers

MARK = "clipmark-book-"  # begins the name that a book has of its own, kept among its facts (table `about`)
_MAGIC = bytes.fromhex("d9d505f920a163d7")
_NAMED = re.compile(re.escape(MARK).encode() + rb"([0-9a-f]{32})")
_COUNTED = re.compile(rb"\x03\x19(.)writes", re.DOTALL)  # a record of a text of six letters and a whole number
_AGAIN_S = 0.5  # a write that is going on just now may look odd for a moment


def check_leftovers(path: Path) -> None:
    """Look whether a journal or log beside a book is its own: two questions to the file system where there is none.

    Raises:
        BookLeftovers: it is that of another book or of another day. Nothing was touched.
    """
    for ending, foreign in (("-journal", _foreign_journal), ("-wal", _foreign_log)):
        beside = path.with_name(path.name + ending)
        try:
            if not beside.stat().st_size or not path.stat().st_size:
                continue
        except OSError:
            continue
        until = time.monotonic() + _AGAIN_S
        while foreign(path, beside):
            if time.monotonic() > until:
                raise BookLeftovers(path, beside)
            time.sleep(0.05)


def _foreign_log(path: Path, beside: Path) -> bool:
    """A write-ahead log beside a book that keeps none; a book that another program switched to one may have it."""
    try:
        with path.open("rb") as file:
            return file.read(20)[18:20] == b"\x01\x01" and beside.stat().st_size > 0
    except OSError:
        return False


def _foreign_journal(path: Path, beside: Path) -> bool:
    try:
        with beside.open("rb") as file:
            head = file.read(28)
        if head[:8] != _MAGIC or len(head) < 28:
            return False  # SQLite does not play it back either
        with path.open("rb") as file:
            now = file.read(100)
        pages, sector, size = (int.from_bytes(head[at : at + 4], "big") for at in (16, 20, 24))
        if size != (int.from_bytes(now[16:18], "big") or 65_536) and int.from_bytes(now[16:18], "big") != 1:
            return True
        first: bytes | None = None
        names: set[bytes] = set()
        counted = False  # whether the count of changes was met, and fits
        for number, page in _pages(beside, sector, size):
            names.update(_NAMED.findall(page))
            if number == 1 and first is None:
                first = page
            elif _writes(page) is not None:
                if _is_another_day(path, number, page):
                    return True
                counted = True
        if names and not (names & _names_in(path)):
            return True
        if first is None and counted and names:
            return False  # the first page may stand in a later stretch; name and count say enough
        if first is None:  # the first page was not changed yet, so it still tells the size from before
            states = int.from_bytes(now[28:32], "big")
            if pages == 0 and path.stat().st_size < states * size:
                return False  # the book was being made and is not whole; a book that is whole would be ruined
            return pages != states
        before, after = (int.from_bytes(one[24:28], "big") for one in (first, now))  # the counter of changes
        return after - before not in (0, 1)
    except OSError:
        return False


def _is_another_day(path: Path, number: int, page: bytes) -> bool:
    """Whether the counter of changes stands elsewhere in the book than before or after the interrupted change."""
    with path.open("rb") as file:
        file.seek((number - 1) * len(page))
        before, now = _writes(page), _writes(file.read(len(page)))
    return before is not None and now is not None and now - before not in (0, 1)


def _writes(page: bytes) -> int | None:
    """The count of changes, where this is the page that holds it. Source: SQLite file format, 2.1 (records)."""
    found = _COUNTED.search(page)
    if found is None:
        return None
    kind, behind = found[1][0], found.end()
    if kind in (8, 9):
        return kind - 8
    size = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}.get(kind)
    return None if size is None else int.from_bytes(page[behind : behind + size], "big")


def _pages(beside: Path, sector: int, size: int) -> Iterator[tuple[int, bytes]]:
    """Number and former content of the pages in the first stretch of a journal."""
    if not 512 <= size <= 65_536 or not 32 <= sector <= 65_536:
        return
    with beside.open("rb") as file:
        file.seek(8)
        count = int.from_bytes(file.read(4), "big")
        file.seek(sector)
        while count:
            record = file.read(4 + size + 4)
            if len(record) < 8 + size:
                return
            yield int.from_bytes(record[:4], "big"), record[4 : 4 + size]
            count -= 1


def _names_in(path: Path) -> set[bytes]:
    """The book's own name, read without SQLite: to open the file would play the journal back."""
    found: set[bytes] = set()
    with path.open("rb") as file:
        tail = b""
        while piece := file.read(1 << 20):
            found.update(_NAMED.findall(tail + piece))
            if found:
                break
            tail = piece[-64:]
    return found
