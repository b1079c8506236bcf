"""Which call counts: the one home of this rule. List, reading, sheet, exports, tables and window all ask here.

Of one reviewer the latest call on a flag counts, by id, since clocks can be set back. Of a session it is the latest
one by the session's reviewer; where that person made none, the latest by anybody.
"""

from __future__ import annotations

from collections.abc import Iterable

from clipmark.book.model import Call, SessionRecord

# the call that counts for a flag, for SQL in which `flag` and `session` are at hand
COUNTING_DECISION = """coalesce(
            (SELECT decision FROM call WHERE flag_id = flag.id AND reviewer = session.reviewer
             ORDER BY id DESC LIMIT 1),
            (SELECT decision FROM call WHERE flag_id = flag.id ORDER BY id DESC LIMIT 1))"""


def latest_calls(calls: Iterable[Call]) -> dict[int, dict[str, Call]]:
    """Flag id -> reviewer -> that reviewer's latest call on it; reviewers in the order of these calls."""
    latest: dict[int, dict[str, Call]] = {}
    for call in sorted(calls, key=lambda c: c.id):
        by = latest.setdefault(call.flag_id, {})
        by.pop(call.reviewer, None)
        by[call.reviewer] = call
    return latest


def calls_by(calls: Iterable[Call], reviewer: str) -> dict[int, Call]:
    """Flag id -> the latest call of one reviewer, for the flags that this person called."""
    return {flag: by[reviewer] for flag, by in latest_calls(calls).items() if reviewer in by}


def counting_calls(record: SessionRecord, reviewer: str = "") -> dict[int, Call]:
    """Flag id -> the call that counts.

    Args:
        reviewer: only calls of this person; empty: the session's reviewer first, else the latest of anybody.
    """
    if reviewer:
        return calls_by(record.calls, reviewer)
    first = record.session.reviewer
    return {flag: by.get(first) or list(by.values())[-1] for flag, by in latest_calls(record.calls).items()}
