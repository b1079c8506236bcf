"""Every change of the book as a labelled step that can be taken back, also after a restart.

Rows as they were and as they became are kept as JSON beside the step's label, in the book itself. Undoing puts
the rows back as they were, last change first; a new step forgets the undone ones. The trace of a pass is left out
of this: it is kept as long as its pass stands in the book or in the journal.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from clipmark.book.errors import StepGone
from clipmark.book.forms.rows import CHILDREN, SqlValue, bindable
from clipmark.errors import ClipmarkError

KEPT_STEPS = 2_000  # steps that can be undone; older ones are forgotten, their result stays


class UndoImpossible(ClipmarkError):
    def __init__(self, label: str):
        super().__init__(
            f"“{label}” cannot be taken back: what it changed was changed since by another program. "
            "The book was left as it is."
        )
        self.label = label


class NumbersUsedUp(ClipmarkError):
    def __init__(self, table: str):
        super().__init__(
            f"This book holds a {table.replace('_', ' ')} with the largest number there is, from a broken import, so "
            "no further one can be added. Undo that import, or let “clipmark book salvage” make a new book."
        )


def _used_up(db: sqlite3.Connection, table: str) -> bool:
    found = db.execute("SELECT max(seq) FROM sqlite_sequence WHERE name = ?", (table,)).fetchone()
    return found is not None and (found[0] or 0) >= 2**63 - 1


def now() -> str:
    """This instant as RFC 3339 UTC text."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Writer:
    """Collects the changes of one step, inside the transaction that the store opened."""

    def __init__(self, db: sqlite3.Connection, by: str = "", writer: str = ""):
        self._db, self._by, self._writer = db, by, writer
        self.changes: list[tuple[str, int, str | None, str | None]] = []
        self.counted = False
        self.inside = 0  # parts of a step that may still be dropped by themselves
        self.step: int | None = None  # its number, once some of its changes are written
        self._forgotten = 0

    def insert(self, table: str, row: Mapping[str, SqlValue], row_id: int | None = None) -> int:
        """Put a row in; returns its id (`row_id` where that is asked for)."""
        self._count()
        full = dict(row) if row_id is None else {"id": row_id, **row}
        names = ", ".join(f'"{name}"' for name in full)
        marks = ", ".join("?" * len(full))
        try:
            cursor = self._db.execute(
                f'INSERT INTO "{table}" ({names}) VALUES ({marks})', [bindable(value) for value in full.values()]
            )
        except sqlite3.Error as error:
            if _used_up(self._db, table):  # SQLite calls this a full disk
                raise NumbersUsedUp(table) from error
            raise
        new_id = int(cursor.lastrowid or 0)
        self._note(table, new_id, None, _text({"id": new_id, **row}))
        return new_id

    def update(self, table: str, row_id: int, row: Mapping[str, SqlValue]) -> bool:
        """Change the named columns; False where there is no such row."""
        before = fetch(self._db, table, row_id)
        if before is None:
            return False
        after = {**before, **row}
        if after == before:
            return True
        self._count()
        sets = ", ".join(f'"{name}" = ?' for name in row)
        self._db.execute(
            f'UPDATE "{table}" SET {sets} WHERE id = ?', [*(bindable(value) for value in row.values()), row_id]
        )
        self._note(table, row_id, _text(before), _text(after))
        return True

    def delete(self, table: str, row_id: int) -> bool:
        """Take a row out with all that belongs to it; False where there is no such row."""
        before = fetch(self._db, table, row_id)
        if before is None:
            return False
        self._count()
        for child, column in CHILDREN.get(table, ()):
            ids = self._db.execute(f'SELECT id FROM "{child}" WHERE "{column}" = ? ORDER BY id', (row_id,)).fetchall()
            for (child_id,) in ids:
                self.delete(child, child_id)
        self._db.execute(f'DELETE FROM "{table}" WHERE id = ?', (row_id,))
        self._note(table, row_id, _text(before), None)
        return True

    def _note(self, table: str, row_id: int, before: str | None, after: str | None) -> None:
        self.changes.append((table, row_id, before, after))

    def _count(self) -> None:
        """Count the step before its first change: so the counter's page lies in the journal of every interrupted
        write, and tells which book and which day it is of (leftovers.py)."""
        if not self.changes and not self.counted and self.step is None:
            count_write(self._db)
            self.counted = True

    def flush(self, label: str) -> None:
        """Write what was collected so far into the journal, so that a long step does not fill the memory."""
        if self.inside or not self.changes:
            return
        if self.step is None:
            self.step = self._begin(label)
        self._db.executemany(
            "INSERT INTO change (step_id, tbl, row_id, before, after) VALUES (?, ?, ?, ?, ?)",
            [(self.step, *change) for change in self.changes],
        )
        self.changes.clear()

    @property
    def begun(self) -> bool:
        """Whether some of its changes are written already."""
        return self.step is not None

    def _begin(self, label: str) -> int:
        self._forgotten = self._db.execute("DELETE FROM step WHERE undone = 1").rowcount
        readable = label.encode("utf-8", "replace").decode("utf-8")
        signed = (readable, now(), self._by.encode("utf-8", "replace").decode("utf-8"), self._writer)
        made = self._db.execute('INSERT INTO step (label, made_at, "by", writer) VALUES (?, ?, ?, ?)', signed)
        return int(made.lastrowid or 0)

    def finish(self, label: str) -> None:
        """Write the step into the journal, if it changed anything."""
        self.flush(label)
        if self.step is None:
            return
        old = self._db.execute("DELETE FROM step WHERE id <= ?", (self.step - KEPT_STEPS,)).rowcount
        if self._forgotten + old:
            _forget_traces(self._db)


def _text(row: Mapping[str, SqlValue]) -> str:
    return json.dumps(row, ensure_ascii=True, allow_nan=False)


def fetch(db: sqlite3.Connection, table: str, row_id: int) -> dict[str, Any] | None:
    """One row as a dict of plain values, text that was stored as bytes as text again."""
    cursor = db.execute(f'SELECT * FROM "{table}" WHERE id = ?', (row_id,))
    row = cursor.fetchone()
    if row is None:
        return None
    names = [column[0] for column in cursor.description]
    return {name: _read(value) for name, value in zip(names, row, strict=True)}


def all_rows(db: sqlite3.Connection, table: str) -> Iterator[dict[str, Any]]:
    """The rows of a table by number, as `fetch` gives them, one in memory at a time."""
    cursor = db.execute(f'SELECT * FROM "{table}" ORDER BY id')
    names = [column[0] for column in cursor.description]
    for row in cursor:
        yield {name: _read(value) for name, value in zip(names, row, strict=True)}


def _read(value: Any) -> Any:
    return value.decode("utf-8", "surrogateescape") if isinstance(value, bytes) else value


def count_write(db: sqlite3.Connection) -> None:
    """Move the counter by which other windows see that something was written."""
    db.execute("UPDATE about SET value = value + 1 WHERE name = 'writes'")


def _forget_traces(db: sqlite3.Connection) -> None:
    db.execute(
        "DELETE FROM trace WHERE pass_id NOT IN (SELECT id FROM pass)"
        " AND pass_id NOT IN (SELECT row_id FROM change WHERE tbl = 'pass')"
    )


@dataclass(frozen=True, slots=True)
class Step:
    """A step of undo: its number, label, when it was made (UTC), by whom (a name, often empty), and the mark of the
    open book that made it."""

    id: int
    label: str
    made_at: str
    by: str
    writer: str


_STEP = 'SELECT id, label, made_at, "by", writer FROM step WHERE undone = '


def next_undo(db: sqlite3.Connection) -> Step | None:
    """The step that `undo` would take back."""
    found = db.execute(f"{_STEP} 0 ORDER BY id DESC LIMIT 1").fetchone()
    return None if found is None else Step(*found)


def next_redo(db: sqlite3.Connection) -> Step | None:
    """The step that `redo` would do again."""
    found = db.execute(f"{_STEP} 1 ORDER BY id LIMIT 1").fetchone()
    return None if found is None else Step(*found)


def undo(db: sqlite3.Connection, step_id: int | None = None) -> str | None:
    """Take back the latest step, inside the caller's transaction; its label, or None where there is none.

    Raises:
        UndoImpossible: a row is not as the step left it. StepGone: the latest step is another one than `step_id`.
    """
    return _replay_next(db, next_undo(db), step_id, backwards=True)


def redo(db: sqlite3.Connection, step_id: int | None = None) -> str | None:
    """Do again what was undone last. Raises as `undo`."""
    return _replay_next(db, next_redo(db), step_id, backwards=False)


def _replay_next(db: sqlite3.Connection, step: Step | None, step_id: int | None, backwards: bool) -> str | None:
    if step_id is not None and (step is None or step.id != step_id):
        raise StepGone
    if step is None:
        return None
    _replay(db, (step.id, step.label), backwards)
    return step.label


def _replay(db: sqlite3.Connection, step: tuple[int, str], backwards: bool) -> None:
    number, label = step
    db.execute("PRAGMA defer_foreign_keys = ON")
    order = "DESC" if backwards else "ASC"
    # read as it goes, a large import has millions of changes; none of them touches this table
    for table, row_id, before, after in db.execute(
        f"SELECT tbl, row_id, before, after FROM change WHERE step_id = ? ORDER BY id {order}", (number,)
    ):
        found, wanted = (after, before) if backwards else (before, after)
        if fetch(db, table, row_id) != (None if found is None else in_columns_of_today(db, table, json.loads(found))):
            raise UndoImpossible(label)
        _put(db, table, row_id, None if wanted is None else in_columns_of_today(db, table, json.loads(wanted)))
    db.execute("UPDATE step SET undone = ? WHERE id = ?", (int(backwards), number))
    count_write(db)


def in_columns_of_today(db: sqlite3.Connection, table: str, row: dict[str, SqlValue]) -> dict[str, SqlValue]:
    """A kept row in the columns of today: a later version of the book may have added some, with a default."""
    full: dict[str, SqlValue] = {}
    for _, name, _, _, default, _ in db.execute(f'PRAGMA table_info("{table}")').fetchall():
        full[name] = row[name] if name in row else _default(default)
    return full


def _default(text: str | None) -> SqlValue:
    """The value of a DEFAULT clause as our steps write them: a number or a quoted text."""
    if text is None or text.upper() == "NULL":
        return None
    if text.startswith("'"):
        return text[1:-1].replace("''", "'")
    number = float(text)
    return int(number) if number.is_integer() and "." not in text else number


def _put(db: sqlite3.Connection, table: str, row_id: int, row: Mapping[str, SqlValue] | None) -> None:
    if row is None:
        db.execute(f'DELETE FROM "{table}" WHERE id = ?', (row_id,))
        return
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" * len(row))
    sets = ", ".join(f'"{name}" = excluded."{name}"' for name in row if name != "id")
    db.execute(
        f'INSERT INTO "{table}" ({names}) VALUES ({marks}) ON CONFLICT (id) DO UPDATE SET {sets}',
        [bindable(value) for value in row.values()],
    )


class StepMoved(ClipmarkError):
    def __init__(self, label: str):
        super().__init__(f"“{label}” was taken back or done again elsewhere meanwhile. Look, then try again.")
        self.label = label


def replay_step(db: sqlite3.Connection, step_id: int, label: str, backwards: bool) -> str:
    """Take back one step, or do it again, inside the caller's transaction; its label.

    Raises:
        StepMoved: it is not as it was when it was chosen. UndoImpossible: a row is not as the step left it.
    """
    row = db.execute("SELECT undone FROM step WHERE id = ?", (step_id,)).fetchone()
    if row is None or bool(row[0]) is backwards:
        raise StepMoved(label)
    _replay(db, (step_id, label), backwards)
    return label
