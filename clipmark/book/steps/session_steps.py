"""Which steps of the journal belong to a session, so that undo takes back what was done in the one on view.

A step belongs to the sessions whose rows it changed; one that changed an animal, to the sessions of that animal; one
that changed nothing of any session (the list of acts, notes on a species) may be taken back from everywhere.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from typing import Any

from clipmark.book.steps.journal import Step

_LOOKED_AT = 40  # changes of a step that are looked into: all of a step belong to one session, or to an animal


@dataclass(frozen=True, slots=True)
class SessionStep:
    """A step that can be taken back or done again. `keeps_pass`: it put a motion pass into the book."""

    step: Step
    keeps_pass: bool

    @property
    def id(self) -> int:
        """The step's number."""
        return self.step.id

    @property
    def label(self) -> str:
        """What the step did, in words."""
        return self.step.label


def next_step(db: sqlite3.Connection, session_id: int | None, undone: bool) -> SessionStep | None:
    """The step of a session (None: of any) that is taken back next, or done again next (`undone`)."""
    order = "ASC" if undone else "DESC"
    steps = db.execute(
        f'SELECT id, label, made_at, "by", writer FROM step WHERE undone = ? ORDER BY id {order}', (int(undone),)
    )
    for found in steps.fetchall():
        step = Step(*found)
        changes = db.execute(
            "SELECT tbl, row_id, before, after FROM change WHERE step_id = ? ORDER BY id LIMIT ?",
            (step.id, _LOOKED_AT),
        ).fetchall()
        if session_id is not None:
            owners: set[int] = set().union(*(_owners(db, *change) for change in changes))
            if owners and session_id not in owners:
                continue
        keeps = any(table == "pass" and before is None for table, _, before, _ in changes)
        return SessionStep(step, keeps)
    return None


def _owners(db: sqlite3.Connection, table: str, row_id: int, before: str | None, after: str | None) -> set[int]:
    """The sessions that a changed row belongs to; empty for what belongs to the book as a whole."""
    try:
        row: dict[str, Any] = json.loads(after or before or "{}")
    except ValueError:
        return set()
    if table == "session":
        return {row_id}
    if row.get("session_id") is not None:
        return {int(row["session_id"])}
    if table == "animal" or row.get("animal_id") is not None:
        animal = row_id if table == "animal" else row["animal_id"]
        found = db.execute("SELECT id FROM session WHERE female_id = ?1 OR male_id = ?1", (animal,)).fetchall()
        return {int(one) for (one,) in found}
    for parent in ("clip", "pass", "flag"):
        if row.get(f"{parent}_id") is not None:
            return _owners_of_parent(db, parent, int(row[f"{parent}_id"]))
    return set()


def _owners_of_parent(db: sqlite3.Connection, table: str, row_id: int) -> set[int]:
    """The sessions of a clip, pass or flag, also of one that is no longer in the book."""
    cursor = db.execute(f'SELECT * FROM "{table}" WHERE id = ?', (row_id,))
    row = cursor.fetchone()
    if row is not None:
        names = [column[0] for column in cursor.description]
        plain = {n: v for n, v in zip(names, row, strict=True) if n.endswith("_id")}
        return _owners(db, table, row_id, None, json.dumps(plain))
    kept = db.execute(
        "SELECT before, after FROM change WHERE tbl = ? AND row_id = ? ORDER BY id DESC LIMIT 1", (table, row_id)
    ).fetchone()
    return _owners(db, table, row_id, *kept) if kept is not None else set()
