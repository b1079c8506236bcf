"""Marks that contradict each other, told to the keeper and never mended silently (sets of book/meaning/rules.py)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from clipmark.book.meaning.rules import outside
from clipmark.book.model import SessionRecord
from clipmark.reading import roles
from clipmark.reading.session.occurrences import Occurrence
from clipmark.timebase import clock


def contradictions(record: SessionRecord, happened: Sequence[Occurrence]) -> Iterable[str]:
    """A sentence for each: an insertion outside any clasp or knock-down, or two palps seated at once."""
    held = [o for o in happened if o.act in roles.HOLD]
    marked = {o.act for o in happened}
    seated = [o for o in happened if o.act in roles.INSERTION]
    for o in seated:
        around = {h.act for h in held if h.start <= o.start < h.span.end or (h.open and h.start <= o.start)}
        if outside(o.act, around, marked):
            yield f"{roles.label(record, o.act)} at {clock(o.start, 1)} lies outside every clasp."
    for a, b in pairwise(seated):
        if {roles.palp(a.act), roles.palp(b.act)} == {"left", "right"} and b.start < a.span.end:
            yield f"Insertions at {clock(a.start, 1)} and {clock(b.start, 1)} overlap with different palps."
