"""Steps in a trace: a level before, an abrupt change, a level after.

All sums run over time, not over frame counts, so uneven film is treated alike. Looks both ways in time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StepCurve:
    """For each moment the change of level across it.

    Attributes:
        size: length of the change over all channels, (n,); 0 where either side is not followed.
        ratio: size against the noise of both sides.
        change: the change by channel, (n, k).
    """

    size: Floats
    ratio: Floats
    change: Floats


def step_curve(times: Floats, values: Floats, good: Floats, window: float, gap: float, floor: float) -> StepCurve:
    """Compare the level in [t - gap - window, t - gap] with that in [t + gap, t + gap + window].

    Args:
        times: seconds, rising, (n,).
        values: (n, k) channels in one common unit.
        good: weight of each moment, 0 where nothing was followed, (n,).
        floor: noise that is assumed at least, same unit.
    """
    filled = np.where(np.isfinite(values), values, 0.0)
    filled = filled - np.median(filled, axis=0)
    weight = np.where(np.isfinite(values).all(axis=1), good, 0.0)
    sums = np.concatenate([[0.0], np.cumsum(weight)])
    first = np.concatenate([np.zeros((1, filled.shape[1])), np.cumsum(filled * weight[:, None], axis=0)])
    second = np.concatenate([[0.0], np.cumsum((filled**2).sum(axis=1) * weight)])

    def side(left: Floats, right: Floats) -> tuple[Floats, Floats, Floats]:
        a, b = np.searchsorted(times, left, "left"), np.searchsorted(times, right, "right")
        count = sums[b] - sums[a]
        mean = (first[b] - first[a]) / np.maximum(count, 1e-9)[:, None]
        spread = (second[b] - second[a]) / np.maximum(count, 1e-9) - (mean**2).sum(axis=1)
        return count, mean, np.maximum(spread, 0.0)

    n0, m0, v0 = side(times - gap - window, times - gap)
    n1, m1, v1 = side(times + gap, times + gap + window)
    change = m1 - m0
    ok = (n0 >= 2) & (n1 >= 2)
    size = np.where(ok, np.sqrt((change**2).sum(axis=1)), 0.0)
    noise = np.sqrt(v0 / np.maximum(n0, 1) + v1 / np.maximum(n1, 1) + floor**2)
    return StepCurve(size, size / noise, change)


def peaks(times: Floats, height: Floats, least: float, apart: float) -> list[int]:
    """Positions of local maxima above `least`, the higher first winning within `apart` seconds; in time order. Where
    the top is flat, as round a step between two calm levels, its middle."""
    rising = np.r_[True, height[1:] >= height[:-1]]
    falling = np.r_[height[:-1] > height[1:], True]
    found = np.flatnonzero((height >= least) & rising & falling)
    taken: list[int] = []
    for spot in found[np.argsort(-height[found], kind="stable")]:
        if all(abs(times[spot] - times[other]) >= apart for other in taken):
            taken.append(int(spot))
    return sorted({_middle(height, spot) for spot in taken})


def _middle(height: Floats, spot: int) -> int:
    """The middle of the flat top that `spot` lies on; a top is flat as far as it falls by less than 3 %."""
    flat = height >= 0.97 * height[spot]
    left = spot - int(np.argmin(flat[spot::-1])) + 1 if not flat[: spot + 1].all() else 0
    right = spot + int(np.argmin(flat[spot:])) - 1 if not flat[spot:].all() else len(height) - 1
    return (left + right) // 2


@dataclass(frozen=True, slots=True)
class Ramp:
    """A rise between two levels: starts at `onset` seconds, complete at `full`; `before` and `after` are the levels,
    `noise` the residual."""

    onset: float
    full: float
    before: float
    after: float
    noise: float


def fit_ramp(times: Floats, values: Floats, around: float, longest: float = 0.5) -> Ramp | None:
    """The soft ramp that fits best: onset and duration on a grid finer than the frames, levels by least squares.

    Args:
        times, values: the stretch round the step, (n,).
        around: about where the middle of the step is, seconds.
        longest: longest duration tried, seconds.
    Returns:
        None where there are fewer than six moments.
    """
    if len(times) < 6:
        return None
    frame = float(np.median(np.diff(times)))
    durations = np.unique(np.r_[0.5 * frame, np.arange(1, 9) / 8 * longest])
    best: tuple[float, float, float] | None = None
    for fine in (False, True):
        if best is None or not fine:
            grid, lasts = np.arange(-0.45, 0.46, max(0.5 * frame, 0.01)), durations
        else:
            grid = best[0] + 0.5 * best[1] - around + np.linspace(-frame, frame, 9)
            lasts = np.clip(best[1] + np.linspace(-0.6, 0.6, 9) * longest / 8, 0.25 * frame, longest)
        middle, last = (a.ravel() for a in np.meshgrid(around + grid, lasts))
        u = np.clip((times[None, :] - (middle - last / 2)[:, None]) / last[:, None], 0, 1)
        shape = u * u * (3 - 2 * u)
        mean_s, mean_v = shape.mean(axis=1), values.mean()
        cross = ((shape - mean_s[:, None]) * (values - mean_v)[None, :]).sum(axis=1)
        power = ((shape - mean_s[:, None]) ** 2).sum(axis=1)
        left = ((values - mean_v) ** 2).sum() - cross**2 / np.maximum(power, 1e-12)
        left = np.where(power < 0.5, np.inf, left)
        i = int(np.argmin(left))
        best = (float(middle[i] - last[i] / 2), float(last[i]), float(left[i]))
    assert best is not None
    onset, last_s, error = best
    u = np.clip((times - onset) / last_s, 0, 1)
    shape = u * u * (3 - 2 * u)
    rise = float(
        ((shape - shape.mean()) * (values - values.mean())).sum() / max(((shape - shape.mean()) ** 2).sum(), 1e-12)
    )
    before = float(values.mean() - rise * shape.mean())
    return Ramp(onset, onset + last_s, before, before + rise, float(np.sqrt(max(error, 0.0) / len(times))))
