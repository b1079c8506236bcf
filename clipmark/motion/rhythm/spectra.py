"""Spectra at the frames' own times, and the rate that explains them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.values import Floats, folded

_OWN = 0.45  # share of what a rate explains that lies at the rate itself
_FOLDED = 0.7  # share of the movement that a rate with folded multiples must explain


def spectrum(times: Floats, levels: NDArray[np.float32], frequencies: Floats) -> Floats:
    """Power of each frequency (hertz, shape (f,)) summed over the cells, straight lines and Hann taper removed."""
    if len(times) < 4:
        return np.zeros(len(frequencies))
    t = times - times.mean()
    design = np.stack([np.ones_like(t), t], axis=1)
    rest = levels - design @ np.linalg.lstsq(design, levels.astype(np.float64), rcond=None)[0]
    taper = 0.5 + 0.5 * np.cos(2 * np.pi * t / max(times[-1] - times[0], 1e-9))
    waves = np.exp(-2j * np.pi * frequencies[:, None] * t[None, :])
    return np.asarray((np.abs(waves @ (rest * taper[:, None])) ** 2).sum(axis=1), float)


def fundamental(
    frequencies: Floats, power: Floats, lobe_hz: float, frame_rate: float | None = None
) -> tuple[float, float]:
    """The rate that, with its multiples, explains most of the power, and the share that it explains (0..1).

    Of rates that explain nearly as much, the slowest counts that holds power itself: half of a true rate explains
    all that the true one does, but has no power at its own place.

    Args:
        frame_rate: of film with even times: multiples above half of it show folded, and are looked for there. A
            sharp stroke of 9.6 Hz at 25 frames a second has its double at 5.8 Hz.
    """
    total = power.sum()
    if total <= 0:
        return 0.0, 0.0
    own = np.array([power[abs(frequencies - f) <= lobe_hz].sum() for f in frequencies])
    explained = own.copy()
    for multiple in (2, 3):
        for i, f in enumerate(frequencies):
            if multiple * f <= frequencies[-1] and (multiple - 1) * f > 2 * lobe_hz:
                explained[i] += power[abs(frequencies - multiple * f) <= lobe_hz].sum()
    if frame_rate is not None:
        for i in np.flatnonzero((3 * frequencies > frequencies[-1]) & (own >= 0.15 * total)).tolist():
            mine = abs(frequencies - frequencies[i]) <= lobe_hz
            for multiple in (2, 3):
                mine |= abs(frequencies - folded(multiple * frequencies[i], frame_rate)) <= lobe_hz
            all_of_it = power[mine].sum()
            if own[i] >= _OWN * all_of_it and all_of_it >= _FOLDED * total:  # three bands hold much of any noise
                explained[i] = max(explained[i], all_of_it)
    good = (explained >= 0.85 * explained.max()) & (own >= _OWN * explained)
    start = int(np.argmax(good)) if good.any() else int(explained.argmax())
    # the top of the lobe, not its first edge
    around = np.flatnonzero(abs(frequencies - frequencies[start]) <= 2 * lobe_hz)
    best = int(around[power[around].argmax()])
    return float(frequencies[best]), float(explained[best] / total)


def sharpen(times: Floats, levels: NDArray[np.float32], rate: float) -> float:
    """The rate refined on the whole stretch: the finest peak that its length allows."""
    length = max(times[-1] - times[0], 1e-3)
    half = min(1.0 / length, 0.2 * rate)
    grid = np.linspace(rate - half, rate + half, 81)
    power = spectrum(times, levels, grid)
    top = int(power.argmax())
    if 0 < top < len(grid) - 1:  # parabola through the three highest
        a, b, c = power[top - 1 : top + 2]
        if a - 2 * b + c < 0:
            return float(grid[top] + 0.5 * (a - c) / (a - 2 * b + c) * (grid[1] - grid[0]))
    return float(grid[top])


def even(times: Floats) -> bool:
    """Whether frames follow one another evenly, within a tenth of their gap (file times are rounded)."""
    gaps = np.diff(times)
    return bool(np.percentile(np.abs(gaps - np.median(gaps)), 95) <= 0.1 * np.median(gaps))
