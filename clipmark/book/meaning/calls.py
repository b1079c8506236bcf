"""Whose marks and calls are read, and which call counts: the one home of this rule. List, reading, sheet, exports,
tables and window all ask here.

A figure is always one person's. It is the session's reviewer, unless another is asked for; where nobody is named, or
the one who is named has made nothing, it is the person who made the first mark (the first call where nothing is
marked). What was marked or called without a name belongs to the session's own reading. Of one person the latest call
on a flag counts, by id, since clocks can be set back.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from clipmark.book.model import Call, SessionRecord

# session id and name of the one whose reading it is, for SQL: `Reader` below says the same
READERS = """
    SELECT session.id AS session_id, CASE
        WHEN session.reviewer <> '' AND (
            EXISTS (SELECT 1 FROM mark JOIN clip ON clip.id = mark.clip_id
                    WHERE clip.session_id = session.id AND mark.reviewer = session.reviewer)
            OR EXISTS (SELECT 1 FROM call JOIN flag ON flag.id = call.flag_id JOIN clip ON clip.id = flag.clip_id
                       WHERE clip.session_id = session.id AND call.reviewer = session.reviewer))
        THEN session.reviewer
        ELSE coalesce(
            (SELECT mark.reviewer FROM mark JOIN clip ON clip.id = mark.clip_id
             WHERE clip.session_id = session.id AND mark.reviewer <> '' ORDER BY mark.id LIMIT 1),
            (SELECT call.reviewer FROM call JOIN flag ON flag.id = call.flag_id JOIN clip ON clip.id = flag.clip_id
             WHERE clip.session_id = session.id AND call.reviewer <> '' ORDER BY call.id LIMIT 1),
            session.reviewer) END AS reader
    FROM session"""
# the call that counts for a flag, for SQL in which `flag` and a row of READERS are at hand
COUNTING_DECISION = """(SELECT decision FROM call WHERE flag_id = flag.id AND reviewer IN (reader, '')
            ORDER BY id DESC LIMIT 1)"""


@dataclass(frozen=True, slots=True)
class Reader:
    """Whose reading it is.

    Attributes:
        name: of the person, "" where nobody is named.
        names: under which marks and calls count: the person's, and "" for the session's own reading.
    """

    name: str
    names: frozenset[str]


def people(record: SessionRecord) -> tuple[str, ...]:
    """All who marked or called something under a name, in order of their first mark, then of their first call."""
    made = [m.reviewer for m in sorted(record.marks, key=lambda m: m.id)]
    made += [c.reviewer for c in sorted(record.calls, key=lambda c: c.id)]
    return tuple(dict.fromkeys(name for name in made if name))


def reader_of(record: SessionRecord, reviewer: str = "") -> Reader:
    """Whose marks and calls are read.

    Args:
        reviewer: the person asked for; empty: the session's own.
    """
    if reviewer and reviewer != own_reader(record):
        return Reader(reviewer, frozenset({reviewer}))
    name = own_reader(record)
    return Reader(name, frozenset({name, ""}))


def own_reader(record: SessionRecord) -> str:
    """The person whose reading is the session's own; "" where nobody is named anywhere."""
    own = record.session.reviewer
    if own and (any(m.reviewer == own for m in record.marks) or any(c.reviewer == own for c in record.calls)):
        return own
    made = record.marks if any(m.reviewer for m in record.marks) else record.calls
    return min(((m.id, m.reviewer) for m in made if m.reviewer), default=(0, own))[1]


def latest_calls(calls: Iterable[Call]) -> dict[int, dict[str, Call]]:
    """Flag id -> reviewer -> that reviewer's latest call on it; reviewers in the order of these calls."""
    latest: dict[int, dict[str, Call]] = {}
    for call in sorted(calls, key=lambda c: c.id):
        by = latest.setdefault(call.flag_id, {})
        by.pop(call.reviewer, None)
        by[call.reviewer] = call
    return latest


def calls_by(calls: Iterable[Call], reviewer: str | Collection[str]) -> dict[int, Call]:
    """Flag id -> the latest call of one reviewer (or under one of several names), where there is one."""
    names = {reviewer} if isinstance(reviewer, str) else reviewer
    return {call.flag_id: call for call in sorted(calls, key=lambda c: c.id) if call.reviewer in names}


def counting_calls(record: SessionRecord, reviewer: str = "") -> dict[int, Call]:
    """Flag id -> the call that counts.

    Args:
        reviewer: as in `reader_of`.
    """
    if not record.calls:
        return {}
    return calls_by(record.calls, reader_of(record, reviewer).names)
