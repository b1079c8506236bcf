"""Strikes to bouts: where one run of strikes ends and the next begins."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GapModel:
    """Two kinds of gaps, each exponential: `n_*` gaps with rate `rate_*` per second, within and between bouts."""

    n_fast: float
    rate_fast: float
    n_slow: float
    rate_slow: float


def bout_criterion(model: GapModel) -> float | None:
    """The gap in seconds from which on a gap more likely separates bouts than belongs to one.

    None where the two kinds cannot be told apart (the fast one is not faster, or nowhere the more frequent).

    Source: Slater & Lester 1982 as used by Sibly et al. 1990 [SI90]; formula from memory.
    """
    fast, slow = model.n_fast * model.rate_fast, model.n_slow * model.rate_slow
    if model.rate_fast <= model.rate_slow or fast <= slow or slow <= 0:
        return None
    return float(np.log(fast / slow) / (model.rate_fast - model.rate_slow))


def fit_gaps(gaps: Floats, rounds: int = 200) -> GapModel | None:
    """Two exponentials fitted to gaps (seconds) by expectation maximisation; None below 8 gaps or for equal gaps."""
    gaps = np.sort(gaps[gaps > 0])
    if len(gaps) < 8 or gaps[-1] < 2 * gaps[0]:
        return None
    cut = len(gaps) * 3 // 4
    fast, slow, share = 1 / gaps[:cut].mean(), 1 / gaps[cut:].mean(), 0.75
    for _ in range(rounds):
        one = share * fast * np.exp(-fast * gaps)
        two = (1 - share) * slow * np.exp(-slow * gaps)
        belongs = one / np.maximum(one + two, 1e-300)
        if not 1e-6 < belongs.mean() < 1 - 1e-6:
            return None
        share = float(belongs.mean())
        fast = float(belongs.sum() / (belongs * gaps).sum())
        slow = float((1 - belongs).sum() / ((1 - belongs) * gaps).sum())
    return GapModel(share * len(gaps), fast, (1 - share) * len(gaps), slow)


def split(strikes: Floats, criterion_s: float, least: int = 3) -> list[Floats]:
    """Runs of strikes with no gap longer than the criterion, those of at least `least` strikes."""
    if not len(strikes):
        return []
    edges = [0, *(np.flatnonzero(np.diff(strikes) > criterion_s) + 1), len(strikes)]
    return [strikes[a:b] for a, b in pairwise(edges) if b - a >= least]
