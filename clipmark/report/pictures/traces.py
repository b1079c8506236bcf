"""The abdomen trace of one clip, placed on the session clock, and thinned to what a picture can show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.book.model import ClipRecord
from clipmark.motion.result import Trace


@dataclass(frozen=True, slots=True, eq=False)
class ClipTrace:
    """A pass's trace over one clip.

    Attributes:
        pts: tick of each frame, int64 (n,).
        clock: the same on the session clock, seconds, float64 (n,).
        trace: arrays of shape (n,), see `clipmark.motion.result.Trace`.
    """

    clip_id: int
    pass_id: int
    pts: NDArray[np.int64]
    clock: NDArray[np.float64]
    trace: Trace

    def frame_at(self, pts: int) -> int:
        """Position of the frame that is on screen at a tick."""
        return max(int(np.searchsorted(self.pts, pts, side="right")) - 1, 0)


def placed(clip: ClipRecord, pass_id: int, pts: NDArray[np.int64], trace: Trace) -> ClipTrace:
    """A trace with its times on the session clock."""
    seconds = float(clip.offset) + (pts - clip.first_pts).astype(np.float64) * float(clip.time_base)
    return ClipTrace(clip.id, pass_id, pts, seconds, trace)


def columns(
    times: NDArray[np.float64], values: NDArray[np.float64], start: float, end: float, most: int
) -> tuple[list[float], list[float], list[float]]:
    """Lowest and highest value in each of at most `most` equal stretches of [start, end].

    Stretches without any value give NaN (the pen is lifted there); those without a frame are left out, so a slow film
    stays one line. Where there are fewer values than stretches each value is its own lowest and highest.

    Returns:
        times (start of the stretch, or of the value), lowest, highest; equally long.
    """
    inside = (times >= start) & (times <= end)
    t, v = times[inside], values[inside]
    if len(t) <= most:
        return t.tolist(), v.tolist(), v.tolist()
    bins = np.minimum(((t - start) / (end - start) * most).astype(np.int64), most - 1)
    first = np.flatnonzero(np.r_[True, bins[1:] != bins[:-1]])
    low = np.minimum.reduceat(np.where(np.isnan(v), np.inf, v), first)
    high = np.maximum.reduceat(np.where(np.isnan(v), -np.inf, v), first)
    none = np.isinf(low)
    low[none], high[none] = np.nan, np.nan
    return t[first].tolist(), low.tolist(), high.tolist()
