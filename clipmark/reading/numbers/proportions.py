"""Shares out of few cases: intervals, differences, and the exact test of a two by two table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import comb, exp, log, sqrt

FEWEST = 5  # below this many cases only counts are shown (TRADE 6.4, a proposal)
Z95 = 1.959963984540054


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


def wilson(k: int, n: int, z: float = Z95, corrected: bool = False) -> Share:
    """Wilson score interval, optionally with continuity correction.

    Args:
        z: normal quantile of the confidence, 1.96 for 95 %.
    Raises:
        ValueError: not 0 <= k <= n.
    Source: Wilson 1927; recommended for few cases by [NE98], whose corrected form is used.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is no share")
    if n == 0:
        return Share(k, n, None, None, None)
    p, zz = k / n, z * z
    middle, under = 2 * n * p + zz, 2 * (n + zz)
    if corrected:
        down = 1 + z * sqrt(max(zz - 2 - 1 / n + 4 * p * (n * (1 - p) + 1), 0.0))
        up = 1 + z * sqrt(max(zz + 2 - 1 / n + 4 * p * (n * (1 - p) - 1), 0.0))
    else:
        down = up = z * sqrt(zz + 4 * n * p * (1 - p))
    low = 0.0 if k == 0 else max(0.0, (middle - down) / under)
    high = 1.0 if k == n else min(1.0, (middle + up) / under)
    return Share(k, n, p, low, high)


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
    """Fisher's exact test, in whole numbers as far as they carry.

    Tables as likely as the one seen, up to a ten-millionth, count in the two-sided sum.
    Source: [RF]; checked against scipy.
    """
    (a, b), (c, d) = ((int(x) for x in row) for row in table)
    if min(a, b, c, d) < 0:
        raise ValueError("counts are not negative")
    first, second, column = a + b, c + d, a + c
    least, most = max(0, column - second), min(first, column)
    ways = {x: comb(first, x) * comb(second, column - x) for x in range(least, most + 1)}
    whole, seen = sum(ways.values()), ways[a]

    def chance(wanted: Iterable[int]) -> float:
        return float(Fraction(sum(wanted), whole))

    empty = a * d == 0 and b * c == 0
    return Exact(
        table=((a, b), (c, d)),
        p=chance(w for w in ways.values() if w * 10**7 <= seen * (10**7 + 1)),
        p_greater=chance(w for x, w in ways.items() if x >= a),
        p_less=chance(w for x, w in ways.items() if x <= a),
        odds_ratio=None if empty else float("inf") if b * c == 0 else a * d / (b * c),
        odds_ratio_ml=_likeliest_odds(a, ways),
    )


def _likeliest_odds(a: int, ways: dict[int, int]) -> float | None:
    """The odds ratio under which the count seen is the one expected, margins given, by halving."""
    if len(ways) == 1:
        return None
    if a in (min(ways), max(ways)):
        return 0.0 if a == min(ways) else float("inf")
    weights = [(x, log(w)) for x, w in ways.items()]

    def expected(log_odds: float) -> float:
        each = [lw + x * log_odds for x, lw in weights]
        top = max(each)
        shares = [exp(e - top) for e in each]
        return sum(x * s for (x, _), s in zip(weights, shares, strict=True)) / sum(shares)

    low, high = -50.0, 50.0
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if expected(middle) < a else (low, middle)
    return exp((low + high) / 2)
