"""Sessions as they were last read: a mark in a session of thousands does not cost reading the thousands again.

A kept session is given out while nothing was written since, by anybody. Where one's own steps alone were made since,
and touched marks and calls alone, those rows are put into the kept session; in every other case it is read anew.
SQLite itself says who wrote: `data_version` moves with each commit of another connection, `total_changes` with each
row that this one changes. Source: SQLite documentation, PRAGMA data_version and sqlite3_total_changes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from clipmark.book.model import SessionRecord

State = tuple[int, int]  # data_version, total_changes
Touched = frozenset[tuple[str, int, bool]]  # table and number of each row that a step changed; whether it is new
_SESSIONS, _STEPS = 3, 30


@dataclass
class KeptRecords:
    """The sessions read last, and the latest steps of one's own."""

    records: dict[int, tuple[State, SessionRecord]] = field(default_factory=dict)
    _steps: deque[tuple[State, State, Touched]] = field(default_factory=lambda: deque(maxlen=_STEPS))

    def step(self, before: State, after: State, touched: Touched) -> None:
        """Note a step of one's own that was kept."""
        self._steps.append((before, after, touched))

    def keep(self, state: State, record: SessionRecord) -> None:
        """Note a session as it is in a state of the book."""
        self.records.pop(record.session.id, None)
        self.records[record.session.id] = state, record
        while len(self.records) > _SESSIONS:
            del self.records[next(iter(self.records))]

    def since(self, state: State, now: State) -> Touched | None:
        """What was touched between two states; None where it is not known."""
        touched: set[tuple[str, int, bool]] = set()
        for before, after, rows in self._steps:
            if before == state:
                state = after
                touched |= rows
        return frozenset(touched) if state == now else None


def patched(
    record: SessionRecord,
    touched: Touched,
    fetch: Callable[[str, Sequence[int]], Sequence[Any]],
    at: Callable[[int, int], int],
    in_use: frozenset[str],
) -> SessionRecord | None:
    """The session with the touched rows as they are now; None where it has to be read anew.

    Args:
        fetch: the rows of this session of those numbers of a table, as they are now.
        at: a number for each tick of each clip that grows with the session clock.
        in_use: the codes of the acts in use; those of others are told with a session only as long as a mark has them.
    """
    if any(table not in ("mark", "call") for table, _, _ in touched):
        return None

    def part(values: tuple[Any, ...], table: str, key: Callable[[Any], Any]) -> tuple[tuple[Any, ...], list[Any]]:
        mine = {number: new for name, number, new in touched if name == table}
        if not mine:
            return values, []
        now, known = fetch(table, sorted(mine)), {number for number, new in mine.items() if not new}
        gone = [one for one in values if one.id in known] if known else []
        kept = [one for one in values if one.id not in known] if gone else list(values)
        for one in now:
            kept.insert(bisect_left(kept, key(one), key=key), one)
        return tuple(kept), [*gone, *now]

    marks, moved = part(record.marks, "mark", lambda one: (at(one.clip_id, one.start_pts), one.id))
    calls, _ = part(record.calls, "call", lambda one: one.id)
    if any(mark.act not in in_use for mark in moved):
        return None
    return replace(record, marks=marks, calls=calls)
