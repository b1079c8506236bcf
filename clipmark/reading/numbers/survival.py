"""Time until something comes, when for some it has not come yet: Kaplan-Meier, competing ends, log-rank.

For a keeper: days from the pairing to the sac, where some females still wait ("not laid yet") and some have moulted,
which ends the waiting for good. Nothing here needs more than numpy; scipy gives the p-value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, sqrt

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

    @property
    def median_limits(self) -> tuple[float | None, float | None]:
        """95 % limits of the median: the first times at which the lower and the upper limit of the curve are at most
        half; None where a limit never comes down to that.

        Source: Brookmeyer and Crowley 1982 with log-log limits (from memory); checked against lifelines.
        """
        return _first(self.times, self.low, self.survival), _first(self.times, self.high, self.survival)

    def at(self, time: float) -> float:
        """Share still waiting just after `time`."""
        passed = int(np.searchsorted(self.times, time, side="right"))
        return 1.0 if passed == 0 else float(self.survival[passed - 1])

    def until(self, fewest: int) -> Curve:
        """The curve as far as at least `fewest` are at risk: beyond, a few cases would tell the whole tail."""
        k = int((self.at_risk >= fewest).sum())
        return Curve(
            self.times[:k],
            self.at_risk[:k],
            self.events[:k],
            self.survival[:k],
            self.se[:k],
            self.low[:k],
            self.high[:k],
            self.n,
            self.censored,
        )


def _first(times: Floats, limit: Floats, survival: Floats) -> float | None:
    """The first time at which a limit is at most half; where the share itself is 0 its limits are 0 as well."""
    down = np.flatnonzero(np.where(survival <= 0, 0.0, limit) <= 0.5 + 1e-12)
    return float(times[down[0]]) if len(down) else None


def last_with(durations: Sequence[float], fewest: int) -> float | None:
    """The last time at which at least `fewest` are still at risk; None where there never were as many."""
    longest = sorted(durations, reverse=True)
    return float(longest[fewest - 1]) if len(longest) >= fewest else None


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
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
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
        at_risk: shape (k,): still waiting just before.
        share: by way of ending, shape (k,) each: the part for whom it came first by that time.
        se, low, high: by way of ending, standard error and 95 % log-log limits; limits NaN where the share is 0.
        waiting: shape (k,): the part still waiting; all of them add up to 1.
    """

    times: Floats
    at_risk: Counts
    share: dict[str, Floats]
    se: dict[str, Floats]
    low: dict[str, Floats]
    high: dict[str, Floats]
    waiting: Floats

    def until(self, fewest: int) -> Incidence:
        """The curves as far as at least `fewest` are at risk."""
        k = int((self.at_risk >= fewest).sum())

        def cut(ways: dict[str, Floats]) -> dict[str, Floats]:
            return {way: values[:k] for way, values in ways.items()}

        return Incidence(
            self.times[:k],
            self.at_risk[:k],
            cut(self.share),
            cut(self.se),
            cut(self.low),
            cut(self.high),
            self.waiting[:k],
        )


def cumulative_incidence(durations: Sequence[float], ends: Sequence[str]) -> Incidence:
    """How large a part ended in which way by when, where the ways compete (a moult ends the wait for a sac).

    Args:
        ends: the way of ending, "" where the waiting goes on (censored).
    Source: Aalen-Johansen estimator with the delta-method variance (from memory); checked against lifelines.
    """
    time, came = _arrays(durations, ends)
    kinds = np.asarray(ends, dtype=object)
    times = np.unique(time[came])
    at_risk = np.array([(time >= t).sum() for t in times], np.int64)
    ended = np.array([((time == t) & came).sum() for t in times], np.int64)
    waiting: Floats = np.asarray(np.cumprod(1 - ended / at_risk), float)
    before = np.concatenate([[1.0], waiting[:-1]])[: len(times)]
    share: dict[str, Floats] = {}
    se: dict[str, Floats] = {}
    low: dict[str, Floats] = {}
    high: dict[str, Floats] = {}
    for way in sorted({str(e) for e in ends if e}):
        here = np.array([((time == t) & (kinds == way)).sum() for t in times], float)
        share[way] = np.cumsum(before * here / at_risk)
        se[way] = np.sqrt(_variance(share[way], before, here, ended.astype(float), at_risk.astype(float)))
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            spread = Z95 * se[way] / (share[way] * np.abs(np.log(share[way])))
            low[way], high[way] = share[way] ** np.exp(spread), share[way] ** np.exp(-spread)
    return Incidence(times, at_risk, share, se, low, high, waiting)


def _variance(share: Floats, before: Floats, here: Floats, ended: Floats, n: Floats) -> Floats:
    """Delta-method variance of a cumulative incidence at each of its times, all shape (k,)."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        whole = np.where(n > ended, ended / (n * (n - ended)), 0.0)
    own = np.cumsum(before**2 * (n - here) * here / n**3)
    both = before * here / n**2
    # sums over j <= i of (F_i - F_j)^2 w_j and (F_i - F_j) b_j, written out so that no k by k table is needed
    squares = share**2 * np.cumsum(whole) - 2 * share * np.cumsum(share * whole) + np.cumsum(share**2 * whole)
    crossed = share * np.cumsum(both) - np.cumsum(share * both)
    return np.maximum(squares + own - 2 * crossed, 0.0)


def _upper_tail(chi2: float, df: int) -> float:
    """The chance of a chi-squared at least as large; of one degree it is that of a normal beyond its root."""
    if df == 1:
        return erfc(sqrt(chi2 / 2))
    from scipy.special import chdtrc

    return float(chdtrc(df, chi2))


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
    df = len(data) - 1
    return LogRank(
        chi2,
        df,
        _upper_tail(chi2, df),
        tuple(int(x) for x in deaths.sum(1)),
        tuple(float(x) for x in expected),
    )
