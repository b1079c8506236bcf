"""Agreement unit of time by unit of time, with or without a tolerance (TRADE 5.5, 5.6)."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.reading.numbers.kappa import Kappa, kappa


@dataclass(frozen=True, slots=True)
class TimedAgreement:
    """Units of time on which two records agree.

    Attributes:
        units: how many were compared.
        agreed: the same label in the same unit.
        agreed_a_to_b: units of A whose label B has within the tolerance; agreed_b_to_a the other way round. The two
            differ, so both are told.
        kappa: of the exact comparison; kappa_a_to_b, kappa_b_to_a: with the tolerance.
    """

    units: int
    agreed: int
    agreed_a_to_b: int
    agreed_b_to_a: int
    kappa: Kappa
    kappa_a_to_b: Kappa
    kappa_b_to_a: Kappa


def compare_units(a: Sequence[Hashable], b: Sequence[Hashable], tolerance_units: int = 0) -> TimedAgreement | None:
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
    exact = _table(left, right, len(codes))
    there = _table(left, _within(left, right, tolerance_units), len(codes))
    back = _table(_within(right, left, tolerance_units), right, len(codes))
    return TimedAgreement(
        units=len(left),
        agreed=int(np.trace(exact)),
        agreed_a_to_b=int(np.trace(there)),
        agreed_b_to_a=int(np.trace(back)),
        kappa=kappa(exact),
        kappa_a_to_b=kappa(there),
        kappa_b_to_a=kappa(back),
    )


def _within(mine: NDArray[np.int64], theirs: NDArray[np.int64], reach: int) -> NDArray[np.int64]:
    """Their label in each unit, replaced by mine where they have mine within reach."""
    found = mine == theirs
    for step in range(1, min(reach, len(mine) - 1) + 1):
        found[step:] |= mine[step:] == theirs[:-step]
        found[:-step] |= mine[:-step] == theirs[step:]
    return np.where(found, mine, theirs)


def _table(left: NDArray[np.int64], right: NDArray[np.int64], k: int) -> NDArray[np.int64]:
    return np.bincount(left * k + right, minlength=k * k).reshape(k, k)
