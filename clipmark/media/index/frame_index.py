"""The frames of a film that exist, and when each is on screen. Frames are found here, never by a rate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class FrameIndex:
    """All frames in the order in which they are shown; a frame's *number* is its place here, from 0.

    Attributes:
        pts: (n,) ticks on the file's own clock, never falling; n is at least 1.
        time_base: seconds a tick, exact.
        keyframe: (n,) whether decoding can start there.
        end_pts: tick at which the last frame leaves the screen.
        even: whether all frames follow each other at one rate, to within the rounding of the ticks.
        rate: frames a second, only for showing; None for a single frame.
    """

    pts: NDArray[np.int64]
    time_base: Fraction
    keyframe: NDArray[np.bool_]
    end_pts: int
    even: bool
    rate: Fraction | None

    def __len__(self) -> int:
        return len(self.pts)

    def __repr__(self) -> str:
        return f"FrameIndex({len(self)} frames, time_base={self.time_base}, even={self.even}, rate={self.rate})"

    def seconds(self) -> NDArray[np.float64]:
        """(n,) seconds from the first frame, for drawing and computing over arrays."""
        since = (self.pts - self.pts[0]).astype(np.float64)
        return since * self.time_base.numerator / self.time_base.denominator

    def exact_seconds(self, number: int) -> Fraction:
        """Seconds from the first frame to this one, exact.

        Raises:
            IndexError: there is no such frame.
        """
        if not 0 <= number < len(self.pts):
            raise IndexError(f"frame {number} of {len(self.pts)}")
        return (int(self.pts[number]) - int(self.pts[0])) * self.time_base

    def end_seconds(self) -> Fraction:
        """Seconds from the first frame to the end of the last, exact."""
        return (self.end_pts - int(self.pts[0])) * self.time_base

    def at_or_before(self, pts: int) -> int:
        """Number of the frame on screen at tick `pts`; the first frame if `pts` is earlier."""
        return max(int(np.searchsorted(self.pts, pts, side="right")) - 1, 0)

    def frame_at(self, seconds: Fraction | float) -> int:
        """Number of the frame on screen so many seconds after the first frame appeared."""
        ticks = Fraction(seconds) / self.time_base
        return self.at_or_before(int(self.pts[0]) + math.floor(ticks))


def frame_index(
    pts: NDArray[np.int64],
    time_base: Fraction,
    keyframe: NDArray[np.bool_],
    last_duration: int,
    stated_rate: Fraction | None,
) -> FrameIndex:
    """The index for these times; sees whether they are even and at what rate.

    Args:
        pts: never falling.
        last_duration: ticks of the last frame as the file states it; 0 where it does not.
        stated_rate: the file's own word on its rate, believed only where the times agree.
    """
    rate, even = _rate(pts, time_base, stated_rate)
    if last_duration <= 0:
        gaps = np.diff(pts)
        if len(gaps):
            last_duration = int(np.median(gaps))
        elif stated_rate:
            last_duration = round(1 / stated_rate / time_base)
    end_pts = int(pts[-1]) + max(last_duration, 1)
    return FrameIndex(pts, time_base, keyframe, end_pts, even, rate)


def _rate(pts: NDArray[np.int64], time_base: Fraction, stated: Fraction | None) -> tuple[Fraction | None, bool]:
    """Rate for showing, and whether every time is within one tick of it."""
    if len(pts) < 2 or pts[-1] == pts[0]:
        return (stated if stated and stated > 0 else None), True
    mean = Fraction(len(pts) - 1) / ((int(pts[-1]) - int(pts[0])) * time_base)
    for rate in (stated, mean):
        if rate and rate > 0 and _fits(pts, time_base, rate):
            return (rate if rate == stated else rate.limit_denominator(1001)), True
    return mean.limit_denominator(1000), False


def _fits(pts: NDArray[np.int64], time_base: Fraction, rate: Fraction) -> bool:
    step = 1 / (rate * time_base)
    ideal = np.arange(len(pts)) * float(step)
    off = (pts - pts[0]) - ideal
    # Rounding moves a time by at most half a tick, the first one included.
    return bool(off.max() - off.min() < 1.001)
