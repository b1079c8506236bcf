"""What is shown of one pull: the frames of its loop, before and after side by side, and what changed between them.

Arrays and pictures only, no Qt: it is computed beside the window and handed to it.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.result import Trace
from clipmark.motion.similarity import STILL, Similarity
from clipmark.progress import Progress
from clipmark.report.pictures.moments import three_moments

if TYPE_CHECKING:
    from clipmark.book.model import FlagRecord, SessionRecord
    from clipmark.media.clip import Clip
    from clipmark.media.frames.picture import Picture
    from clipmark.media.frames.reader import Reader

Rgb = NDArray[np.uint8]

BEFORE_S, AFTER_S = Fraction(1), Fraction(3, 2)  # of film round onset and release
LONGEST_S = Fraction(8)
LOOP_BYTES = 160 << 20  # of the loop's frames, held as 12 bits a pixel; larger film is shrunk to fit
LEAST_WIDTH = 640
MOST_FRAMES = 320
AROUND = 3.2  # the cut is so many abdomen lengths wide


@dataclass(frozen=True, slots=True)
class Stretch:
    """Which frames a pull is shown by: positions in the clip's index.

    `loop` is half-open; `every` is 2 or more where more frames were filmed than fit: then each second, third ...
    frame is shown."""

    loop: tuple[int, int]
    every: int
    before: int
    onset: int
    full: int
    release: int | None


@dataclass(frozen=True, slots=True, eq=False)
class MomentPictures:
    """Attributes:
    frames: the loop's pictures in order (shrunk where they would take more than LOOP_BYTES).
    centres: where the loop looks on each of its frames, (k, 2) in pixels of the film: the place of her abdomen
        before the pull, carried along with the ground, so that a camera that moves does not move it and a pull does.
        None where she was not followed.
    span: how wide the cut is, pixels of the film.
    before, after: cuts round her abdomen, RGB, equal shapes.
    held, ground: what changed, RGB of the same shape, with her abdomen laid on itself and with the ground laid on
        itself. Grey: no change; orange: brighter now; blue: darker now. None where she was not followed.
    """

    stretch: Stretch
    frames: tuple[Picture, ...]
    centres: NDArray[np.float64] | None
    span: float
    before: Rgb
    after: Rgb
    held: Rgb | None
    ground: Rgb | None


def stretch_of(film: Clip, record: SessionRecord, flag: FlagRecord) -> Stretch:
    """The frames to show of a pull: a second before the onset to one and a half after it let go (or was full)."""
    index = film.index
    before, full = (index.at_or_before(m.tick) for m in three_moments(record, record.clip(flag.clip_id), flag)[:2])
    onset = index.at_or_before(flag.onset_pts)
    release = None if flag.release_pts is None else index.at_or_before(flag.release_pts)
    starts = index.exact_seconds(onset) - BEFORE_S
    last = index.exact_seconds(release if release is not None else full)
    ends = min(last + AFTER_S, starts + LONGEST_S)
    first, stop = index.frame_at(max(starts, Fraction(0))), min(index.frame_at(ends) + 1, len(index))
    every = max(1, math.ceil((stop - first) / MOST_FRAMES))
    return Stretch((first, max(stop, first + 1)), every, before, onset, full, release)


def load(film: Clip, stretch: Stretch, trace: Trace | None, progress: Progress) -> MomentPictures:
    """Decode and compare; for a background task. Frames that do not decode are left out of the loop.

    Raises:
        FrameLost: the frame before or at the full pull is damaged. Cancelled: through `progress`.
    """
    from clipmark.media.frames.reader import Reader

    first, stop = stretch.loop
    count = -(-(stop - first) // stretch.every)
    width = max(int(math.sqrt(LOOP_BYTES / count / 1.5 * film.width / film.height)), LEAST_WIDTH)
    frames = []
    with Reader(film, threads=1) as reader:
        for picture in reader.pictures(first, stop):
            progress.advance(picture.number - first, stop - first)
            if (picture.number - first) % stretch.every == 0:
                frames.append(picture.shrunk(width))
        before, after, held, ground = _compare(reader, stretch, trace)
    shown = np.array([picture.number for picture in frames], np.int64)
    centres, span = looked_at(trace, stretch.before, shown)
    return MomentPictures(stretch, tuple(frames), centres, span, before, after, held, ground)


def looked_at(
    trace: Trace | None, before: int, frames: NDArray[np.int64]
) -> tuple[NDArray[np.float64] | None, float]:
    """Where to look on each frame to keep the ground round her abdomen still, (k, 2), and how wide, film pixels."""
    here = pose(trace, before)
    if trace is None or here is None or not len(frames):
        return None, 0.0
    ground = _ground_after(trace, before, int(frames[0]), int(frames[-1]))
    seen = [ground[int(frame)](here.c) for frame in frames]
    return np.array([(at.real, at.imag) for at in seen]), max(AROUND * float(trace.length[before]), 120.0)


def _ground_after(trace: Trace, before: int, first: int, last: int) -> dict[int, Similarity]:
    """How the ground lies on each frame from `first` to `last` against the frame `before`."""
    found = {before: STILL}
    for frame in range(before + 1, last + 1):
        found[frame] = camera_between(trace, frame - 1, frame).after(found[frame - 1])
    for frame in range(before - 1, first - 1, -1):
        found[frame] = camera_between(trace, frame, frame + 1).inverse.after(found[frame + 1])
    return found


def moves(trace: Trace, stretch: Stretch) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Her abdomen against the ground on each frame of the loop: how far it lies from where it lay before this pull
    (abdomen lengths, never negative) and how far it is turned from then (degrees); NaN where it was not followed.

    The zero is what lay before this pull, whatever the outline was drawn on, so that no curve hangs upside down.
    """
    first, stop = stretch.loop
    far, turned = np.full(stop - first, np.nan), np.full(stop - first, np.nan)
    here = pose(trace, stretch.before)
    if here is None:
        return far, turned
    length = float(trace.length[stretch.before])
    ground = _ground_after(trace, min(max(stretch.before, first), stop - 1), first, stop - 1)
    for frame in range(first, stop):
        there = pose(trace, frame)
        if there is not None:
            moved = ground[frame].inverse.after(there)
            far[frame - first] = abs(moved.c - here.c) / length
            turned[frame - first] = (moved.angle_deg - here.angle_deg + 180.0) % 360.0 - 180.0
    return far, turned


def _compare(reader: Reader, stretch: Stretch, trace: Trace | None) -> tuple[Rgb, Rgb, Rgb | None, Rgb | None]:
    one, two = reader.frame(stretch.before).rgb(), reader.frame(stretch.full).rgb()
    here = pose(trace, stretch.before)
    there = pose(trace, stretch.full)
    if trace is None or here is None or there is None:
        return one, two, None, None
    cut = region(here.c, float(trace.length[stretch.before]), one.shape[1], one.shape[0])
    left, right = cut_out(one, cut), cut_out(two, cut)
    held = difference(left, cut_out(laid_on(two, there.after(here.inverse)), cut))
    ground = difference(left, cut_out(laid_on(two, camera_between(trace, stretch.before, stretch.full)), cut))
    return left, right, held, ground


def pose(trace: Trace | None, frame: int) -> Similarity | None:
    """Where the abdomen lies on a frame, as the map from its own axes to the picture; None: not followed."""
    if trace is None or not 0 <= frame < len(trace.x) or not np.isfinite(trace.x[frame]):
        return None
    turn = cmath.rect(float(trace.scale[frame]), math.radians(float(trace.angle[frame])))
    return Similarity(turn, complex(float(trace.x[frame]), float(trace.y[frame])))


def camera_between(trace: Trace, first: int, last: int) -> Similarity:
    """How the ground moved on the picture from one frame to a later one."""
    moved = STILL
    for frame in range(first + 1, last + 1):
        values = trace.camera_scale[frame], trace.camera_angle[frame], trace.camera_x[frame], trace.camera_y[frame]
        if np.isfinite(values).all():
            step = Similarity(cmath.rect(float(values[0]), math.radians(float(values[1]))), complex(*values[2:]))
            moved = step.after(moved)
    return moved


def region(middle: complex, length: float, width: int, height: int) -> tuple[int, int, int, int]:
    """x, y, w, h of the cut round the abdomen, 4:3, inside the picture as far as that is large enough."""
    wide = int(min(max(AROUND * length, 120.0), width))
    high = int(min(wide * 3 / 4, height))
    x = int(min(max(middle.real - wide / 2, 0), width - wide))
    y = int(min(max(middle.imag - high / 2, 0), height - high))
    return x, y, wide, high


def cut_out(picture: Rgb, cut: tuple[int, int, int, int]) -> Rgb:
    """The part x, y, w, h (pixels) of a picture (h, w, 3), as a copy."""
    x, y, w, h = cut
    return np.ascontiguousarray(picture[y : y + h, x : x + w])


def laid_on(picture: Rgb, moved: Similarity) -> Rgb:
    """A later picture carried back by a movement, so that what moved so lies where it lay before."""
    import cv2

    height, width = picture.shape[:2]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    warped = cv2.warpAffine(picture, moved.matrix(), (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(warped, dtype=np.uint8)


def difference(before: Rgb, after: Rgb) -> Rgb:
    """Change of brightness as a picture: grey where there is none, towards orange where it is brighter now, towards
    blue where it is darker; small changes of the film's own grain (below 6 of 255) are left grey."""
    import cv2

    change = cv2.GaussianBlur(
        after.astype(np.float32).mean(axis=2) - before.astype(np.float32).mean(axis=2), (0, 0), 1.0
    )
    strong = np.clip((np.abs(change) - 6.0) / 54.0, 0.0, 1.0)[..., None]
    base = np.full((*change.shape, 3), 118.0, np.float32)
    base += (before.astype(np.float32).mean(axis=2, keepdims=True) - 118.0) * 0.25
    ends = np.where(change[..., None] > 0, np.array([255, 190, 40], np.float32), np.array([0, 84, 170], np.float32))
    return np.asarray(np.clip(base + (ends - base) * strong, 0, 255), dtype=np.uint8)


def direction_words(degrees: float) -> str:
    """A direction on the screen (clockwise from right) in one of eight phrases."""
    names = (
        "to the right", "to the lower right", "downwards", "to the lower left", "to the left", "to the upper left",
        "upwards", "to the upper right",
    )  # fmt: skip
    return names[round(degrees / 45.0) % 8]
