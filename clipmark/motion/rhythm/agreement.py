"""Whether picture and sound show one rhythm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from clipmark.motion.rhythm.values import (
    DOUBLE,
    NOT_RESOLVABLE,
    PARAMETERS,
    Agreement,
    Bout,
    Cells,
    Floats,
    RhythmParameters,
    folded,
    half_rate,
)


def doubt_folded(
    picture: list[Bout], sound: list[Bout], times: Floats, p: RhythmParameters = PARAMETERS
) -> list[Bout]:
    """Picture bouts whose rate is only the fold of a faster one that the sound shows: their rate is taken away."""
    limit = half_rate(times)
    checked = []
    for bout in picture:
        fast = [
            s.rate_hz for s in sound
            if s.rate_hz and s.rate_hz > limit and min(s.end_s, bout.end_s) > max(s.start_s, bout.start_s)
        ]  # fmt: skip
        seen = bout.rate_hz or 0.0
        if any(abs(folded(rate, 2 * limit) - seen) <= max(p.agree * seen, 0.2) for rate in fast):
            bout = replace(bout, rate_hz=None, note=f"{NOT_RESOLVABLE}: the sound beats faster than half of it")
        checked.append(bout)
    return checked


def settle_double(picture: Sequence[Bout], sound: Sequence[Bout], p: RhythmParameters = PARAMETERS) -> list[Bout]:
    """Bouts whose picture fits two rates, one twice the other: where the sound beats at one of them, that is it."""
    settled = []
    for bout in picture:
        if bout.note == DOUBLE and bout.rate_hz:
            for heard in sound:
                overlap = min(heard.end_s, bout.end_s) - max(heard.start_s, bout.start_s)
                rates = [r for r in (0.5 * bout.rate_hz, bout.rate_hz, 2 * bout.rate_hz)
                         if heard.rate_hz and abs(heard.rate_hz / r - 1) <= p.agree]  # fmt: skip
                if rates and overlap > 0.5 * (bout.end_s - bout.start_s):
                    bout = replace(bout, rate_hz=heard.rate_hz, note="")
                    break
        settled.append(bout)
    return settled


def agreements(
    cells: Cells, picture: Sequence[Bout], sound: Sequence[Bout], strikes: Floats, p: RhythmParameters = PARAMETERS
) -> list[Agreement]:
    """Stretches where picture and sound show one rhythm: same rate (or taps at twice the seen rate), at the same
    time, and taps that keep to one place of the seen cycle. Equal rates alone are no agreement."""
    found = []
    for seen in picture:
        for heard in sound:
            if seen.rate_hz is None or heard.rate_hz is None:
                continue
            start, end = max(seen.start_s, heard.start_s), min(seen.end_s, heard.end_s)
            ratio = round(heard.rate_hz / seen.rate_hz)
            if ratio not in (1, 2) or abs(heard.rate_hz / (ratio * seen.rate_hz) - 1) > p.agree:
                continue
            taps = strikes[(strikes >= start) & (strikes <= end)]
            if len(taps) < 5 or (end - start) * seen.rate_hz < 4:
                continue
            lock = _lock(cells, taps, start, end, heard.rate_hz, ratio)
            # by chance n random taps reach sqrt(3/n) about once in twenty
            if lock >= max(p.least_lock, float(np.sqrt(3 / len(taps)))):
                found.append(Agreement(start, end, heard.rate_hz / ratio, ratio, lock))
    return found


def _lock(cells: Cells, taps: Floats, start: float, end: float, rate: float, ratio: int) -> float:
    """Length of the mean vector of the taps' places in the cycle of the strongest cells (taps at `ratio` a cycle)."""
    a, b = np.searchsorted(cells.times, [start, end])
    times, levels = cells.times[a:b], cells.levels[a:b] - cells.levels[a:b].mean(axis=0)
    wave = np.exp(-2j * np.pi * rate / ratio * times)
    strongest = levels[:, int(np.abs(wave @ levels).argmax())]
    reach = max(3, round(1.5 * ratio / rate / max(float(np.median(np.diff(times))), 1e-6)))
    turning = np.convolve(strongest * wave, np.ones(reach) / reach, mode="same")
    drift = np.unwrap(np.angle(turning))
    phase = 2 * np.pi * rate / ratio * taps + np.interp(taps, times, drift)
    return float(np.abs(np.exp(1j * ratio * phase).mean()))
