"""Stretches of the session clock: union, cut, overlap, length. Exact, half-open, so no frame is counted twice."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from fractions import Fraction

from clipmark.timebase import Span


def union(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same stretches sorted, with what overlaps or touches made one; empty ones are dropped."""
    whole: list[Span] = []
    # equal times have equal floats, so the exact ones are compared only where they must be
    for span in sorted((s for s in spans if s.end > s.start), key=lambda s: (float(s.start), s.start)):
        if whole and span.start <= whole[-1].end:
            whole[-1] = Span(whole[-1].start, max(whole[-1].end, span.end))
        else:
            whole.append(span)
    return tuple(whole)


def overlap(a: Iterable[Span], b: Iterable[Span]) -> tuple[Span, ...]:
    """What lies in both."""
    left, right = union(a), union(b)
    found: list[Span] = []
    i = j = 0
    while i < len(left) and j < len(right):
        start, end = max(left[i].start, right[j].start), min(left[i].end, right[j].end)
        if start < end:
            found.append(Span(start, end))
        if left[i].end <= right[j].end:
            i += 1
        else:
            j += 1
    return tuple(found)


def without(a: Iterable[Span], b: Iterable[Span]) -> tuple[Span, ...]:
    """What lies in `a` and not in `b`."""
    holes = union(b)
    left: list[Span] = []
    first = 0  # of the holes that do not lie before all that is to come
    for span in union(a):
        start = span.start
        while first < len(holes) and holes[first].end <= start:
            first += 1
        for place in range(first, len(holes)):
            hole = holes[place]
            if hole.start >= span.end:
                break
            if hole.start > start:
                left.append(Span(start, hole.start))
            start = max(start, hole.end)
        if start < span.end:
            left.append(Span(start, span.end))
    return tuple(left)


def holds(apart: Sequence[Span], at: Fraction) -> bool:
    """Whether a moment lies in one of spans that do not overlap, in their order."""
    place = bisect_right(apart, at, key=lambda span: span.start) - 1
    return place >= 0 and at in apart[place]


def total(spans: Iterable[Span]) -> Fraction:
    """Seconds covered; what overlaps counts once."""
    return length(union(spans))


def length(apart: Iterable[Span]) -> Fraction:
    """Seconds covered by spans that do not overlap, as `union`, `overlap` and `without` give them."""
    return sum((s.end - s.start for s in apart), Fraction(0))
