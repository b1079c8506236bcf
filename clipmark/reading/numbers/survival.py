"""Time until something comes, when for some it has not come yet: Kaplan-Meier, competing ends, log-rank.

For a keeper: days from the pairing to the sac, where some females still wait ("not laid yet") and some have moulted,
which ends the waiting for good. Nothing here needs more than numpy; scipy gives the p-value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A Kaplan-Meier curve at the times with events; arrays of shape (k,).

    Attributes:
        times: in the unit that was given.
        at_risk: still waiting just before (at equal times events precede censorings).
        events: that came at this time.
        survival: share still waiting just after.
        se: Greenwood standard error; NaN where nobody is left.
        low, high: 95 % log-log limits; NaN where the share is 0 or 1.
        n, censored: how many in all, how many of them without an event.
    """

    times: Floats
    at_risk: Counts
    events: Counts
    survival: Floats
    se: Floats
    low: Floats
    high: Floats
    n: int
    censored: int

    @property
    def median(self) -> float | None:
        """First time at which at most half still wait; None where the curve never comes down to that."""
        down = np.flatnonzero(self.survival <= 0.5 + 1e-12)
        return float(self.times[down[0]]) if len(down) else None

    def at(self, time: float) -> float:
        """Share still waiting just after `time`."""
        passed = int(np.searchsorted(self.times, time, side="right"))
        return 1.0 if passed == 0 else float(self.survival[passed - 1])


def _arrays(durations: Sequence[float], events: Sequence[object]) -> tuple[Floats, NDArray[np.bool_]]:
    time, came = np.asarray(durations, float), np.asarray([bool(e) for e in events], bool)
    if time.shape != came.shape or time.ndim != 1:
        raise ValueError("as many durations as events are needed")
    if (time < 0).any() or not np.isfinite(time).all():
        raise ValueError("durations are finite and not negative")
    return time, came


def kaplan_meier(durations: Sequence[float], events: Sequence[object]) -> Curve:
    """Kaplan-Meier estimate with Greenwood errors and log-log limits.

    Args:
        durations: waiting times, shape (n,).
        events: true where the thing came, false where it had not come at last look (censored).
    Source: formulas of TRADE 6.3; checked against [FRt] and lifelines.
    """
    time, came = _arrays(durations, events)
    times = np.unique(time[came])
    at_risk = np.array([(time >= t).sum() for t in times], np.int64)
    deaths = np.array([((time == t) & came).sum() for t in times], np.int64)
    survival: Floats = np.asarray(np.cumprod(1 - deaths / at_risk), float)
    with np.errstate(divide="ignore", invalid="ignore"):
        total = np.cumsum(deaths / (at_risk * (at_risk - deaths)))
        se: Floats = survival * np.sqrt(total)
        spread = Z95 * np.sqrt(total) / np.abs(np.log(survival))
        low: Floats = survival ** np.exp(spread)
        high: Floats = survival ** np.exp(-spread)
    gone = survival <= 0
    for values in (se, low, high):
        values[gone] = np.nan
    return Curve(times, at_risk, deaths, survival, se, low, high, len(time), int((~came).sum()))


@dataclass(frozen=True, slots=True, eq=False)
class Incidence:
    """Cumulative incidence of each way of ending, at the times at which anything ended.

    Attributes:
        times: shape (k,).
        at_risk: shape (k,).
        share: by way of ending, shape (k,) each: the part for whom it came first by that time.
        waiting: shape (k,): the part still waiting; all of them add up to 1.
    """

    times: Floats
    at_risk: Counts
    share: dict[str, Floats]
    waiting: Floats


def cumulative_incidence(durations: Sequence[float], ends: Sequence[str]) -> Incidence:
    """How large a part ended in which way by when, where the ways compete (a moult ends the wait for a sac).

    Args:
        ends: the way of ending, "" where the waiting goes on (censored).
    Source: Aalen-Johansen estimator (from memory); checked against lifelines.
    """
    time, came = _arrays(durations, ends)
    kinds = np.asarray(ends, dtype=object)
    times = np.unique(time[came])
    at_risk = np.array([(time >= t).sum() for t in times], np.int64)
    ended = np.array([((time == t) & came).sum() for t in times], np.int64)
    waiting: Floats = np.asarray(np.cumprod(1 - ended / at_risk), float)
    before = np.concatenate([[1.0], waiting[:-1]])[: len(times)]
    share = {}
    for way in sorted({str(e) for e in ends if e}):
        here = np.array([((time == t) & (kinds == way)).sum() for t in times], float)
        share[way] = np.cumsum(before * here / at_risk)
    return Incidence(times, at_risk, share, waiting)


@dataclass(frozen=True, slots=True)
class LogRank:
    """Do groups wait differently? chi2 with df, p; observed and expected events a group."""

    chi2: float
    df: int
    p: float
    observed: tuple[int, ...]
    expected: tuple[float, ...]


def logrank(groups: Sequence[tuple[Sequence[float], Sequence[object]]]) -> LogRank | None:
    """Log-rank test of two or more groups of (durations, events); None where it cannot be had (no events, one group).

    Source: Mantel's form with the hypergeometric variance (from memory); checked against [FRt], scipy and lifelines.
    """
    data = [_arrays(*group) for group in groups]
    data = [d for d in data if len(d[0])]
    if len(data) < 2 or not any(came.any() for _, came in data):
        return None
    times = np.unique(np.concatenate([time[came] for time, came in data]))
    risk = np.array([[(time >= t).sum() for t in times] for time, _ in data], float)  # (groups, k)
    deaths = np.array([[((time == t) & came).sum() for t in times] for time, came in data], float)
    n, d = risk.sum(0), deaths.sum(0)
    expected = (risk * d / n).sum(1)
    spread = np.where(n > 1, d * (n - d) / np.maximum(n - 1, 1), 0.0)
    part = risk / n
    cov = np.diag((part * spread).sum(1)) - (part * spread) @ part.T
    over = (deaths.sum(1) - expected)[:-1]
    matrix = cov[:-1, :-1]
    if np.linalg.matrix_rank(matrix) < len(over):
        return None
    chi2 = float(over @ np.linalg.solve(matrix, over))
    from scipy.special import chdtrc

    df = len(data) - 1
    return LogRank(
        chi2,
        df,
        float(chdtrc(df, chi2)),
        tuple(int(x) for x in deaths.sum(1)),
        tuple(float(x) for x in expected),
    )
