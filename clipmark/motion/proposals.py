"""Where the abdomen probably is in a new shot, from how it looked in an earlier one. A proposal: the keeper confirms.

The earlier outline's picture is tried at several sizes and turns over the whole new picture, small first; the best
places are then aligned densely, and the likeness after that is the confidence.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.align import Grey, Texture, without_shade
from clipmark.motion.pose import oval
from clipmark.motion.result import Box
from clipmark.motion.similarity import Similarity

_SIDE = 26  # pixels of the template's longer side
_SIZES = (0.7, 0.85, 1.0, 1.2, 1.4)
_TURNS = range(0, 360, 20)


@dataclass(frozen=True, slots=True)
class Proposal:
    """An outline to confirm; `confidence` 0..1 is how alike both pictures are there."""

    box: Box
    confidence: float


def propose(earlier: Grey, box: Box, picture: Grey, frame: int, ratio: float = 1.0) -> Proposal | None:
    """Look for the abdomen outlined by `box` in `earlier` in the new shot's `picture`.

    Args:
        earlier, picture: grey pictures of the same scale.
        frame: number of the new picture's frame.
        ratio: displayed pixels by pixels of the pictures.
    Returns:
        None where the new picture is too small to hold it.
    """
    x, y, w, h = (value / ratio for value in (box.x, box.y, box.w, box.h))
    shrink = min(1.0, _SIDE / max(w, h))
    old, new = _small(earlier, shrink), _small(picture, shrink)
    size = (max(6, round(w * shrink)), max(6, round(h * shrink)))
    middle = Similarity(1 + 0j, complex((x + w / 2) * shrink - 0.5, (y + h / 2) * shrink - 0.5))
    support = oval(size, (float(size[0]), float(size[1])), 0.95)
    texture = Texture(Texture(np.zeros(size[::-1], np.float32), support).cut(old, middle), support)
    best: tuple[float, Similarity] | None = None
    for found in _tried(texture, new):
        fit = texture.find(new, found, 6.0, 8)
        worth = fit.likeness * fit.seen
        if (best is None or worth > best[0]) and 0.5 < fit.place.scale < 2.0:
            best = (worth, fit.place)
    if best is None:
        return None
    worth, place = best
    turn, grow = cmath.phase(place.m), abs(place.m)
    wide = grow * (abs(w * math.cos(turn)) ** 2 + abs(h * math.sin(turn)) ** 2) ** 0.5
    high = grow * (abs(w * math.sin(turn)) ** 2 + abs(h * math.cos(turn)) ** 2) ** 0.5
    centre = (place.c + complex(0.5, 0.5)) / shrink
    left, top = (centre.real - wide / 2) * ratio, (centre.imag - high / 2) * ratio
    return Proposal(Box(frame, left, top, wide * ratio, high * ratio, box.part), float(np.clip(worth, 0, 1)))


def _small(picture: Grey, shrink: float) -> Grey:
    size = (max(8, round(picture.shape[1] * shrink)), max(8, round(picture.shape[0] * shrink)))
    return without_shade(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), 0.7, _SIDE | 1)


def _tried(texture: Texture, new: Grey) -> list[Similarity]:
    """The eight best places by plain correlation over sizes and turns."""
    found = []
    for size in _SIZES:
        for degrees in _TURNS:
            m = cmath.rect(size, math.radians(degrees))
            reach = int(0.36 * size * min(texture.image.shape))
            side = 2 * reach + 1
            view = Similarity(1 / m, texture.middle).matrix(complex(reach, reach))
            patch = cv2.warpAffine(texture.image, view, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
            if min(new.shape) <= side or side < 5:
                continue
            score = cv2.matchTemplate(new, patch, cv2.TM_CCOEFF_NORMED)
            _, top, _, (x, y) = cv2.minMaxLoc(score)
            found.append((top, Similarity(m, complex(x + reach, y + reach))))
    found.sort(key=lambda item: -item[0])
    return [place for _, place in found[:8]]
