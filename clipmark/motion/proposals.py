"""Where the abdomen probably is in a new shot, from how it looked in an earlier one. A proposal: the keeper confirms.

The earlier outline's picture is tried at several sizes and turns over the whole new picture, small first; the best
places are then aligned densely, and the likeness after that is the confidence.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.outlines import oval
from clipmark.motion.result import Box
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey, Texture, without_shade

_SIDE = 26  # pixels of the template's longer side
_RING = 1.3  # how far round the outline is looked, against the outline: an abdomen ends somewhere
_SIZES = (0.7, 0.85, 1.0, 1.2, 1.4)
_TURNS = range(0, 360, 20)
_BEST = 10  # places that are aligned
_SURE, _LIKELY, _ALONE = 0.75, 0.6, 0.1
_AGREED = 0.55  # likeness from which two looks that lead to one place are sure together
_NEARLY = 0.05


@dataclass(frozen=True, slots=True)
class Proposal:
    """An outline to confirm.

    Attributes:
        confidence: 0..1, how alike both pictures are there.
        ahead: by how much the next best place elsewhere is less alike.
    """

    box: Box
    confidence: float
    ahead: float = 0.0

    @property
    def found(self) -> bool:
        """Whether she is there: very alike, or alike and nothing else is. (Limits of made cuts: docs/motion.md.)"""
        return self.confidence >= _SURE or (self.confidence >= _LIKELY and self.ahead >= _ALONE)


def propose(earlier: Grey, box: Box, picture: Grey, frame: int, ratio: float = 1.0) -> Proposal | None:
    """Look for the abdomen outlined by `box` in `earlier` in the new shot's `picture`.

    Args:
        earlier, picture: grey pictures of the same scale.
        frame: number of the new picture's frame.
        ratio: displayed pixels by pixels of the pictures.
    Returns:
        the likest place, to be shown where it is `found`; None where the new picture is too small to hold it.
    """
    x, y, w, h = (value / ratio for value in (box.x, box.y, box.w, box.h))
    shrink = min(1.0, _SIDE / max(w, h))
    old, new = _small(earlier, shrink), _small(picture, shrink)
    size = (max(6, round(w * shrink * _RING)), max(6, round(h * shrink * _RING)))
    middle = Similarity(1 + 0j, complex((x + w / 2) * shrink - 0.5, (y + h / 2) * shrink - 0.5))
    support = oval(size, (float(size[0]), float(size[1])), 0.95)
    texture = Texture(Texture(np.zeros(size[::-1], np.float32), support).cut(old, middle), support)
    places: list[tuple[float, Similarity]] = []
    for found in _tried(texture, new):
        fit = texture.find(new, found, 6.0, 8)
        if 0.5 < fit.place.scale < 2.0:
            places.append((fit.likeness * fit.seen, fit.place))
    if not places:
        return None
    worth, place = max(places, key=lambda item: item[0])
    elsewhere = [other for other, at in places if abs(at.c - place.c) > 0.4 * _SIDE]
    turn, grow = cmath.phase(place.m), abs(place.m)
    wide = grow * math.hypot(w * math.cos(turn), h * math.sin(turn))
    high = grow * math.hypot(w * math.sin(turn), h * math.cos(turn))
    centre = (place.c + complex(0.5, 0.5)) / shrink
    left, top = (centre.real - wide / 2) * ratio, (centre.imag - high / 2) * ratio
    proposed = Box(frame, left, top, wide * ratio, high * ratio, box.part)
    return Proposal(proposed, float(np.clip(worth, 0, 1)), worth - max(elsewhere, default=0.0))


def surest(proposals: Sequence[Proposal]) -> Proposal | None:
    """Of places proposed from several looks at her the likest one that is sure: by itself, or because another look
    leads to the same place; the first look before others that are nearly as sure. None where none is sure."""
    sure = [
        one
        for one in proposals
        if one.found
        or (one.confidence >= _AGREED and any(_agree(one, other) for other in proposals if other is not one))
    ]
    if not sure:
        return None
    least = max(one.confidence for one in sure) - _NEARLY
    return next(one for one in sure if one.confidence >= least)


def _agree(one: Proposal, other: Proposal) -> bool:
    """Whether two proposals lie on one another: middles within a third of the larger one's longer side."""
    a, b = one.box, other.box
    away = math.hypot(a.x + a.w / 2 - b.x - b.w / 2, a.y + a.h / 2 - b.y - b.h / 2)
    return other.confidence >= _AGREED and away < max(a.w, a.h, b.w, b.h) / 3


def _small(picture: Grey, shrink: float) -> Grey:
    size = (max(8, round(picture.shape[1] * shrink)), max(8, round(picture.shape[0] * shrink)))
    return without_shade(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), 0.7, _SIDE | 1)


def _tried(texture: Texture, new: Grey) -> list[Similarity]:
    """The best places by correlation inside the outline and its ring, over sizes and turns."""
    found = []
    height, width = texture.image.shape
    beyond = _SIDE // 2  # she may lie half outside
    wide = cv2.copyMakeBorder(new, beyond, beyond, beyond, beyond, cv2.BORDER_REFLECT)
    for size in _SIZES:
        reach = math.ceil(0.36 * size * math.hypot(width, height))
        side = 2 * reach + 1
        if min(wide.shape) <= side:
            continue
        for degrees in _TURNS:
            m = cmath.rect(size, math.radians(degrees))
            view = Similarity(1 / m, texture.middle).matrix(complex(reach, reach))
            patch, mask = (
                cv2.warpAffine(image, view, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
                for image in (texture.image, texture.support)
            )
            score = cv2.matchTemplate(wide, patch, cv2.TM_CCOEFF_NORMED, mask=mask)
            score[~np.isfinite(score)] = -1.0  # nothing but one grey level there
            _, top, _, (x, y) = cv2.minMaxLoc(score)
            found.append((top, Similarity(m, complex(x + reach - beyond, y + reach - beyond))))
    found.sort(key=lambda item: -item[0])
    return [place for _, place in found[:_BEST]]
