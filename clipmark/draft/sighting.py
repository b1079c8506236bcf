"""The pictures round one pull, laid on each other by the camera's motion: what the signs are measured in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.camera import Camera, coarse
from clipmark.motion.result import Trace
from clipmark.motion.rhythm.values import Floats

BEFORE_S, AFTER_S = 1.5, 1.5  # looked at before the onset and after the full pull
LENGTH_PX = 56.0  # pixels that her abdomen is long in the pictures looked at, where the film has as many
_MOST, _LEAST = 720, 160  # pixels across
_LEAST_PICTURES = 5  # on either side


class SmallFilm(Protocol):
    """Frames of a film as small grey pictures, see clipmark.media.grey.GreyFilm."""

    @property
    def times(self) -> Floats:
        """Seconds of every frame, shape (n,)."""

    @property
    def width(self) -> int:
        """Of the picture as displayed, pixels."""

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """(number, picture (h, w)) of frames [start, stop)."""


@dataclass(frozen=True, slots=True)
class Oval:
    """Something seen at the onset: middle and half axes, displayed pixels; the angle of `a`, degrees clockwise."""

    x: float
    y: float
    a: float
    b: float
    angle_deg: float = 0.0

    def edge(self, points: int = 36) -> Floats:
        """Points on its edge, (points, 2)."""
        turn = np.linspace(0, 2 * np.pi, points, endpoint=False)
        along, across = self.a * np.cos(turn), self.b * np.sin(turn)
        c, s = np.cos(np.radians(self.angle_deg)), np.sin(np.radians(self.angle_deg))
        return np.stack([self.x + c * along - s * across, self.y + s * along + c * across], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """The pictures round a pull.

    Attributes:
        times: (n,) seconds. pictures: (n, h, w) grey levels, laid on the picture at the onset.
        onset, full, until: seconds of the pull's onset and of its full size, and until when it is looked at after.
        length: of her abdomen, pixels of these pictures.
        ratio: displayed pixels by pixels of these pictures.
        steady: 0..1, how well the background was followed at its worst.
    """

    times: Floats
    pictures: NDArray[np.float32]
    onset: float
    full: float
    until: float
    length: float
    ratio: float
    steady: float

    @property
    def before(self) -> NDArray[np.bool_]:
        """(n,) which pictures show the time before."""
        return (self.times >= self.onset - BEFORE_S) & (self.times <= self.onset - 0.04)

    @property
    def after(self) -> NDArray[np.bool_]:
        """(n,) which show the time after the full pull, until it lets go."""
        return (self.times >= self.full + 0.12) & (self.times <= self.until)

    @property
    def told(self) -> bool:
        """Whether enough pictures lie on either side."""
        return min(int(self.before.sum()), int(self.after.sum())) >= _LEAST_PICTURES


def width_for(length: float, width: int) -> int:
    """How wide the pictures are to be asked for, so that her abdomen of `length` displayed pixels is long enough."""
    return int(np.clip(round(width * LENGTH_PX / max(length, 1.0)), min(_LEAST, width), min(_MOST, width)))


def look(film: SmallFilm, trace: Trace, onset: int, full: int, release: int | None) -> Sight:
    """Read the pictures round a pull and lay them on the one at its onset.

    Args:
        onset, full, release: frames of the pull; `release` None where it was not seen.
    """
    import cv2

    times = film.times
    until = times[full] + AFTER_S if release is None else min(times[full] + AFTER_S, times[release] - 0.05)
    start = int(np.searchsorted(times, times[onset] - BEFORE_S))
    stop = min(int(np.searchsorted(times, until)) + 1, len(times))
    camera, numbers, views, greys, seen = Camera(), [], [], [], 1.0
    for number, grey in film.frames(start, stop):
        small = coarse(grey)
        views.append(camera.follow(small, grey.shape[1] / small.shape[1]))
        seen = min(seen, camera.seen)
        numbers.append(number)
        greys.append(grey)
    if not numbers:
        empty = np.empty((0, 1, 1), np.float32)
        return Sight(np.empty(0), empty, times[onset], times[full], until, 1.0, 1.0, 0.0)
    height, width = greys[0].shape
    at = min(int(np.searchsorted(numbers, onset)), len(numbers) - 1)
    laid = np.empty((len(numbers), height, width), np.float32)
    for k, (grey, scene) in enumerate(zip(greys, views, strict=True)):
        step = scene.after(views[at].inverse)  # from the picture at the onset to this one
        if abs(step.c) < 0.05 and abs(step.m - 1) * width < 0.1:
            laid[k] = grey
            continue
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        laid[k] = cv2.warpAffine(grey, step.matrix(), (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    ratio = film.width / width
    length = float(np.nanmedian(trace.length[start:stop])) / ratio if np.isfinite(trace.length[onset]) else 0.0
    return Sight(times[numbers], laid, float(times[onset]), float(times[full]), float(until), length, ratio, seen)
