"""What the motion pass says: shots, poses, flags, watched and unwatched spans. Values only.

Frames are positions in the clip's index, counted from 0; spans of frames are half-open. Lengths in pixels are
pixels of the picture as displayed. Angles are degrees, counted clockwise as seen on the screen (y runs down).
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Cause(StrEnum):
    """Why a stretch was not watched: the code that is kept. What the keeper reads stands in `UNWATCHED`."""

    COVERED = "covered"
    OUTSIDE = "outside"
    NOT_OUTLINED = "not outlined"
    BLENDED = "blended"
    FAINT = "faint"
    NOT_SEARCHED = "not searched"


UNWATCHED = {
    Cause.COVERED: "the abdomen was covered or could not be told from what is round it",
    Cause.OUTSIDE: "the abdomen was out of the picture",
    Cause.NOT_OUTLINED: "no outline was drawn in this shot",
    Cause.BLENDED: "two views are blended here",  # the frames of a dissolve or a fade
    Cause.FAINT: "too faint to tell: a pull of 15 % of her length would be missed here",
    Cause.NOT_SEARCHED: "not searched",
}


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """The frames of a film on its own clock: what the book, the sheet and the flags file say times in.

    Attributes:
        pts: tick of every frame, (n,), never falling.
        end_pts: tick at which the last frame leaves the screen.
    """

    pts: NDArray[np.int64]
    end_pts: int

    @classmethod
    def of_seconds(cls, seconds: Floats) -> Ticks:
        """Ticks of a millionth of a second, for pictures that come from no film file; `seconds` of every frame."""
        pts = np.round(np.asarray(seconds) * 1e6).astype(np.int64)
        return cls(pts, int(pts[-1]) + 1 if len(pts) else 0)

    def at(self, frame: int) -> int:
        """Tick of a frame; `end_pts` for the one after the last.

        Raises:
            IndexError: the film has no such frame.
        """
        if not 0 <= frame <= len(self.pts):
            raise IndexError(f"frame {frame} of {len(self.pts)}")
        return int(self.pts[frame]) if frame < len(self.pts) else int(self.end_pts)


@dataclass(frozen=True, slots=True)
class Box:
    """An outline drawn by the keeper on one frame: upright box in displayed pixels; `part` is
    "abdomen", "carapace" or "male". Without width and height it is one press in the middle of her abdomen."""

    frame: int
    x: float
    y: float
    w: float
    h: float
    part: str = "abdomen"

    @property
    def pressed(self) -> bool:
        """Whether it is one press in the middle of her abdomen, without a size."""
        return self.w <= 0 or self.h <= 0


@dataclass(frozen=True, slots=True)
class UsedOutline:
    """Her abdomen as the pass took it on the frame of an outline, displayed pixels.

    Attributes:
        source: "drawn" (the keeper's box as it is), "pressed" (found from a press), "found" (by the pass itself).
        fitted: whether her region was told from motion or looks; else it is the oval in the box.
        x, y, w, h: the upright box round it.
        length, angle_deg: of its long axis; the angle clockwise from right, None where it was not fitted.
        confidence: 0..1, 1 for a box as drawn.
    """

    frame: int
    source: str
    fitted: bool
    x: float
    y: float
    w: float
    h: float
    length: float
    angle_deg: float | None = None
    confidence: float = 1.0


@dataclass(frozen=True, slots=True)
class Shot:
    """Frames [start, end) from one camera view.

    Attributes:
        begins: "film", "cut" or "dissolve" (a fade from one view to another too).
        whole: first frame that shows this view alone; frames [start, whole) are blended with the view before, or
            with black or white.
    """

    start: int
    end: int
    begins: str = "film"
    whole: int = -1

    def __post_init__(self) -> None:
        if self.whole < 0:
            object.__setattr__(self, "whole", self.start)


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Which pulls would have been found in a shot, by pulls that the pass planted into its own pictures.

    Attributes:
        start: first frame of the shot.
        planted: how many were planted.
        smallest: abdomen lengths from which on nine of ten were seen; None where not even the largest were.
    """

    start: int
    planted: int
    smallest: float | None


@dataclass(frozen=True, slots=True)
class FrameSpan:
    """Frames [start, end); `why` is a sentence fragment for the keeper, empty for watched spans. `cause` is the code
    of the same (`Cause`), empty where none is known; it is what programs compare."""

    start: int
    end: int
    why: str = ""
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """A proposed pull.

    Attributes:
        onset, full: frames at which it starts and is complete, for computing over the trace.
        release: frame at which it lets go; None where no release was seen.
        onset_pts, full_pts, release_pts: the same as ticks of the film (`in_ticks`), which is what is kept and told.
        score: probability in 0..1 that this is a pull.
        pull: how far the abdomen was drawn, in abdomen lengths.
        tilt_deg: change of its angle, degrees, signed.
        direction_deg: where to, on the screen, degrees clockwise from right; None where it was only tilted.
        because: one sentence why this moment is proposed.
        doubts: what speaks against it, a short phrase each.
        flagged: False for weaker candidates below the flagging score.
        features: named numbers that the score was computed from (learning from calls needs them).
    """

    onset: int
    full: int
    release: int | None
    score: float
    pull: float
    tilt_deg: float
    direction_deg: float | None
    because: str
    doubts: tuple[str, ...] = ()
    flagged: bool = True
    features: dict[str, float] = field(default_factory=dict)
    onset_pts: int = 0
    full_pts: int = 0
    release_pts: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One value a frame, arrays of shape (n,); NaN where nothing was followed.

    Attributes:
        x, y: centre of the followed abdomen on the picture, pixels.
        angle: its angle against the outline as drawn, degrees.
        scale: its size against the outline as drawn, 1.0 = as drawn.
        length: abdomen length in pixels that `pull` is measured in.
        quality: how well it was followed, 0..1.
        pull: displacement relative to the scene since the resting pose of the shot, abdomen lengths (for drawing).
        tilt: angle relative to the scene and that resting pose, degrees (for drawing).
        busy: how much moves round the abdomen (palps, legs), 0 = still, in the shot's own noise units.
        camera_x, camera_y, camera_angle, camera_scale: motion of the background against the frame before.
    """

    x: Floats
    y: Floats
    angle: Floats
    scale: Floats
    length: Floats
    quality: Floats
    pull: Floats
    tilt: Floats
    busy: Floats
    camera_x: Floats
    camera_y: Floats
    camera_angle: Floats
    camera_scale: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ScanResult:
    """The whole outcome of one motion pass over one clip. `parameters` is the version that made it;
    `decode_share` the share of its time that was spent waiting for pictures; `ticks` when its frames are shown."""

    shots: tuple[Shot, ...]
    trace: Trace
    flags: tuple[Flag, ...]
    watched: tuple[FrameSpan, ...]
    unwatched: tuple[FrameSpan, ...]
    parameters: str
    frames_per_s: float
    decode_share: float = 0.0
    outlines: tuple[UsedOutline, ...] = ()
    sensitivity: tuple[Sensitivity, ...] = ()
    ticks: Ticks = field(default_factory=lambda: Ticks(np.zeros(0, np.int64), 0))


def in_ticks(result: ScanResult, ticks: Ticks) -> ScanResult:
    """The result with the times of its flags as ticks: the one place where frames become times.

    Raises:
        IndexError: a flag stands on a frame that the film does not have.
    """
    flags = tuple(
        replace(
            flag, onset_pts=ticks.at(flag.onset), full_pts=ticks.at(flag.full),
            release_pts=None if flag.release is None else ticks.at(flag.release),
        )
        for flag in result.flags
    )  # fmt: skip
    return replace(result, flags=flags, ticks=ticks)


def outline_at(trace: Trace, frame: int, w: float, h: float) -> tuple[tuple[float, float], ...]:
    """The outline of `w` x `h` pixels as it was drawn, moved, turned and sized as the pass followed it: its four
    corners on `frame`, displayed pixels, clockwise from the top left; empty where it was not followed."""
    if not 0 <= frame < len(trace.x):
        return ()
    x, y, angle, scale = (float(v[frame]) for v in (trace.x, trace.y, trace.angle, trace.scale))
    if not math.isfinite(x + y + angle + scale):
        return ()
    turn = cmath.rect(scale, math.radians(angle))
    around = (complex(-w, -h), complex(w, -h), complex(w, h), complex(-w, h))
    corners = [complex(x, y) + turn * corner / 2 for corner in around]
    return tuple((corner.real, corner.imag) for corner in corners)
