"""How loud a sound is over time, and where it grows. Arrays in, numbers out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HOP_S = 0.01


def levels(samples: NDArray[np.float32], rate: int) -> tuple[Floats, Floats]:
    """Level of mono sound for drawing.

    Args:
        samples: shape (n,), -1..1. rate: samples a second.
    Returns:
        times: middle of each 10 ms window, seconds from the first sample, shape (t,).
        levels: 0..1, shape (t,); 0 = the quietest tenth of the sound and below, 1 = its loudest, on a scale of
            decibels.
    """
    decibels = energy_db(samples, rate)
    times = np.asarray((np.arange(len(decibels)) + 0.5) * HOP_S, dtype=np.float64)
    if not len(decibels):
        return times, decibels
    floor, top = float(np.percentile(decibels, 10)), float(decibels.max())
    return times, np.clip((decibels - floor) / max(top - floor, 12.0), 0.0, 1.0)


def energy_db(samples: NDArray[np.float32], rate: int) -> Floats:
    """Energy of each 10 ms window in decibels, not below -90."""
    hop = max(round(rate * HOP_S), 1)
    count = len(samples) // hop
    windows = np.asarray(samples[: count * hop], dtype=np.float64).reshape(count, hop)
    return np.asarray(10.0 * np.log10(np.mean(windows**2, axis=1) + 1e-9), dtype=np.float64)


def growth(decibels: Floats) -> Floats:
    """Growth of the level over two windows where it grows, in robust deviations of itself; same shape.

    Source: half-wave rectified growth of the short-time energy, the plainest onset measure; common practice.
    """
    before = np.concatenate([decibels[:1], decibels[:1], decibels[:-2]]) if len(decibels) > 2 else decibels
    grown = np.maximum(decibels - before, 0.0)
    spread = 1.4826 * float(np.median(np.abs(grown - np.median(grown)))) if len(grown) else 1.0
    return np.asarray(grown / max(spread, 1.0), dtype=np.float64)
