"""The open book file: its connection, its transactions, and the steps that edits are made in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar
from uuid import uuid4

from clipmark.book.errors import BookDamaged, BookReadOnly, NoSuchThing, sentences
from clipmark.book.forms.rows import Kind, decode, decode_all
from clipmark.book.steps import journal
from clipmark.book.steps.kept_records import KeptRecords, State, Touched

T = TypeVar("T")
_REMEMBERED = 50_000  # rows of a table, some 50 MB; a session of a thousand marks has a few thousand in all
WAIT_S = 5.0  # how long a writer waits for another one before it says that the book is locked


class Core:
    """One connection to one book, used by one thread.

    Rollback journal (`DELETE`) with `synchronous = EXTRA`: the book is one file at rest, which a keeper can copy,
    put on a stick or open from a read-only folder, and a mark that was acknowledged is on the disk, even through a
    power loss as far as the disk keeps its word. A write-ahead log would be faster, but a copy of the file alone
    would then lack the latest marks; a person marks a few times a second at most.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, read_only: bool):
        self.path, self.read_only = path, read_only
        self.by = ""  # who changes things here, as a name; stands beside the steps of undo
        self.key = uuid4().hex  # marks the steps of this open book among those of others
        self.opened_at = journal.now()
        self._db = db
        self._writer: journal.Writer | None = None
        # what was read, by table and number: the row as it lay in the file and the value made of it. A value is made
        # again only where its row changed, and an edit is compared with what its caller was last shown.
        self._read: dict[str, dict[int, tuple[tuple[Any, ...], Any]]] = {}
        self._kept = KeptRecords()

    @property
    def connection(self) -> sqlite3.Connection:
        """The open SQLite file, for the modules of this room: what is written past `step` cannot be taken back."""
        return self._db

    def close(self) -> None:
        """Let go of the file; nothing has to be saved."""
        self._db.close()

    def changed(self) -> int:
        """A counter that moves when anybody wrote to the book, in this window or another."""
        with sentences(self.path):
            return int(self._db.execute("SELECT value FROM about WHERE name = 'writes'").fetchone()[0])

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """One unchanging view of the book over several queries."""
        with sentences(self.path):
            if self._db.in_transaction:
                yield self._db
                return
            self._db.execute("BEGIN")
            try:
                yield self._db
            finally:
                self._db.execute("ROLLBACK")

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is written inside is kept, or nothing; no step of undo is made of it.

        Raises:
            BookReadOnly: the book was opened for reading.
        """
        if self.read_only:
            raise BookReadOnly(self.path)
        with sentences(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):  # SQLite may have rolled back by itself (disk full)
                    if self._db.in_transaction:
                        self._db.execute("ROLLBACK")
                raise

    @contextmanager
    def step(self, label: str) -> Iterator[journal.Writer]:
        """One step of undo: all of it is kept, or nothing. Inside another step it becomes part of that."""
        if self._writer is not None:
            kept = len(self._writer.changes)
            self._db.execute("SAVEPOINT part")
            self._writer.inside += 1
            try:
                yield self._writer
            except BaseException:
                with suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK TO part")
                    self._db.execute("RELEASE part")
                del self._writer.changes[kept:]
                self._writer.counted = kept > 0
                raise
            finally:
                self._writer.inside -= 1
            self._db.execute("RELEASE part")
            return
        with self.transaction():
            before = self._state()
            writer = self._writer = journal.Writer(self._db, self.by, self.key)
            try:
                yield writer
                touched = _touched(writer)
                writer.finish(label)
            finally:
                self._writer = None
        if touched is not None:
            self._kept.step(before, (before[0], self._db.total_changes), touched)

    def _state(self) -> State:
        """Who wrote how much, as of the transaction that is open."""
        return int(self._db.execute("PRAGMA data_version").fetchone()[0]), self._db.total_changes

    @contextmanager
    def together(self, label: str) -> Iterator[None]:
        """Make all edits inside one step of undo; if one fails and the error leaves the block, none is kept."""
        with self.step(label):
            yield

    def _decoded(self, kind: Kind[T], row: Any) -> T:
        try:
            return decode(kind.type, row)
        except (ValueError, TypeError, LookupError, ZeroDivisionError, RecursionError) as error:
            raise BookDamaged(self.path, f"a {kind.word} holds what clipmark does not write: {error}") from error

    def rows_of(
        self, kind: Kind[T], where: str = "1", values: tuple[Any, ...] = (), order: str = "id"
    ) -> tuple[T, ...]:
        """All values of a kind for which the SQL condition `where` holds (`values` for its `?`), ordered by `order`.
        A value whose row has not changed since it was last read is the same object as then.

        Raises:
            BookDamaged: a row is not what it should be.
        """
        with sentences(self.path):
            found = self._db.execute(
                f'SELECT * FROM "{kind.table}" WHERE {where} ORDER BY {order}', values
            ).fetchall()
        known = self._read.setdefault(kind.table, {})
        if len(known) > _REMEMBERED:
            known.clear()
        values_found = []
        for row in found:
            raw = tuple(row)
            kept = known.get(row["id"])
            if kept is None or kept[0] != raw:
                kept = known[row["id"]] = (raw, self._decoded(kind, row))
            values_found.append(kept[1])
        return tuple(values_found)

    def _fresh(self, kind: Kind[T], where: str, order: str = "id") -> list[T]:
        """Rows that are not remembered: a whole book of them would fill the memory."""
        with sentences(self.path):
            found = self._db.execute(f'SELECT * FROM "{kind.table}" WHERE {where} ORDER BY {order}').fetchall()
        try:
            return decode_all(kind.type, found)
        except (ValueError, TypeError, LookupError, ZeroDivisionError, RecursionError) as error:
            raise BookDamaged(self.path, f"a {kind.word} holds what clipmark does not write: {error}") from error

    def each(self, kind: Kind[T]) -> Iterator[T]:
        """All values of a kind by number, a few in memory at a time."""
        with sentences(self.path):
            found = self._db.execute(f'SELECT * FROM "{kind.table}" ORDER BY id')
            while some := found.fetchmany(1_000):
                try:
                    made = decode_all(kind.type, some)
                except (ValueError, TypeError, LookupError, ZeroDivisionError, RecursionError) as error:
                    why = f"a {kind.word} holds what clipmark does not write: {error}"
                    raise BookDamaged(self.path, why) from error
                yield from made

    def _last_seen(self, kind: Kind[T], row_id: int) -> T | None:
        """A value as this book was last asked for it; None where it was not."""
        kept = self._read.get(kind.table, {}).get(row_id)
        return None if kept is None else kept[1]

    def _one(self, kind: Kind[T], row_id: int) -> T:
        found = self.rows_of(kind, "id = ?", (row_id,))
        if not found:
            raise NoSuchThing(kind.word, row_id)
        return found[0]


def _touched(writer: journal.Writer) -> Touched | None:
    """The rows that a step changed; None of one so long that a part of it is written already."""
    if writer.begun:
        return None
    first: dict[tuple[str, int], bool] = {}
    for table, number, before, _ in writer.changes:
        first.setdefault((table, number), before is None)
    return frozenset((table, number, new) for (table, number), new in first.items())
