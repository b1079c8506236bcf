"""What the survey says: stretches in which something moves, things that move, cuts, light steps. Values only.

Seconds count from the clip's first frame. Places are pixels of the picture as displayed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PACKETS, KEYFRAMES, PASS = "packets", "keyframes", "pass"  # what a survey rests on


@dataclass(frozen=True, slots=True)
class Stretch:
    """Seconds [start_s, end_s) in which something moves.

    Attributes:
        share: of the picture that changed, mean over the stretch, 0..1; 0 where only packet sizes tell.
        box: (x, y, w, h) round all that moved; None where only packet sizes tell.
        things: numbers of the moving things seen in it, see `Thing`.
        rests_on: "packets", "keyframes" (decoded pictures) or "pass".
    """

    start_s: float
    end_s: float
    share: float = 0.0
    box: tuple[float, float, float, float] | None = None
    things: tuple[int, ...] = ()
    rests_on: str = PACKETS


@dataclass(frozen=True, slots=True)
class Span:
    """Seconds [start_s, end_s) and what is to be said of them: a camera move, a stretch that was not seen."""

    start_s: float
    end_s: float
    what: str


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """Something that moves, kept apart from the others; an animal, or a hand.

    Attributes:
        times_s: (n,) when it was seen to move, rising.
        boxes: (n, 4) x, y, w, h round the part of it that moved.
    """

    number: int
    times_s: Floats
    boxes: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Where in one film anything moves.

    Attributes:
        rests_on: the best that it rests on: "packets", "keyframes" or "pass".
        seconds: how long the film lasts.
        lane: (n,) how much moves in each second from the first, 0..1; NaN where it cannot be told.
        tells: whether the lane says anything at all (packet sizes of film at a constant rate do not).
        moving: stretches in order, not touching one another.
        cuts_s, light_s: when the view changed at once, and when the light did.
        camera: moves of the camera.
        unsure: what could not be told, and why.
        happenings: "comes into view", "come together", "part", "nobody moves", in order.
        trails: (h, w) how often something moved there, 0..1; the whole picture in cells; None from packets.
        notes: sentences for the keeper.
        looked: share of the film's frames that were decoded.
    """

    rests_on: str
    seconds: float
    lane: Floats
    tells: bool
    moving: tuple[Stretch, ...]
    cuts_s: tuple[float, ...] = ()
    light_s: tuple[float, ...] = ()
    camera: tuple[Span, ...] = ()
    unsure: tuple[Span, ...] = ()
    things: tuple[Thing, ...] = ()
    happenings: tuple[Span, ...] = ()
    trails: Floats | None = None
    notes: tuple[str, ...] = ()
    looked: float = 0.0
    dissolves: tuple[Span, ...] = field(default=())

    @property
    def moving_seconds(self) -> float:
        """How long something moves, all stretches together."""
        return sum(stretch.end_s - stretch.start_s for stretch in self.moving)
