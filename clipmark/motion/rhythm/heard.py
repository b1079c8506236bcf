"""Bouts of regular strikes in the sound: short trains that stand out, and long runs of taps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from clipmark.motion.rhythm.bouts import bout_criterion, fit_gaps, split
from clipmark.motion.rhythm.trains import Train
from clipmark.motion.rhythm.values import NOT_RESOLVABLE, PARAMETERS, Bout, Floats, RhythmParameters


def beat(strikes: Floats) -> tuple[float, float]:
    """The rate in hertz of a run of strikes, and how regular they are (0..1).

    Starts at the usual gap, then takes the rate nearby at which the phases of all strikes agree best, so a missed
    or doubled strike does not move it.
    """
    gaps = np.diff(strikes)
    if not len(gaps) or np.median(gaps) <= 0:
        return 0.0, 0.0
    usual = 1 / float(np.median(gaps))
    span = strikes[-1] - strikes[0]
    grid = usual * np.linspace(0.85, 1.18, max(200, int(span * usual * 8)))
    phases = 2j * np.pi * (strikes - strikes[0])
    at_once = max(1, 500_000 // len(strikes))  # rates: a run of thousands of strikes must not fill the memory
    pieces = (grid[i : i + at_once, None] * phases for i in range(0, len(grid), at_once))
    lock = np.concatenate([np.abs(np.exp(piece).mean(axis=1)) for piece in pieces])
    best = int(lock.argmax())
    return float(grid[best]), float(lock[best])


def sound_bouts(strikes: Floats, frame_limit_hz: float | None = None, p: RhythmParameters = PARAMETERS) -> list[Bout]:
    """Bouts of regular taps among all taps heard (seconds); the bout criterion comes from the gaps themselves."""
    model = fit_gaps(np.diff(strikes)) if len(strikes) > 8 else None
    criterion = bout_criterion(model) if model else None
    # a fitted criterion below three usual gaps would cut at every missed strike
    gap = float(np.clip(criterion or p.default_gap_s, 0.3, 2.0))
    bouts = []
    for run in split(strikes, gap):
        rate, regular = beat(run)
        if rate < p.slowest_hz or regular < p.least_regular or len(run) < 4:
            continue
        note = _beyond(rate, frame_limit_hz)
        bouts.append(Bout("sound", float(run[0]), float(run[-1]), rate, regular, len(run), note))
    return bouts


def heard_bouts(
    trains: Sequence[Train], strikes: Floats, frame_limit_hz: float | None = None, p: RhythmParameters = PARAMETERS
) -> list[Bout]:
    """Every train as a bout, and the regular runs of taps that no train covers, in the order of time.

    Args:
        trains: from `trains.all_trains`. strikes: taps heard, (n,) seconds, from `onsets`.
        frame_limit_hz: half the frame rate of the film, for the note on what its picture can show.
    """
    bouts = [
        Bout("sound", float(t.times[0]), float(t.times[-1]), t.rate_hz, t.regularity, len(t.times),
             _beyond(t.rate_hz, frame_limit_hz), None, tuple(t.timbre.tolist()))
        for t in trains
    ]  # fmt: skip
    for run in sound_bouts(strikes, frame_limit_hz, p):
        length = run.end_s - run.start_s
        shared = sum(max(0.0, min(run.end_s, b.end_s) - max(run.start_s, b.start_s)) for b in bouts)
        # a run of random taps reaches n·R² of ten about once in 20,000 rates tried
        if shared <= 0.2 * length and (run.strikes or 0) * run.regularity**2 >= p.least_evidence:
            bouts.append(run)
    return sorted(bouts, key=lambda b: b.start_s)


def _beyond(rate: float, limit: float | None) -> str:
    if limit is None or rate <= limit:
        return ""
    return f"in the picture {NOT_RESOLVABLE} (half of it is {limit:.4g} Hz)"
