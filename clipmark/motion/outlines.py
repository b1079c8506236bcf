"""Shapes of an outline: how long the abdomen in a box is, and which of its pixels count."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.similarity import STILL, Similarity
from clipmark.motion.texture import Image


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """What of an outline's box is the abdomen: the oval in it, or a mask where her region is known.

    Attributes:
        w, h: width and height of the upright box, pixels of the analysed picture.
        length: of the abdomen along its axis, same pixels.
        mask: float32, 0..1, None for the oval.
        cells: mask cell -> pixels from the box's middle.
    """

    w: float
    h: float
    length: float
    mask: Image | None = None
    cells: Similarity = STILL

    def support(self, size: tuple[int, int], factor: float, grow: float = 1.04) -> Image:
        """How much each pixel counts on a patch of `size` (w, h) round the box's middle; a pixel is `factor` pixels
        of the analysed picture wide."""
        if self.mask is None:
            return oval(size, (self.w / factor, self.h / factor), grow)
        patch = Similarity(
            complex(factor), -complex(size[0] - 1, size[1] - 1) / 2 * factor
        )  # patch -> from the middle
        shrunk = Similarity(complex(1 / grow)) if grow != 1.04 else Similarity()
        way = self.cells.inverse.after(shrunk).after(patch)
        return cv2.warpAffine(
            self.mask, way.matrix(), size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderValue=0.0
        )

    def among(self, way: Similarity, corner: complex, size: tuple[int, ...]) -> NDArray[np.bool_]:
        """Which cells of a grid it covers; `way`: cell -> pixel, `corner`: of its box, `size`: (rows, columns)."""
        rows, columns = np.mgrid[0 : size[0], 0 : size[1]]
        z = (columns + 1j * rows) * way.m + way.c - corner - complex(self.w - 1, self.h - 1) / 2
        if self.mask is None:
            inside: NDArray[np.bool_] = (z.real / (self.w / 2)) ** 2 + (z.imag / (self.h / 2)) ** 2 < 1
            return inside
        back = self.cells.inverse
        u = z * back.m + back.c
        seen = cv2.remap(
            self.mask, u.real.astype(np.float32), u.imag.astype(np.float32), cv2.INTER_LINEAR, borderValue=0.0
        )
        return np.asarray(seen > 0.5)


def boxed(w: float, h: float) -> Shape:
    """The shape of a box that is taken as it was drawn."""
    return Shape(w, h, abdomen_length(w, h))


def abdomen_length(w: float, h: float) -> float:
    """Length of an oval abdomen from the upright box round it, turned or not.

    A compromise between lying along the box and across it, since the box is never exact (a proposal; no source).
    """
    slim = min(0.9, min(w, h) / max(w, h))
    return float(np.sqrt((w * w + h * h) / (1 + slim * slim)))


def oval(size: tuple[int, int], inner: tuple[float, float], grow: float = 1.04) -> Image:
    """Soft support: the oval inscribed in a box of `inner` (w, h), on a patch of `size` (w, h)."""
    width, height = size
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    x = (x - (width - 1) / 2) / (0.5 * inner[0] * grow)
    y = (y - (height - 1) / 2) / (0.5 * inner[1] * grow)
    return (1.0 / (1.0 + np.power(x * x + y * y, 4))).astype(np.float32)
