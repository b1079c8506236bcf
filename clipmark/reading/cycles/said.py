"""The times to the sac in words, the same in the command and in the window."""

from __future__ import annotations

from clipmark.reading.cycles.outcomes import Outcomes
from clipmark.reading.cycles.waits import Waits
from clipmark.reading.numbers.proportions import FEWEST


def waits_said(read: Outcomes) -> list[str]:
    """Sentences on the times to the sac: median with its interval, shares that compete with theirs, each with the
    number at risk, none of them beyond the last day on which at least five were at risk."""
    waits = read.waits
    if waits is None:
        return []
    curve = waits.curve
    told = [
        f"Days to the sac ({curve.n} cycles, {curve.censored} without a sac by {read.asked.isoformat()}): "
        f"{_median(waits)}."
    ]
    share = waits.incidence
    if len(share.times):
        parts = [
            f"{100 * share.share[way][-1]:.0f} % {way}{_limits(share.low[way][-1], share.high[way][-1])}"
            for way in share.share
            if share.share[way][-1] > 0
        ]
        parts.append(f"{100 * share.waiting[-1]:.0f} % waiting")
        told.append(f"By day {share.times[-1]:g} ({share.at_risk[-1]} at risk): {', '.join(parts)}.")
    told.append(f"Nothing is told beyond day {waits.told_to:g}, the last with at least {FEWEST} at risk.")
    if waits.test is not None:
        told.append(f"With against without a confirmed insertion (log-rank): p = {waits.test.p:.3f}.")
    return told


def _median(waits: Waits) -> str:
    median, (low, high) = waits.curve.median, waits.curve.median_limits
    if median is None:
        return "no median yet"
    limits = "no interval" if low is None else f"95 % {low:g} {'or more' if high is None else f'to {high:g}'}"
    return f"median {median:g} ({limits}; {waits.at_risk(median)} at risk)"


def _limits(low: float, high: float) -> str:
    return "" if low != low or high != high else f" ({100 * low:.0f} to {100 * high:.0f} %)"
