"""When something was struck: onsets of taps in a sound track.

A tap is a knock: nearly all bands of the spectrum rise within some milliseconds. A voice rises in few bands, room
noise in none for long. So the strength of an onset is the rise of the level in decibels, averaged over bands that
are spaced evenly in the logarithm of frequency, each rise counted only above the band's own floor and only up to
a limit: one loud band cannot stand for all.

Source: spectral flux with adaptive threshold is the common method (survey: Bello et al. 2005, IEEE Trans. Speech
and Audio Processing 13:1035-1047, from memory); the clipped rise per band is ours, docs/rhythm.md tells why.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OnsetParameters:
    """All in seconds, hertz and decibels."""

    hop_s: float = 0.004
    window_s: float = 0.012
    look_back_s: float = 0.012  # the rise is measured against the loudest level from this long before ...
    before_s: float = 0.036  # ... to this long before: the pulses of a voice are no rises then
    after_s: float = 0.040  # a knock has fallen again this long after its peak, a voice goes on
    lowest_hz: float = 150.0
    highest_hz: float = 10_000.0
    bands: int = 20
    most_rise_db: float = 18.0  # a rise counts up to this much in one band
    above_floor_db: float = 6.0  # what stays below floor + this is noise
    deepest_db: float = 50.0  # what lies this far below the loudest moments is silence, whatever its floor
    least_strength_db: float = 3.0  # mean rise over the bands
    least_of_strong: float = 0.4  # of the strong knocks (90 in 100 are weaker) within `near_s`: speech is weaker
    near_s: float = 15.0
    least_share: float = 0.4  # of the bands that rise at all by 3 dB
    rest_s: float = 0.035  # two strikes closer than this are one
    around_s: float = 0.6  # the threshold follows the median of this stretch


PARAMETERS = OnsetParameters()


def band_levels(samples: NDArray[np.float32], rate: int, p: OnsetParameters = PARAMETERS) -> tuple[Floats, Floats]:
    """Level of each band over time.

    Args:
        samples: mono sound, shape (n,), any scale.
        rate: samples per second.
    Returns:
        times: centre of each window, seconds from the first sample, shape (t,).
        levels: decibels, shape (t, bands). Both empty when the sound is shorter than one window.
    """
    window = max(16, round(p.window_s * rate))
    hop = max(1, round(p.hop_s * rate))
    count = (len(samples) - window) // hop + 1
    if count < 1:
        return np.empty(0), np.empty((0, p.bands))
    size = 1 << (window - 1).bit_length()
    frequencies = np.fft.rfftfreq(size, 1 / rate)
    edges = np.geomspace(p.lowest_hz, min(p.highest_hz, 0.48 * rate), p.bands + 1)
    member = np.searchsorted(edges, frequencies, side="right") - 1
    inside = (member >= 0) & (member < p.bands)
    weights = np.zeros((len(frequencies), p.bands), np.float32)
    weights[np.flatnonzero(inside), member[inside]] = 1.0
    for band in np.flatnonzero(weights.sum(axis=0) == 0):  # a band narrower than one bin takes the nearest bin
        weights[np.argmin(abs(frequencies - np.sqrt(edges[band] * edges[band + 1]))), band] = 1.0
    shape = np.hanning(window).astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(samples, window)[::hop]
    levels = np.empty((count, p.bands))
    for start in range(0, count, 4096):  # bounded memory whatever the length
        spectrum = np.fft.rfft(frames[start : start + 4096] * shape, size)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
        levels[start : start + 4096] = 10 * np.log10(power @ weights + 1e-12)
    times = (np.arange(count) * hop + window / 2) / rate
    return times, levels


def band_knocks(levels: Floats, hop_s: float, p: OnsetParameters = PARAMETERS) -> Floats:
    """How much each band knocks at each time: what both rises and falls again, in dB, 0..most_rise_db.

    Args:
        levels: decibels, shape (t, bands).
        hop_s: seconds between rows.
    Returns:
        shape (t, bands).
    """
    from scipy.ndimage import maximum_filter1d, percentile_filter, uniform_filter1d

    back, before, after = (max(1, round(s / hop_s)) for s in (p.look_back_s, p.before_s, p.after_s))
    if len(levels) <= before + after:
        return np.zeros_like(levels)
    # the floor of a band: its low quantile over two seconds, taken on a thinned series since it moves slowly
    thin = max(1, round(0.02 / hop_s))
    reach = max(3, round(2.0 / (thin * hop_s)))
    floor = percentile_filter(levels[::thin], 30, size=(reach, 1), mode="nearest")
    floor = uniform_filter1d(np.repeat(floor, thin, axis=0)[: len(levels)], thin, axis=0, mode="nearest")
    loudest = np.percentile(levels, 99.9, axis=0)
    heard = np.maximum(levels, np.maximum(floor + p.above_floor_db, loudest - p.deepest_db))
    width = before - back + 1
    recent = maximum_filter1d(heard, width, axis=0, mode="nearest")
    shift = back + width // 2  # so that the filter covers [t - before, t - back]
    rise, fall = np.zeros_like(levels), np.zeros_like(levels)
    rise[shift:] = heard[shift:] - recent[:-shift]
    fall[:-after] = heard[:-after] - heard[after:]
    return np.clip(np.minimum(rise, 2 * fall), 0, p.most_rise_db)


def onset_strength(levels: Floats, hop_s: float, p: OnsetParameters = PARAMETERS) -> tuple[Floats, Floats]:
    """How much the sound knocks at each time, and in how many bands: what both rises and falls again.

    Args:
        levels: decibels, shape (t, bands).
        hop_s: seconds between rows.
    Returns:
        strength: mean clipped knock in dB, shape (t,), 0..most_rise_db; share: of the bands that rise, 0..1.
    """
    knock = band_knocks(levels, hop_s, p)
    return knock.mean(axis=1), (knock > 3.0).mean(axis=1)


def pick_onsets(times: Floats, strength: Floats, share: Floats, p: OnsetParameters = PARAMETERS) -> Floats:
    """Times of the strikes, seconds, ascending: local maxima above the running median, at least `rest_s` apart."""
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks

    if len(times) < 3:
        return np.empty(0)
    hop = times[1] - times[0]
    thin = max(1, round(0.02 / hop))
    base = np.repeat(median_filter(strength[::thin], max(3, round(p.around_s / (thin * hop)))), thin)[: len(times)]
    peaks, _ = find_peaks(
        np.concatenate(([0.0], strength, [0.0])), distance=max(1, round(p.rest_s / hop)), prominence=1.0
    )
    peaks = peaks - 1
    knocks = peaks[(strength[peaks] - base[peaks] >= p.least_strength_db) & (share[peaks] >= p.least_share)]
    first = np.searchsorted(times[knocks], times[knocks] - p.near_s)
    last = np.searchsorted(times[knocks], times[knocks] + p.near_s)
    strong = [np.percentile(strength[knocks[a:b]], 90) for a, b in zip(first, last, strict=True)]
    return times[knocks[strength[knocks] >= p.least_of_strong * np.array(strong)]] if len(knocks) else np.empty(0)


def onsets(samples: NDArray[np.float32], rate: int, p: OnsetParameters = PARAMETERS) -> Floats:
    """Times of taps in a sound, seconds from its first sample; empty for silence.

    Raises:
        ValueError: the sound is not one channel.
    """
    if samples.ndim != 1:
        raise ValueError("one channel of sound is needed")
    times, levels = band_levels(samples, rate, p)
    if len(times) < 3:
        return np.empty(0)
    strength, share = onset_strength(levels, times[1] - times[0], p)
    return pick_onsets(times, strength, share, p)
