"""How much moves in each clip, as a lane beside the roll."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from clipmark.motion.result import Floats


@dataclass(frozen=True, slots=True, eq=False)
class MovingLane:
    """How much moves in one clip, on the session clock.

    Attributes:
        start: session seconds of its first frame.
        lane: (n,) a second each, 0..1, NaN where it cannot be told.
        rough: whether only packet sizes were looked at.
    """

    clip_id: int
    start: float
    lane: Floats
    rough: bool
    notes: tuple[str, ...] = ()


def curve_of(one: MovingLane) -> tuple[Floats, Floats]:
    """Times and values that draw each second as a step."""
    seconds = np.arange(len(one.lane), dtype=np.float64)
    times = one.start + np.stack([seconds + 0.001, seconds + 0.999], axis=1).ravel()
    return times, np.repeat(one.lane, 2)
