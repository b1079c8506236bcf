"""The last seconds of what was followed, searched for posture changes as soon as both sides of a moment are known.

Pictures are kept only here and only for as long as a candidate may need them, so that memory does not grow with the
film. Works in both directions of time: a stretch before the outline was drawn is followed backwards.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.evidence import Evidence, Sight, weigh
from clipmark.motion.outlines import Shape
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.steps import Ramp, fit_ramp, peaks, step_curve

Floats = NDArray[np.float64]

SIDE = 0.95  # seconds on either side that must be known before a moment is weighed
KEEP = 2 * SIDE + 0.9  # seconds that are kept
_AGAIN = 0.4  # seconds already searched that are searched again: where a top lies changes a little with what is known
_SIGHTS = 6  # pictures averaged on each side
_GAP = 0.12  # seconds left out round a moment: a pull is half done at its middle


@dataclass(frozen=True, slots=True)
class PostureChange:
    """A posture change that was weighed.

    Attributes:
        at: middle of the change, seconds.
        ramp: its course along its direction.
        change: (3,) x, y in abdomen lengths and turn in radians times LEVER, from the trace.
        ratio: its size against the noise of its surroundings.
        evidence: what the pictures say.
        length: abdomen length in the pixels that `evidence.change` is in.
    """

    at: float
    ramp: Ramp
    change: Floats
    ratio: float
    evidence: Evidence
    length: float
    beyond: float = 0.0  # what went along beside the abdomen, see `layers.beyond`


@dataclass(slots=True)
class _Moment:
    time: float
    values: tuple[float, float, float]
    quality: float
    sight: Sight | None


@dataclass(slots=True)
class Watch:
    """Collects moments and weighs what changed; `found` grows in the order of weighing."""

    shape: Shape
    parameters: MotionParameters
    backwards: bool = False
    first_of_shot: bool = True  # only then a watch the other way may go on from this one
    found: list[PostureChange] = field(default_factory=list)
    _moments: deque[_Moment] = field(default_factory=deque)
    _looked: float | None = None  # everything up to here (in the direction of reading) has been weighed
    _last: float = 0.0
    _began: float = 0.0
    _last_sight: float = -1e9
    _first: list[_Moment] = field(default_factory=list)  # the first SIDE seconds, for a watch the other way

    def go_on_from(self, other: Watch) -> None:
        """Before the first moment: know what follows it, from a watch that went the other way from the same outline,
        so that a change right where the outline was drawn has both its sides."""
        self._moments.extend(other._first[1:])
        other._first.clear()

    def add(self, time: float, values: tuple[float, float, float], quality: float, sight: Sight | None) -> None:
        """Take one moment; `values` are NaN and `sight` None where it was lost."""
        if sight is not None and abs(time - self._last_sight) < 1 / 65:
            sight = None  # fast film: fewer pictures say as much
        if sight is not None:
            self._last_sight = time
        moment = _Moment(time, values, quality, sight)
        if self.backwards:
            self._moments.appendleft(moment)
        else:
            self._moments.append(moment)
        if self._looked is None:
            self._looked, self._last, self._began = time, time, time
        if self.first_of_shot and not self.backwards and time - self._began <= SIDE:
            self._first.append(moment)
        while self._moments[-1].time - self._moments[0].time > KEEP:
            if self.backwards:
                self._moments.pop()
            else:
                self._moments.popleft()
        if abs(time - self._last) >= 0.4:
            self._last = time
            self._search(time + SIDE if self.backwards else time - SIDE)

    def finish(self) -> None:
        """The stretch has ended: weigh what is left, and let go of its pictures."""
        if self._moments:
            self._search(self._moments[0].time if self.backwards else self._moments[-1].time)
        self._moments.clear()

    def _search(self, upto: float) -> None:
        assert self._looked is not None
        low, high = sorted((self._looked, upto))
        if upto == self._looked or (upto < self._looked) != self.backwards:
            return
        self._looked = upto
        times = np.array([m.time for m in self._moments])
        values = np.array([m.values for m in self._moments])
        quality = np.array([m.quality for m in self._moments])
        if len(times) < 6:
            return
        good = np.where(quality > 0.5, quality, 0.0)
        window = self.parameters.window_s
        curve = step_curve(times, values, good, window, _GAP, 0.002)
        height = np.where(curve.ratio > self.parameters.least_ratio, curve.size, 0.0)
        for spot in peaks(times, height, self.parameters.least_pull, 0.3):
            if not low - _AGAIN * (not self.backwards) <= times[spot] < high + _AGAIN * self.backwards:
                continue
            candidate = self._weigh(times, values, spot, curve.change[spot], float(curve.ratio[spot]))
            if candidate is not None:
                self.found.append(candidate)

    def _weigh(self, times: Floats, values: Floats, spot: int, change: Floats, ratio: float) -> PostureChange | None:
        at = float(times[spot])
        near = np.flatnonzero((np.abs(times - at) < 0.7) & np.isfinite(values).all(axis=1))
        direction = change / max(float(np.linalg.norm(change)), 1e-9)
        ramp = fit_ramp(times[near], values[near] @ direction, at)
        if ramp is None or any(_same(at, ramp, other) for other in self.found[-4:]):
            return None
        before = self._sights(ramp.onset - 0.4, ramp.onset + 1e-6, True)
        after = self._sights(ramp.full - 1e-6, ramp.full + 0.4, False)
        if not before or not after:
            return None
        return PostureChange(at, ramp, change, ratio, weigh(before, after, self.shape), self.shape.length)

    def _sights(self, start: float, end: float, latest: bool) -> list[Sight]:
        inside = [
            m.sight for m in self._moments if start <= m.time <= end and m.sight is not None and m.quality > 0.5
        ]
        return inside[-_SIGHTS:] if latest else inside[:_SIGHTS]


def _same(at: float, ramp: Ramp, other: PostureChange) -> bool:
    """Whether it was weighed already. A shoulder of the curve may lead to the same ramp with a smaller change: that
    is another candidate, and the better one stays in the end."""
    apart = abs(ramp.onset + ramp.full - other.ramp.onset - other.ramp.full)
    return abs(at - other.at) < 0.15 and apart < 0.3
