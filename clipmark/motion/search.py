"""Looking for a texture round the place where it should be, from coarse to fine."""

from __future__ import annotations

import cmath
import math

import cv2
import numpy as np

from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Image, Texture

_TURNS = (0.0, -8.0, 8.0, -16.0, 16.0, -24.0, 24.0, -32.0, 32.0)  # degrees tried


def pyramid(fine: Texture) -> list[Texture]:
    """The texture at half size, and smaller while it is large enough to be told apart."""
    levels: list[Texture] = []
    while not levels or (min(fine.image.shape) >= 36 and len(levels) < 3):
        shape = (fine.image.shape[0] // 2, fine.image.shape[1] // 2)
        small = Texture(np.zeros(shape, np.float32), np.ones(shape, np.float32))
        # averaging by twos shifts by half a pixel; sampling round the middle takes it back
        image = small.cut(cv2.blur(fine.image, (2, 2)), Similarity(2 + 0j, fine.middle + complex(0.5, 0.5)))
        support = small.cut(fine.support, Similarity(2 + 0j, fine.middle))
        fine = Texture(image, support)
        levels.append(fine)
    return levels


def look_around(
    levels: list[Texture], fine: Image, start: Similarity, noise: float, gain: float, bias: float
) -> list[Similarity]:
    """The best places of the texture's middle part near `start`, turned a little or not, at the coarsest size."""
    view, here = fine, start
    for _ in levels:
        view = cv2.resize(view, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        here = coarser(here)
    texture = levels[-1]
    found = []
    for top, guess in _matched(view, here, texture.image)[:2]:
        place = texture.find(view, guess, 2 * noise, 4, gain, bias).place
        for _ in levels:
            place = finer(place)
        found.append(place)
        if top < 0.3:
            break
    return found


def _matched(view: Image, here: Similarity, whole: Image) -> list[tuple[float, Similarity]]:
    """Correlation of the texture's middle part with the surroundings of `here`, best first."""
    edge_y, edge_x = int(0.14 * whole.shape[0]), int(0.14 * whole.shape[1])
    patch = whole[edge_y : whole.shape[0] - edge_y, edge_x : whole.shape[1] - edge_x]
    reach = int(0.45 * max(whole.shape)) + 2
    middle = complex((patch.shape[1] - 1) / 2, (patch.shape[0] - 1) / 2)
    size = (patch.shape[1] + 2 * reach, patch.shape[0] + 2 * reach)
    corner = middle + complex(reach, reach)
    found = []
    for degrees in _TURNS:
        turned = here.after(Similarity(cmath.rect(1.0, math.radians(degrees))))
        cut = cv2.warpAffine(
            view, turned.matrix(corner), size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        score = cv2.matchTemplate(cut, patch, cv2.TM_CCOEFF_NORMED)
        _, top, _, (x, y) = cv2.minMaxLoc(score)
        found.append((top, Similarity(turned.m, turned(complex(x - reach, y - reach)), turned.n)))
    return sorted(found, key=lambda item: -item[0])


def coarser(place: Similarity) -> Similarity:
    """The same place in a picture of half the size (and texture of half the size)."""
    return Similarity(0.5 + 0j, complex(-0.25, -0.25)).after(place).after(Similarity(2 + 0j))


def finer(place: Similarity) -> Similarity:
    """The same place in a picture of twice the width."""
    return Similarity(2 + 0j, complex(0.5, 0.5)).after(place).after(Similarity(0.5 + 0j))
