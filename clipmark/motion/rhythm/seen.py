"""Rhythm of drumming and shaking, in the picture and in the sound, and whether the two agree.

The picture's rhythm is looked for in the grey level of small cells, not in the amount of movement: a palp that
goes up and down once passes each cell once a stroke, while the amount of movement peaks twice. Spectra are taken
at the frames' own times (a plain sum over exp(-2πift)), so uneven film is measured as it is.

Above half the frame rate nothing can be counted: a faster rhythm shows as a slower one that is not there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.spectra import even, fundamental, sharpen, spectrum
from clipmark.motion.rhythm.values import (
    DOUBLE,
    PARAMETERS,
    Bout,
    Cells,
    Floats,
    RhythmParameters,
    folded,
    half_rate,
)


def picture_bouts(cells: Cells, whole: Cells, p: RhythmParameters = PARAMETERS) -> list[Bout]:
    """Bouts of rhythmic movement in a region.

    Args:
        cells, whole: from `gather`.
    Returns:
        bouts in order of time; those whose rhythm the whole picture shares carry a note.
    """
    times = cells.times
    limit = half_rate(times)
    top = min(p.fastest_hz, 0.96 * limit)
    if len(times) < 8 or times[-1] - times[0] < p.window_s or top <= p.slowest_hz:
        return []
    frequencies = np.arange(p.lowest_hz, top, 0.1)
    lobe = 2.0 / p.window_s * 0.75
    frame_rate = 2 * limit if even(times) else None
    found: list[tuple[float, float, float, float]] = []
    for start in np.arange(times[0], times[-1] - p.window_s + 1e-9, p.step_s):
        a, b = np.searchsorted(times, [start, start + p.window_s])
        if b - a < 8:
            continue
        if not _moves(cells.levels[a:b]):
            continue
        power = spectrum(times[a:b], cells.levels[a:b], frequencies)
        rate, share = fundamental(frequencies, power, lobe, frame_rate)
        if rate >= p.slowest_hz and share >= p.least_share:
            found.append((start, start + p.window_s, rate, share))
    # a single window of aimless movement may look like a rhythm by chance
    runs = [run for run in _runs(found, p) if len(run) > 1 or run[0][3] >= p.alone_share]
    bouts = [_bout(cells, whole, run, frequencies, lobe, p) for run in runs]
    return _standing(bouts, p)


def _standing(bouts: list[Bout], p: RhythmParameters) -> list[Bout]:
    """Bouts long enough to be a rhythm, and none that lies mostly inside a clearer one: a window over the edge of
    a bout sees the step from rest to movement as a slow wave."""
    kept: list[Bout] = []
    for bout in sorted(bouts, key=lambda b: (b.end_s - b.start_s) * b.regularity, reverse=True):
        length = bout.end_s - bout.start_s
        covered = sum(max(0.0, min(bout.end_s, k.end_s) - max(bout.start_s, k.start_s)) for k in kept)
        if length * (bout.rate_hz or 0.0) >= p.least_cycles and covered <= 0.3 * length:
            kept.append(bout)
    return _joined(sorted(kept, key=lambda b: b.start_s), p)


def _joined(bouts: list[Bout], p: RhythmParameters) -> list[Bout]:
    """Bouts of one rate that follow one another at once are one."""
    joined: list[Bout] = []
    for bout in bouts:
        last = joined[-1] if joined else None
        if last and bout.start_s - last.end_s <= p.step_s and _same_rate(last, bout, p.agree):
            long, short = sorted((last, bout), key=lambda b: b.start_s - b.end_s)
            whole = (last.start_s, max(last.end_s, bout.end_s), min(long.regularity, short.regularity))
            joined[-1] = replace(long, start_s=whole[0], end_s=whole[1], regularity=whole[2])
            continue
        joined.append(bout)
    return joined


def _same_rate(one: Bout, other: Bout, within: float) -> bool:
    return bool(one.rate_hz and other.rate_hz and abs(one.rate_hz / other.rate_hz - 1) <= within)


def _moves(levels: NDArray[np.float32]) -> bool:
    # film noise averaged over a cell stays below; a palp that crosses a cell changes it by tens of grey levels
    return float(np.percentile(levels.std(axis=0), 95)) > 0.7


def _runs(
    found: list[tuple[float, float, float, float]], p: RhythmParameters
) -> list[list[tuple[float, float, float, float]]]:
    runs: list[list[tuple[float, float, float, float]]] = []
    for window in found:
        last = runs[-1][-1] if runs else None
        if last and window[0] - last[0] <= 2 * p.step_s + 1e-9 and abs(window[2] / last[2] - 1) <= p.same:
            runs[-1].append(window)
        else:
            runs.append([window])
    return runs


def _bout(
    cells: Cells, whole: Cells, run: list[tuple[float, float, float, float]], frequencies: Floats, lobe: float,
    p: RhythmParameters,
) -> Bout:  # fmt: skip
    start, end = run[0][0], run[-1][1]
    rate = float(np.median([window[2] for window in run]))
    start, end = _edges(cells, start, end, rate)
    a, b = np.searchsorted(cells.times, [start, end])
    rate = sharpen(cells.times[a:b], cells.levels[a:b], rate)
    share = float(np.mean([window[3] for window in run]))
    everywhere, all_share = fundamental(
        frequencies,
        spectrum(whole.times[a:b], np.median(whole.levels[a:b], axis=1, keepdims=True), frequencies),
        lobe,
    )
    shared = all_share >= p.least_share and abs(everywhere / rate - 1) <= p.same
    shared = shared and float(np.median(whole.levels[a:b].std(axis=0))) > 0.5
    note = "the whole picture moves or flickers at this rate" if shared else ""
    if not note and _like_double(cells.times[a:b], cells.levels[a:b], rate):
        note = DOUBLE
    return Bout("picture", float(start), float(end), rate, min(share, 1.0), None, note)


def _like_double(times: Floats, levels: NDArray[np.float32], rate: float) -> bool:
    """Whether sharp strokes twice as fast would look the same: at a fifth of the frame rate the folded multiples of
    the double rate fall on the rate and its double, as the rate's own do. An even stroke has no such multiples."""
    frame_rate = 2 * half_rate(times)
    if not even(times) or abs(folded(4 * rate, frame_rate) - rate) > 0.03 * rate:
        return False
    power = spectrum(times, levels, np.array([rate, 2 * rate]))
    return bool(power[1] > 0.2 * power[0])


def _edges(cells: Cells, start: float, end: float, rate: float) -> tuple[float, float]:
    """Where the movement at this rate really begins and ends: half of its middle strength, between the windows."""
    a, b = np.searchsorted(cells.times, [start, end])
    times, levels = cells.times[a:b], cells.levels[a:b] - cells.levels[a:b].mean(axis=0)
    wave = np.exp(-2j * np.pi * rate * times)[:, None]
    reach = max(3, round(1.5 / rate / max(float(np.median(np.diff(times))), 1e-6)))
    mean = np.ones(reach) / reach
    turning = levels * wave
    strength = np.zeros(len(times))
    for cell in np.argsort(levels.var(axis=0))[-12:]:
        strength += np.abs(np.convolve(turning[:, cell], mean, mode="same")) ** 2
    strong = np.flatnonzero(np.sqrt(strength) >= 0.5 * np.median(np.sqrt(strength)))
    return (float(times[strong[0]]), float(times[strong[-1]])) if len(strong) > 3 else (start, end)
