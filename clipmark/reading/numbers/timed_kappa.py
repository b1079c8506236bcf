"""Agreement unit of time by unit of time, with or without a tolerance (TRADE 5.5, 5.6)."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from clipmark.reading.numbers.block_bootstrap import DRAWS, block_length, bootstrapped, limits
from clipmark.reading.numbers.kappa import Kappa, kappa, value_of


@dataclass(frozen=True, slots=True)
class TimedAgreement:
    """Units of time on which two records agree.

    Attributes:
        units: how many were compared.
        agreed: the same label in the same unit.
        agreed_a_to_b: units of A whose label B has within the tolerance; agreed_b_to_a the other way round. The two
            differ, so both are told.
        kappa: of the exact comparison; kappa_a_to_b, kappa_b_to_a: with the tolerance. Their limits and errors come
            from a block bootstrap, since neighbouring units hang together; None where the time holds too few blocks.
        block_units: how many units a block held.
    """

    units: int
    agreed: int
    agreed_a_to_b: int
    agreed_b_to_a: int
    kappa: Kappa
    kappa_a_to_b: Kappa
    kappa_b_to_a: Kappa
    block_units: int


def compare_units(
    a: Sequence[Hashable], b: Sequence[Hashable], tolerance_units: int = 0, draws: int = DRAWS
) -> TimedAgreement | None:
    """Compare two records of equal length, one label a unit of time; None where there is no unit.

    With a tolerance, a unit of A counts as agreed where B has A's label within that many units on either side; else
    it is set against B's label in the same unit [GU].
    """
    if len(a) != len(b):
        raise ValueError("both records need the same number of units")
    if not len(a):
        return None
    codes = {label: i for i, label in enumerate(dict.fromkeys([*a, *b]))}
    left, right = np.array([codes[x] for x in a]), np.array([codes[x] for x in b])
    length = block_length(left == right)
    near_b, near_a = _within(left, right, tolerance_units), _within(right, left, tolerance_units)
    exact, there, back = (_table(x, y, len(codes)) for x, y in ((left, right), (left, near_b), (near_a, right)))
    return TimedAgreement(
        units=len(left),
        agreed=int(np.trace(exact)),
        agreed_a_to_b=int(np.trace(there)),
        agreed_b_to_a=int(np.trace(back)),
        kappa=_blocked(left, right, exact, length, draws),
        kappa_a_to_b=_blocked(left, near_b, there, length, draws),
        kappa_b_to_a=_blocked(near_a, right, back, length, draws),
        block_units=max(1, round(length)),
    )


def _blocked(
    left: NDArray[np.int64], right: NDArray[np.int64], table: NDArray[np.int64], length: float, draws: int
) -> Kappa:
    """Kappa of a table of units, with the error and limits of a block bootstrap: units are not independent."""
    k = len(table)
    pairs, codes = np.unique(left * k + right, return_inverse=True)
    rows, columns = np.divmod(pairs, k)

    def statistic(counts: NDArray[np.float64]) -> float | None:
        drawn = np.zeros((k, k))
        drawn[rows, columns] = counts
        return value_of(drawn)

    values = bootstrapped(codes.astype(np.int64), len(pairs), statistic, length, draws) if draws else np.empty(0)
    found, ends = kappa(table), limits(values)
    low, high = ends if ends is not None and found.value is not None else (None, None)
    se = float(values.std()) if low is not None else None
    return replace(found, se=se, se_null=None, se_classic=None, se_classic_null=None, low=low, high=high)


def _within(mine: NDArray[np.int64], theirs: NDArray[np.int64], reach: int) -> NDArray[np.int64]:
    """Their label in each unit, replaced by mine where they have mine within reach."""
    found = mine == theirs
    for step in range(1, min(reach, len(mine) - 1) + 1):
        found[step:] |= mine[step:] == theirs[:-step]
        found[:-step] |= mine[:-step] == theirs[step:]
    return np.where(found, mine, theirs)


def _table(left: NDArray[np.int64], right: NDArray[np.int64], k: int) -> NDArray[np.int64]:
    return np.bincount(left * k + right, minlength=k * k).reshape(k, k)
