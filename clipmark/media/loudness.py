"""Sound as the roll draws it: how loud over time, and where something was struck. Arrays in, numbers out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HOP_S = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Loudness:
    """Attributes:
    times: seconds from the clip's first frame, middle of each window, shape (n,).
    levels: 0..1; 0 = the quietest tenth of the sound and below, 1 = its loudest, on a scale of decibels.
    rise: growth of energy from window to window, 0 where it does not grow; in robust deviations.
    onsets: seconds at which something was struck (growth far outside the sound's own noise).
    """

    times: Floats
    levels: Floats
    rise: Floats
    onsets: Floats


def loudness(samples: NDArray[np.float32], rate: int, start: float = 0.0) -> Loudness:
    """Level and onsets of mono sound.

    Args:
        samples: shape (n,), -1..1. rate: samples a second. start: seconds of the first sample.
    Source: short-time energy and its half-wave rectified growth, the plainest onset measure; common practice.
    """
    decibels = energy_db(samples, rate)
    times = np.asarray(start + (np.arange(len(decibels)) + 0.5) * HOP_S, dtype=np.float64)
    if not len(decibels):
        return Loudness(times, decibels, decibels, np.empty(0))
    floor, top = float(np.percentile(decibels, 10)), float(decibels.max())
    levels = np.clip((decibels - floor) / max(top - floor, 12.0), 0.0, 1.0)
    rise = onset_strength(decibels)
    return Loudness(times, levels, rise, np.asarray(times[_peaks(rise, levels)] - HOP_S / 2))


def energy_db(samples: NDArray[np.float32], rate: int) -> Floats:
    """Energy of each 10 ms window in decibels, not below -90."""
    hop = max(round(rate * HOP_S), 1)
    count = len(samples) // hop
    windows = np.asarray(samples[: count * hop], dtype=np.float64).reshape(count, hop)
    return np.asarray(10.0 * np.log10(np.mean(windows**2, axis=1) + 1e-9), dtype=np.float64)


def onset_strength(decibels: Floats) -> Floats:
    """Growth of the level over two windows where it grows, in robust deviations of itself; same shape."""
    before = np.concatenate([decibels[:1], decibels[:1], decibels[:-2]]) if len(decibels) > 2 else decibels
    growth = np.maximum(decibels - before, 0.0)
    spread = 1.4826 * float(np.median(np.abs(growth - np.median(growth)))) if len(growth) else 1.0
    return np.asarray(growth / max(spread, 1.0), dtype=np.float64)


def _peaks(rise: Floats, levels: Floats, least: float = 6.0, rest: int = 4) -> NDArray[np.int64]:
    from scipy.signal import find_peaks

    found, _ = find_peaks(rise, height=least, distance=rest)
    return np.asarray(found[levels[found] > 0.35], dtype=np.int64)
