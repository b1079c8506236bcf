"""Watched means that a pull would have been found: pulls of known size are planted into the pass's own pictures.

Every few seconds a copy of the follower is given some of the coming pictures in which the inner part of her abdomen,
and nothing else, is moved. Whether it sees that is noted; nothing of it is shown or kept. What lies in the outline's
corners stays where it is, so that following litter instead of her does not count as seeing.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from clipmark.motion.outlines import Shape
from clipmark.motion.pose import Follower
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey, Image

SIZES = (0.15, 0.06, 0.15, 0.10, 0.15, 0.04)  # abdomen lengths, in turn
LARGE = 0.15
_RISE = (0.35, 0.8, 1.0, 1.0)  # of the size, picture by picture
_EVERY_S = 2.0
_INNER = 0.8  # so much of her abdomen's length and width is moved
_MOSTLY = 0.7  # of the large ones
_NEAR = 0.45  # a planted pull is seen where what was measured is off by less than this share


@dataclass(frozen=True, slots=True)
class Planted:
    """One planted pull: when, how large, in abdomen lengths, and whether it was seen."""

    time: float
    size: float
    seen: bool


class Planter:
    """Plants pulls beside one follower."""

    def __init__(self, shape: Shape):
        self._shape = shape
        side = int(math.hypot(shape.w, shape.h) * 0.5) + 3
        # a patch of the analysed picture round her, unturned; its middle is her middle
        self._side = side
        self._mask = _resized(shape, 2 * side + 1)
        self.done: list[Planted] = []
        self._copy: Follower | None = None
        self._step, self._last, self._turn = 0, -1e9, 0
        self._read: list[float] = []

    def take(self, time: float, picture: Grey, follower: Follower, step: Similarity, dt: float, lost: bool) -> None:
        """The picture that `follower` has just followed; `step` and `dt` are what it was told."""
        if lost:
            self._copy = None
            return
        if self._copy is None:
            if abs(time - self._last) >= _EVERY_S:
                self._copy, self._last, self._step = _copied(follower), time, 0
                self._read = []
            return
        size, way = SIZES[self._turn % len(SIZES)], self._turn * 2.4
        aside = size * self._shape.length * complex(math.cos(way), math.sin(way))
        planted = self._planted(picture, follower.place, aside * _RISE[self._step])
        if planted is None:
            self._copy = None
            return
        result = self._copy.follow(planted, step, dt)
        off = (result.place.c - follower.place.c) * (aside.conjugate() / abs(aside) ** 2)
        self._read.append(math.nan if result.lost else abs(off - _RISE[self._step]))
        self._step += 1
        if self._step == len(_RISE):
            seen = all(math.isfinite(r) and r < _NEAR for r in self._read[-2:])
            self.done.append(Planted(time, size, seen))
            self._copy, self._turn = None, self._turn + 1

    def _planted(self, picture: Grey, place: Similarity, aside: complex) -> Grey | None:
        side = self._side + int(abs(aside)) + 2
        left, top = round(place.c.real) - side, round(place.c.imag) - side
        right, bottom = left + 2 * side + 1, top + 2 * side + 1
        if left < 0 or top < 0 or right > picture.shape[1] or bottom > picture.shape[0]:
            return None
        here = picture[top:bottom, left:right].astype(np.float32)
        middle = complex(side, side)
        turn = Similarity(place.m, middle - place.m * complex(self._side, self._side))
        mask = _warped(self._mask, turn, here.shape)
        moved_mask = _warped(self._mask, Similarity(turn.m, turn.c + aside), here.shape)
        moved = _warped(here, Similarity(1 + 0j, aside), here.shape, cv2.BORDER_REPLICATE)
        beyond = aside + 3 * aside / max(abs(aside), 1e-6)
        fill = _warped(here, Similarity(1 + 0j, beyond), here.shape, cv2.BORDER_REPLICATE)
        ground = here * (1 - mask) + fill * mask
        seen = moved * moved_mask + ground * (1 - moved_mask)
        planted = picture.copy()
        planted[top:bottom, left:right] = np.clip(seen + 0.5, 0, 255).astype(np.uint8)
        return planted


def smallest_found(planted: list[Planted]) -> float | None:
    """The smallest size from which on nine of ten planted pulls are seen, abdomen lengths; None where not even the
    largest are, or none were planted."""
    found = None
    for size in sorted({one.size for one in planted}, reverse=True):
        own = [one.seen for one in planted if one.size == size]
        if sum(own) < 0.9 * len(own):
            break
        found = size
    return found


def too_faint(planted: list[Planted]) -> list[tuple[float, float]]:
    """Stretches of time in which pulls of LARGE would be missed, seconds: where two in a row of them were, and round
    each that was where a good part of them all were: seen now and then by luck is not seen."""
    large = sorted((one for one in planted if one.size == LARGE), key=lambda one: one.time)
    spans = []
    often = len(large) >= 3 and sum(one.seen for one in large) < _MOSTLY * len(large)
    for one in large if often else ():
        if not one.seen:
            spans.append((one.time - 2 * _EVERY_S, one.time + 2 * _EVERY_S))
    for one, other in pairwise(large):
        if not one.seen and not other.seen:
            spans.append((one.time - 2 * _EVERY_S, other.time + 2 * _EVERY_S))
    if len(large) == 1 and not large[0].seen:
        spans.append((large[0].time - 2 * _EVERY_S, large[0].time + 2 * _EVERY_S))
    return spans


def _copied(follower: Follower) -> Follower:
    """A follower of its own at the same place, that learns nothing into the first one's texture."""
    other = copy.copy(follower)
    texture = copy.copy(follower.texture)
    texture.image = follower.texture.image.copy()
    texture.count_only(follower.texture.support.copy())
    texture.descend()
    other.texture = texture
    other._coarse, other._residual = [], follower._residual.copy()
    return other


def _resized(shape: Shape, side: int) -> Image:
    inner = Shape(shape.w * _INNER, shape.h * _INNER, shape.length * _INNER, shape.mask,
                  Similarity(shape.cells.m * _INNER, shape.cells.c * _INNER))  # fmt: skip
    return cv2.GaussianBlur(inner.support((side, side), 1.0), (0, 0), 1.0)


def _warped(image: Image, way: Similarity, shape: tuple[int, ...], border: int = cv2.BORDER_CONSTANT) -> Image:
    return cv2.warpAffine(image, way.matrix(), (shape[1], shape[0]), flags=cv2.INTER_LINEAR, borderMode=border)
