"""What a rhythm is written down as: parameters, bouts, cells, and what a frame rate can show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NOT_RESOLVABLE = "not resolvable at this frame rate"
DOUBLE = "sharp strokes twice as fast would look the same at this frame rate"


@dataclass(frozen=True, slots=True)
class RhythmParameters:
    """Seconds, hertz and shares."""

    window_s: float = 2.0  # a rhythm must hold this long to be seen in the picture
    step_s: float = 0.5
    slowest_hz: float = 1.2
    lowest_hz: float = 0.2  # slow movement counts against a rhythm, though it is none itself
    fastest_hz: float = 30.0
    least_share: float = 0.57  # of the cells' movement that one rate and its multiples explain
    alone_share: float = 0.65  # the same, where one window alone shows it
    same: float = 0.15  # neighbouring windows with rates this close are one bout
    agree: float = 0.05  # picture and sound agree within this share of the rate
    least_lock: float = 0.6  # how firmly taps sit at one place of the picture's cycle, 0..1
    default_gap_s: float = 1.0  # bout criterion where the gaps give none (proposal, no source)
    least_regular: float = 0.5
    least_cycles: float = 4.0  # fewer are no rhythm yet
    least_evidence: float = 12.0  # strikes times regularity squared of a run that is no train


PARAMETERS = RhythmParameters()


@dataclass(frozen=True, slots=True)
class Bout:
    """A run of rhythmic acts. Times in seconds from the clip's first frame.

    Attributes:
        source: "picture" or "sound".
        rate_hz: strokes a second; None where it cannot be resolved.
        regularity: 0..1; picture: share of the movement that the rate explains, sound: how firmly the strikes
            keep to one beat (vector strength: length of the mean vector of their phases).
        strikes: number of strikes heard; None for the picture.
        note: what the keeper must know, empty or a sentence.
        place: x, y, w, h as shares of the picture where it was seen; None where the region was given or it was heard.
        timbre: of what was heard, see `trains.Train`; two animals on one ground sound unlike.
    """

    source: str
    start_s: float
    end_s: float
    rate_hz: float | None
    regularity: float
    strikes: int | None = None
    note: str = ""
    place: tuple[float, float, float, float] | None = None
    timbre: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Agreement:
    """A stretch where picture and sound show the same rhythm. `ratio`: taps heard per cycle seen (2 when two
    palps strike in turn); `lock`: 0..1, how firmly taps sit at one place of the seen cycle."""

    start_s: float
    end_s: float
    rate_hz: float
    ratio: int
    lock: float


@dataclass(frozen=True, slots=True)
class Cells:
    """Grey levels of the cells of a region, shape (n, cells), at the times (n,) seconds; NaN-free."""

    times: Floats
    levels: NDArray[np.float32]


def half_rate(times: Floats) -> float:
    """Half the frame rate in hertz, from the usual gap between frames: the fastest rhythm that can be counted."""
    return 0.5 / float(np.median(np.diff(times))) if len(times) > 1 else 0.0


def folded(rate: float, frame_rate: float) -> float:
    """The rate in hertz that a rhythm of `rate` seems to have on film of this frame rate: 20 Hz at 25 a second
    shows as 5 Hz."""
    return abs(rate - frame_rate * round(rate / frame_rate))
