"""From traces to flags: candidates, their measures, score, reason and doubts; one flag a pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.parameters import MotionParameters
from clipmark.motion.result import Flag
from clipmark.motion.steps import fit_ramp, peaks, step_curve

Floats = NDArray[np.float64]

LEVER = 0.3  # a turn of one radian moves the abdomen's points by about this many abdomen lengths (common practice)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """The abdomen relative to the scene through one stretch: `values` (n, 3) are x, y in abdomen lengths and the
    angle in radians times LEVER; NaN where lost. `quality` (n,)."""

    frames: NDArray[np.int64]
    times: Floats
    values: Floats
    quality: Floats


def find_pulls(path: Path, parameters: MotionParameters) -> list[Flag]:
    """Flags in one stretch that was followed without a break of view, in time order."""
    if len(path.times) < 8:
        return []
    good = np.where(path.quality > 0.5, path.quality, 0.0)
    curve = step_curve(path.times, path.values, good, parameters.window_s, 0.12, 0.003)
    usual = 1.4826 * float(np.median(curve.size[curve.size > 0])) if (curve.size > 0).any() else 0.0
    least = max(parameters.least_pull, 2.5 * usual)
    flags: list[Flag] = []
    for spot in peaks(path.times, np.where(curve.ratio > parameters.least_ratio, curve.size, 0.0), least, 0.35):
        flag = _measured(path, spot, curve.change[spot], float(curve.ratio[spot]), parameters)
        if flag is not None:
            flags.append(flag)
    return one_a_pull(path, flags)


def _measured(path: Path, spot: int, change: Floats, ratio: float, parameters: MotionParameters) -> Flag | None:
    at = path.times[spot]
    near = np.flatnonzero((np.abs(path.times - at) < 0.75) & np.isfinite(path.values).all(axis=1))
    direction = change / max(float(np.linalg.norm(change)), 1e-9)
    ramp = fit_ramp(path.times[near], path.values[near] @ direction, float(at))
    if ramp is None:
        return None
    onset = int(path.frames[np.searchsorted(path.times, ramp.onset + 1e-9, "right") - 1])
    full = int(path.frames[min(int(np.searchsorted(path.times, ramp.full - 1e-9, "left")), len(path.times) - 1)])
    pull, tilt = float(np.hypot(change[0], change[1])), float(np.degrees(change[2] / LEVER))
    size = float(np.linalg.norm(change))
    score = float(1 / (1 + np.exp(-(0.6 * (min(ratio, 20) - 7) + 40 * (size - 0.03)))))
    way = float(np.degrees(np.arctan2(change[1], change[0]))) if pull > 0.01 else None
    lasted = f"within {ramp.full - ramp.onset:.2f} s, then held"
    because = f"abdomen drawn {100 * pull:.0f} % of its length and tilted {abs(tilt):.0f}° {lasted}"
    return Flag(
        onset, max(full, onset), None, score, pull, tilt, way, because, (), score >= parameters.flag_at,
        {"ratio": ratio, "size": size, "rise_s": ramp.full - ramp.onset},
    )  # fmt: skip


def one_a_pull(path: Path, flags: list[Flag]) -> list[Flag]:
    """Pair each pull with its release, and drop what merely goes back to an earlier pose."""
    from dataclasses import replace

    kept: list[Flag] = []
    open_change: Floats | None = None
    for flag in flags:
        turn = np.radians(flag.tilt_deg) * LEVER
        way = np.radians(flag.direction_deg or 0.0)
        change = np.array([flag.pull * np.cos(way), flag.pull * np.sin(way), turn])
        if kept and open_change is not None:
            back = float(open_change @ change) / max(float(open_change @ open_change), 1e-12)
            if back < -0.35 and np.linalg.norm(open_change + change) < 0.75 * np.linalg.norm(open_change):
                kept[-1] = replace(kept[-1], release=flag.onset)
                open_change = None
                continue
        kept.append(flag)
        if flag.flagged:
            open_change = change
    return kept
