"""A small grey picture with what is needed to lay another one on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from clipmark.motion.texture import Grey, Image

SIDE, WIDE = 480, 640  # pixels of the longer side
BLOCK = 8  # pixels of a block, each way
_TILE, _MARKS = 15, 28  # pixels of a tile of half the look, each way; pixels of it that tell of the camera
_STEEPEST = 1500  # pixels more, wherever they lie
_FINE = 15  # pixels: detail smaller than this is compared, slower shading is not


def look_size(width: int, height: int) -> tuple[int, int]:
    """Width and height at which pictures of this film are looked at: whole blocks, the longer side at most SIDE, or
    WIDE in film with so many pixels that small animals are filmed with it."""
    side = WIDE if max(width, height) >= 2 * WIDE else SIDE
    factor = min(1.0, side / max(width, height))
    return (
        max(round(width * factor) // BLOCK * BLOCK, 2 * BLOCK),
        max(round(height * factor) // BLOCK * BLOCK, 2 * BLOCK),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Pixels of half a look from which the camera's motion is read, each (n,) float32: place, gradient (grey levels a
    pixel), value."""

    x: Image
    y: Image
    gx: Image
    gy: Image
    values: Image


class Look:
    """One picture, uint8 (h, w), both whole blocks.

    Attributes:
        number: of its frame.
        grey: float32 (h, w).
    """

    def __init__(self, number: int, picture: Grey):
        self.number = number
        self.picture = picture
        self.grey: Image = picture.astype(np.float32)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height."""
        return self.grey.shape[1], self.grey.shape[0]

    @cached_property
    def small(self) -> Image:
        """Half as large, float32, without slow shading: what the camera's motion is read from."""
        width, height = self.size
        half = cv2.resize(self.grey, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
        half = cv2.GaussianBlur(half, (0, 0), 0.8)
        return half - cv2.blur(half, (21, 21), borderType=cv2.BORDER_REFLECT)

    @cached_property
    def contrast(self) -> float:
        """Spread of the fine detail of all of the picture, grey levels."""
        return float(np.std(self.small))

    @cached_property
    def marks(self) -> Marks:
        """The steepest pixels of each tile of `small`."""
        small = self.small
        gx, gy = cv2.Scharr(small, cv2.CV_32F, 1, 0, scale=1 / 32), cv2.Scharr(small, cv2.CV_32F, 0, 1, scale=1 / 32)
        height, width = small.shape
        side = min(_TILE, height, width)
        rows, columns = height // side, width // side
        steep = (gx * gx + gy * gy)[: rows * side, : columns * side]
        tiles = steep.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows * columns, -1)
        some = min(_MARKS, side * side)
        best = np.argpartition(tiles, -some, axis=1)[:, -some:]
        tile = np.arange(rows * columns)[:, None]
        y = (tile // columns * side + best // side).ravel()
        x = (tile % columns * side + best % side).ravel()
        # in film so dark that the ground shows noise alone, an animal that stands tells of the camera as well
        some = min(_STEEPEST, steep.size // 8)
        most = np.argpartition(steep, -some, axis=None)[-some:]
        y, x = np.r_[y, most // steep.shape[1]], np.r_[x, most % steep.shape[1]]
        return Marks(x.astype(np.float32), y.astype(np.float32), gx[y, x], gy[y, x], small[y, x])

    @cached_property
    def light(self) -> Image:
        """Mean brightness of each block."""
        return pooled(self.grey)

    @cached_property
    def steep(self) -> Image:
        """Mean squared gradient of each block, (grey levels a pixel)²; smoothed, so that noise counts little."""
        soft = cv2.GaussianBlur(self.grey, (0, 0), 0.8)
        gx, gy = cv2.Scharr(soft, cv2.CV_32F, 1, 0, scale=1 / 32), cv2.Scharr(soft, cv2.CV_32F, 0, 1, scale=1 / 32)
        return pooled(gx * gx + gy * gy)

    @cached_property
    def detail(self) -> Image:
        """Mean squared fine detail of each block: what two unlike pictures would differ by."""
        fine = without_slow(self.grey)
        return pooled(fine * fine)


def pooled(values: Image) -> Image:
    """Mean of each block of BLOCK × BLOCK pixels."""
    height, width = values.shape
    return cv2.resize(values, (width // BLOCK, height // BLOCK), interpolation=cv2.INTER_AREA)


def without_slow(values: Image) -> Image:
    """Fine detail only."""
    return values - cv2.blur(values, (_FINE, _FINE), borderType=cv2.BORDER_REFLECT)
