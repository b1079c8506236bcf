"""Intervals for figures over time, where neighbouring units are not independent: the circular block bootstrap.

A unit of 0.2 s tells hardly anything that the one before it has not told. Resampling whole blocks keeps what hangs
together inside a block; the length of a block follows from how far the series hangs together.
Source: Politis and Romano 1992 (circular blocks); Politis and White 2004, corrected 2009, for the length (both from
memory); checked against a closed form for a two-state Markov chain.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DRAWS = 400
FEWEST_BLOCKS = 5  # with fewer blocks than this in the whole series an interval would pretend


def block_length(series: NDArray[np.generic]) -> float:
    """How many units a block should hold for the mean of a series of shape (n,): at least 1, at most a third of n."""
    x = np.asarray(series, float)
    n = len(x)
    x = x - x.mean()
    variance = float(x @ x) / n
    if n < 4 or variance <= 0:
        return 1.0
    most = min(int(np.ceil(np.sqrt(n))) + max(5, int(np.log10(n) ** 2)) * 8, n - 1)
    cov = np.array([float(x[: n - k] @ x[k:]) / n for k in range(most + 1)])
    bound = 2 * np.sqrt(np.log10(n) / n)
    quiet = max(5, int(np.sqrt(np.log10(n))))
    small = np.abs(cov[1:] / variance) < bound
    run = np.convolve(small, np.ones(quiet), "valid") == quiet
    lag = int(np.argmax(run)) if run.any() else most // 2
    width = min(2 * max(lag, 1), most)
    lags = np.arange(-width, width + 1)
    flat = np.clip(2 * (1 - np.abs(lags) / width), 0, 1)  # the flat-top window
    both = cov[np.abs(lags)]
    slope, level = float((flat * np.abs(lags) * both).sum()), float((flat * both).sum())
    if level <= 0 or slope <= 0:
        return 1.0
    return float(np.clip((1.5 * (slope / level) ** 2 * n) ** (1 / 3), 1, max(1, n // 3)))


def bootstrapped(
    codes: NDArray[np.int64],
    kinds: int,
    statistic: Callable[[Floats], float | None],
    length: float,
    draws: int = DRAWS,
    seed: int = 0,
) -> Floats:
    """The statistic in resamples of whole blocks.

    Args:
        codes: what each unit is, 0 to kinds - 1, shape (n,), in order of time.
        statistic: of the counts of each kind, shape (kinds,); None where it cannot be had, and that draw is left out.
        length: units a block.
    Returns:
        Shape (at most draws,); empty where the series holds fewer than five blocks.
    """
    n, size = len(codes), max(1, round(length))
    if n < FEWEST_BLOCKS * size:
        return np.empty(0)
    random = np.random.default_rng(seed)
    blocks = int(np.ceil(n / size))
    starts = random.integers(0, n, (draws, blocks))
    ends = np.minimum(size, n - size * np.arange(blocks))  # the last block is cut, so that each draw has n units
    seen = np.zeros((draws, kinds))
    twice = np.concatenate([codes, codes])
    for kind in np.unique(codes):
        before = np.concatenate([[0], np.cumsum(twice == kind)])
        seen[:, kind] = (before[starts + ends] - before[starts]).sum(1)
    values = [statistic(counts) for counts in seen]
    return np.array([v for v in values if v is not None], float)


def limits(values: Floats) -> tuple[float, float] | None:
    """95 % percentile limits; None where there are too few values."""
    if len(values) < DRAWS // 2:
        return None
    low, high = np.percentile(values, [2.5, 97.5])
    return float(low), float(high)
