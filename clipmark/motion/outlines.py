"""Shapes of an outline: how long the abdomen in a box is, and which of its pixels count."""

from __future__ import annotations

import numpy as np

from clipmark.motion.texture import Image


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
