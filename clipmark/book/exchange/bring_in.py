"""An exported book brought into a book, in one step of undo.

Into an empty book everything comes back exactly, numbers included. Into a book that holds something, numbers are
given anew, and what is there already stays as it is: animals by name, sex and species; sessions by title, date and
animals; film by fingerprint; marks, calls and all else where they are equal. So a second reviewer's book can be
brought in: their marks and calls join the same session, and bringing it in twice adds nothing.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from clipmark.book.exchange.book_json import LATER, LISTS, PARENTS
from clipmark.book.exchange.read_in import Document, Numbers, read_document
from clipmark.book.forms import rows
from clipmark.book.forms.rows import Kind
from clipmark.book.steps import journal
from clipmark.json_values import to_plain
from clipmark.progress import SILENT, Progress

if TYPE_CHECKING:
    from clipmark.book.store import Book

# what a thing is known by among what is there already; all its columns where nothing is said
KNOWN_BY = {
    "animals": ("name", "sex", "species"),
    "sessions": ("title", "date", "female_id", "male_id"),
    "clips": ("session_id", "fingerprint", "size", "frames", "first_pts", "time_base_num", "time_base_den"),
    "outlines": ("clip_id", "pts", "part"),
    "passes": ("clip_id", "parameters", "made_at"),
    "reminders": ("session_id", "uid"),
}
_NAMED = {*PARENTS.values(), *LATER}  # lists whose things are named by others
_TOLD = 500  # things between two words to the progress


@dataclass
class Imported:
    """How many of each were brought in, and how many were there already."""

    added: dict[str, int] = field(default_factory=dict)
    known: dict[str, int] = field(default_factory=dict)

    def count(self, name: str, new: bool) -> None:
        """One more of a list."""
        counts = self.added if new else self.known
        counts[name] = counts.get(name, 0) + 1


def import_file(book: Book, path: Path) -> Imported:
    """Read an exported book and bring it in: all of it or nothing.

    Raises:
        ExchangeUnreadable, and the troubles of a book.
    """
    return bring_in(book, read_document(path), f"import {path.name}")


def bring_in(book: Book, read: Document, label: str = "import a book", progress: Progress = SILENT) -> Imported:
    """Bring a read document into a book, in one step of undo; `progress` counts things.

    Raises:
        CannotKeep and the troubles of a book, Cancelled through `progress`; then nothing was brought in.
    """
    with book.step(label) as writer:
        return _BringingIn(book, read, label, progress, writer).all()


class _BringingIn:
    """One document on its way into one book, inside a step."""

    def __init__(self, book: Book, read: Document, label: str, progress: Progress, writer: journal.Writer):
        self._book, self._read, self._label, self._progress, self._writer = book, read, label, progress, writer
        given = book.connection.execute("SELECT count(*) FROM sqlite_sequence WHERE name NOT IN ('step', 'change')")
        self._keep = given.fetchone()[0] == 0  # a book in which no number was ever given takes those of the file
        self._numbers = {name: Numbers() for name in _NAMED}
        self._aims = {name: (array("q"), array("q")) for name in LATER}
        self._new_passes = Numbers()
        self._said, self._done = Imported(), 0

    def all(self) -> Imported:
        for name, kind in LISTS.items():
            self._list(name, kind)
        for number, trace in self._read.traces():
            self._tell()
            if number in self._new_passes:
                new = self._new_passes[number]
                self._book.connection.execute("INSERT INTO trace VALUES (?, ?, ?, ?)", (new, *trace))
        self._set_later()
        self._bring_acts()
        self._progress.advance(self._read.things, self._read.things)
        return self._said

    def _tell(self) -> None:
        self._done += 1
        if self._done % _TOLD == 0:
            self._writer.flush(self._label)
            self._progress.advance(self._done, self._read.things)

    def _list(self, name: str, kind: Kind[Any]) -> None:
        present = _Present(self._book, name, kind, self._again)
        for number, value in self._read.values(name):
            self._tell()
            row = self._row(name, value)
            new = present.take(row)
            self._said.count(name, new is None)
            if new is None:
                new = self._insert(name, kind, number, value, row)
            if name in self._numbers:
                self._numbers[name].add(number, new)

    def _again(self) -> None:
        """Say that the work goes on, and let it be stopped."""
        self._progress.advance(self._done, self._read.things)

    def _row(self, name: str, value: Any) -> dict[str, Any]:
        row: dict[str, Any] = rows.encode(value)
        for column, parent in PARENTS.items():
            if row.get(column) is not None:
                row[column] = self._numbers[parent][row[column]]
        if name in LATER:
            row[LATER[name]] = 0
        return row

    def _insert(self, name: str, kind: Kind[Any], number: int, value: Any, row: dict[str, Any]) -> int:
        new = self._writer.insert(kind.table, row, number if self._keep and name != "spans" else None)
        if name == "passes":
            self._new_passes.add(number, new)
            _one_current(self._book, self._writer, row, new)
        elif name in LATER and getattr(value, LATER[name]):
            self._aims[name][0].append(new)
            self._aims[name][1].append(getattr(value, LATER[name]))
        return new

    def _set_later(self) -> None:
        for name, (new, aims) in self._aims.items():
            for row_id, aim in zip(new, aims, strict=True):
                self._writer.update(LISTS[name].table, row_id, {LATER[name]: self._numbers[name][aim]})
                if len(self._writer.changes) >= _TOLD:
                    self._writer.flush(self._label)

    def _bring_acts(self) -> None:
        book = self._book
        stored = {name: book.acts(name) for name in book.act_sets()}
        for name, in_use, acts in self._read.act_sets:
            known = acts in stored.values() and (name not in stored or stored[name] == acts)
            self._said.count("act_sets", not known)
            if known:
                continue
            free = name
            while free in stored:
                free = f"{free or 'acts'} (brought in)"
            text = json.dumps([to_plain(act) for act in acts], ensure_ascii=True)
            self._writer.insert("act_set", {"name": free, "acts": text, "in_use": int(in_use and self._keep)})
            stored[free] = acts


class _Present:
    """What the book held of a list before: each row answers once, so that two equal marks of a file stay two.

    Kept are a hash and the number of each row, so that a book of a million marks takes some 24 MB; a row that is
    found by its hash is compared itself.
    """

    def __init__(self, book: Book, name: str, kind: Kind[Any], tell: Callable[[], None]):
        self._db, self._table, self._name = book.connection, kind.table, name
        hashes, ids = array("q"), array("q")
        for row in journal.all_rows(self._db, kind.table):
            hashes.append(hash(self._key(row)))
            ids.append(row["id"])
            if len(ids) % _TOLD == 0:
                tell()
        order = np.argsort(np.asarray(hashes), kind="stable")
        self._hashes, self._ids = np.asarray(hashes)[order], np.asarray(ids)[order]
        self._taken = np.zeros(len(order), dtype=np.int64)  # at the first of equal hashes: how many have answered

    def take(self, row: Mapping[str, Any]) -> int | None:
        """The number of a row like this one that has not answered yet; None where there is none."""
        if not len(self._ids):
            return None
        key = self._key(row)
        first = int(np.searchsorted(self._hashes, hash(key)))
        if first >= len(self._ids) or self._hashes[first] != hash(key):
            return None
        place = first + int(self._taken[first])
        if place >= len(self._ids) or self._hashes[place] != hash(key):
            return None
        number = int(self._ids[place])
        kept = journal.fetch(self._db, self._table, number)
        if kept is None or self._key(kept) != key:  # two keys of one hash: both stay
            return None
        if self._name != "outlines":  # one box of a part on a frame, however often it comes
            self._taken[first] += 1
        return number

    def _key(self, row: Mapping[str, Any]) -> tuple[Any, ...]:
        later = LATER.get(self._name)
        names = KNOWN_BY.get(self._name) or sorted(column for column in row if column not in ("id", later))
        return tuple(row[column] for column in names)


def _one_current(book: Book, writer: journal.Writer, row: Mapping[str, Any], new: int) -> None:
    """A clip keeps the current pass it had; a pass that comes in beside it stands with the older ones."""
    others = book.connection.execute(
        "SELECT id FROM pass WHERE clip_id = ? AND current AND id <> ?", (row["clip_id"], new)
    ).fetchall()
    if row["current"] and others:
        writer.update("pass", new, {"current": 0})
