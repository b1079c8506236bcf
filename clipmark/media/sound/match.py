"""Where two recordings of one room lie against each other in time, from what both heard. Arrays in, numbers out.

The cameras' sound differs in loudness and colour but not in when something is struck, so the growth of the level is
compared, not the waves: first over the whole length in steps of 10 ms, then in steps of 1 ms round the best place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.errors import ClipmarkError
from clipmark.media.sound.loudness import HOP_S, energy_db, growth

Floats = NDArray[np.float64]

FINE_S = 0.001
_APART_S = 0.25  # a rival closer than this to the best place is the same place


class NothingToCompare(ClipmarkError):
    def __init__(self, reason: str):
        super().__init__(
            f"The sound of the two clips cannot be compared ({reason}). Put them on the clock by hand: "
            "show the same moment in both and press “This is the same moment”."
        )


@dataclass(frozen=True, slots=True)
class SoundMatch:
    """Attributes:
    shift_s: seconds to add to a time of the second recording to get the time of the same event in the first.
    score: agreement at that place: the correlation of the two growth curves where they overlap, -1..1, times the
        root of the share of the shorter recording that overlaps (a short overlap agrees easily by chance).
    rival: the best score at any place more than a quarter of a second away.
    overlap_s: seconds that both recordings then share.
    """

    shift_s: float
    score: float
    rival: float
    overlap_s: float

    @property
    def clear(self) -> bool:
        """Whether one place stands out: a score of 0.3 or more and half as much again as the best rival.
        Working rule of ours, no source; docs/guide.md tells the keeper to look at the waves before accepting."""
        return self.score >= 0.3 and self.score >= 1.5 * self.rival


def match_sounds(
    first: NDArray[np.float32], second: NDArray[np.float32], rate: int, least_overlap_s: float = 3.0
) -> SoundMatch:
    """The shift at which two mono recordings agree best.

    Args:
        first, second: samples at the same `rate`, shapes (n,) and (m,).
        least_overlap_s: places where the two share less than this are not looked at.
    Raises:
        NothingToCompare: one is shorter than the least overlap, or silent.
    Source: cross-correlation by FFT, normalised by the energy inside the overlap; common practice.
    """
    shortest = min(len(first), len(second)) / rate
    if shortest < least_overlap_s:
        raise NothingToCompare(f"one is only {shortest:.1f} s long")
    one, two = (_growth(samples, rate) for samples in (first, second))
    if not one.any() or not two.any():
        raise NothingToCompare("one of them is silent")
    lags, agreement, overlap = _agreement(one, two, round(least_overlap_s / HOP_S))
    agreement = agreement * np.sqrt(overlap / min(len(one), len(two)))
    best = int(np.argmax(agreement))
    apart = np.abs(lags - lags[best]) * HOP_S > _APART_S
    rival = float(agreement[apart].max()) if apart.any() else 0.0
    shift = float(lags[best]) * HOP_S
    shift += _finer(first, second, rate, shift)
    return SoundMatch(shift, float(agreement[best]), max(rival, 0.0), float(overlap[best]) * HOP_S)


def _growth(samples: NDArray[np.float32], rate: int) -> Floats:
    return np.minimum(growth(energy_db(samples, rate)), 30.0)


def _agreement(one: Floats, two: Floats, least: int) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Lags (steps by which `two` lies later on the first one's time), correlation at each, steps of overlap."""
    from scipy.signal import correlate, correlation_lags

    lags = np.asarray(correlation_lags(len(one), len(two)), dtype=np.int64)
    ones, twos = np.ones_like(one), np.ones_like(two)
    count = np.maximum(np.round(correlate(ones, twos, method="fft")), 1.0)
    sum_one, sum_two = correlate(one, twos, method="fft"), correlate(ones, two, method="fft")
    var_one = correlate(one**2, twos, method="fft") - sum_one**2 / count
    var_two = correlate(ones, two**2, method="fft") - sum_two**2 / count
    shared = correlate(one, two, method="fft") - sum_one * sum_two / count
    scale = np.sqrt(np.maximum(var_one, 0.0) * np.maximum(var_two, 0.0))
    enough = (count >= least) & (scale > 1e-6 * max(float(scale.max()), 1e-12))
    agreement = np.where(enough, shared / np.maximum(scale, 1e-12), -1.0)
    return lags, np.clip(agreement, -1.0, 1.0), count


def _finer(first: NDArray[np.float32], second: NDArray[np.float32], rate: int, shift: float) -> float:
    """What to add to the coarse shift, in whole milliseconds within two coarse steps."""
    one, two = (_fine_growth(samples, rate) for samples in (first, second))
    reach = round(2 * HOP_S / FINE_S)
    place = round(shift / FINE_S)
    scores = []
    for extra in range(-reach, reach + 1):
        lag = place + extra
        a = one[max(lag, 0) : max(lag, 0) + min(len(one) - max(lag, 0), len(two) - max(-lag, 0))]
        b = two[max(-lag, 0) : max(-lag, 0) + len(a)]
        scores.append(float(a @ b) if len(a) else -np.inf)
    return (place + int(np.argmax(scores)) - reach) * FINE_S - shift


def _fine_growth(samples: NDArray[np.float32], rate: int) -> Floats:
    """Growth of the amplitude from millisecond to millisecond, smoothed over three."""
    hop = max(round(rate * FINE_S), 1)
    count = len(samples) // hop
    level = np.sqrt(np.mean(np.asarray(samples[: count * hop], dtype=np.float64).reshape(count, hop) ** 2, axis=1))
    growth = np.maximum(np.diff(level, prepend=level[:1]), 0.0)
    return np.asarray(np.convolve(growth, [0.25, 0.5, 0.25], mode="same"), dtype=np.float64)
