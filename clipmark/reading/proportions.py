"""Shares out of few cases: intervals, differences, and the exact test of a two by two table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

FEWEST = 5  # below this many cases only counts are shown (TRADE 6.4, a proposal)


@dataclass(frozen=True, slots=True)
class Share:
    """`k` of `n`, with a 95 % interval; all None where n is 0."""

    k: int
    n: int
    share: float | None
    low: float | None
    high: float | None

    @property
    def text(self) -> str:
        """`3 of 14` below five cases, `11 of 14 (79 %, 52 to 92 %)` from five on: n always stands beside it."""
        if self.n < FEWEST or self.share is None or self.low is None or self.high is None:
            return f"{self.k} of {self.n}"
        return f"{self.k} of {self.n} ({100 * self.share:.0f} %, {100 * self.low:.0f} to {100 * self.high:.0f} %)"


def wilson(k: int, n: int, confidence: float = 0.95, corrected: bool = False) -> Share:
    """Wilson score interval, optionally with continuity correction.

    Raises:
        ValueError: not 0 <= k <= n.
    Source: Wilson 1927; recommended for few cases by [NE98]. Computed by scipy.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is no share")
    if n == 0:
        return Share(k, n, None, None, None)
    from scipy.stats import binomtest

    interval = binomtest(k, n).proportion_ci(confidence, "wilsoncc" if corrected else "wilson")
    return Share(k, n, k / n, float(interval.low), float(interval.high))


@dataclass(frozen=True, slots=True)
class Difference:
    """Share a minus share b with its interval."""

    value: float
    low: float
    high: float


def newcombe(a: Share, b: Share) -> Difference | None:
    """Interval of the difference of two independent shares, square-and-add of their Wilson limits; None for n = 0.

    Source: Newcombe 1998, Stat. Med. 17:873-890, the hybrid without continuity correction (from memory).
    """
    if a.share is None or a.low is None or a.high is None or b.share is None or b.low is None or b.high is None:
        return None
    value = a.share - b.share
    down = sqrt((a.share - a.low) ** 2 + (b.high - b.share) ** 2)
    up = sqrt((a.high - a.share) ** 2 + (b.share - b.low) ** 2)
    return Difference(value, value - down, value + up)


@dataclass(frozen=True, slots=True)
class Exact:
    """Fisher's exact test of [[a, b], [c, d]].

    Attributes:
        p: two-sided, the sum of all tables no likelier than the one seen.
        p_greater, p_less: one-sided.
        odds_ratio: a*d / (b*c), inf or None where it cannot be had.
        odds_ratio_ml: conditional maximum likelihood.
    """

    table: tuple[tuple[int, int], tuple[int, int]]
    p: float
    p_greater: float
    p_less: float
    odds_ratio: float | None
    odds_ratio_ml: float | None


def fisher(table: Sequence[Sequence[int]]) -> Exact:
    """Fisher's exact test. Source: [RF]; computed by scipy."""
    import numpy as np
    from scipy.stats import fisher_exact
    from scipy.stats.contingency import odds_ratio

    (a, b), (c, d) = ((int(x) for x in row) for row in table)
    two = fisher_exact([[a, b], [c, d]])
    empty = a * d == 0 and b * c == 0
    likely = float(odds_ratio(np.array([[a, b], [c, d]])).statistic)
    return Exact(
        table=((a, b), (c, d)),
        p=float(two.pvalue),
        p_greater=float(fisher_exact([[a, b], [c, d]], alternative="greater").pvalue),
        p_less=float(fisher_exact([[a, b], [c, d]], alternative="less").pvalue),
        odds_ratio=None if empty else float("inf") if b * c == 0 else a * d / (b * c),
        odds_ratio_ml=None if empty or np.isnan(likely) else likely,
    )
