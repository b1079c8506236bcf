"""What scan sampling would have given: for holding a continuous record against studies that looked at intervals.

clipmark itself reads film continuously, so shares are true shares of time. Published figures often come from looking
every so many seconds (instantaneous), or from noting whether an act occurred in a bin at all (one-zero), which
overstates (the methods are those of [AL74]; figures of TRADE 5.1).
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from clipmark.reading import spans
from clipmark.timebase import Span


def instantaneous(on: Iterable[Span], period: Span, every: Fraction) -> Fraction | None:
    """Share of looks, at the period's start and then every so many seconds, at which the act is on; None for no look.

    Raises:
        ValueError: the interval is not positive.
    """
    looks = _steps(period, every)
    held = spans.union(on)
    return Fraction(sum(any(at in span for span in held) for at in looks), len(looks)) if looks else None


def one_zero(on: Iterable[Span], period: Span, every: Fraction) -> Fraction | None:
    """Share of bins of that length (the last may be shorter) in which the act is on at all; None for no bin.

    Raises:
        ValueError: the interval is not positive.
    """
    starts = _steps(period, every)
    held = spans.union(on)
    bins = [Span(at, min(at + every, period.end)) for at in starts]
    return Fraction(sum(bool(spans.overlap(held, [b])) for b in bins), len(bins)) if bins else None


def _steps(period: Span, every: Fraction) -> list[Fraction]:
    if every <= 0:
        raise ValueError("the interval must be positive")
    steps, at = [], period.start
    while at < period.end:
        steps.append(at)
        at += every
    return steps
