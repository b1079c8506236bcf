"""A small grey picture with what is needed to lay another one on it."""

from __future__ import annotations

from functools import cached_property

import cv2
import numpy as np

from clipmark.motion.texture import Grey, Image

SIDE, WIDE = 480, 640  # pixels of the longer side
BLOCK = 8  # pixels of a block, each way
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
    def slopes(self) -> tuple[Image, Image]:
        """Gradient of `small`, grey levels a pixel of it."""
        return (
            cv2.Scharr(self.small, cv2.CV_32F, 1, 0, scale=1 / 32),
            cv2.Scharr(self.small, cv2.CV_32F, 0, 1, scale=1 / 32),
        )

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
