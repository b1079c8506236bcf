"""What changed in each block between two small pictures, the camera's motion and the light taken out."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.survey.camera import Move, camera_move, laid_on
from clipmark.motion.survey.look import BLOCK, Look, pooled, without_slow
from clipmark.motion.texture import Image

_STANDS = 0.1  # pixels: a camera that moved by less is taken to stand


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """From look `a` to look `b`; maps are float32, one value a block.

    Attributes:
        first, last: numbers of the two frames.
        energy: mean squared difference of fine detail, grey levels².
        steep: mean squared gradient, (grey levels a pixel)²: energy / steep is a shift in pixels, squared.
        detail: energy that two pictures with nothing in common would show.
        light: log of how much brighter the whole became.
        sharper: log of how much more fine detail the second has, over the whole picture.
        move: of the camera.
    """

    first: int
    last: int
    energy: Image
    steep: Image
    detail: Image
    light: float
    sharper: float
    move: Move


def change(a: Look, b: Look) -> Change:
    """Compare two looks at one film."""
    move = camera_move(a, b)
    before, after = a.grey, b.grey
    inside: Image | None = None
    if move.far > _STANDS:
        after = laid_on(b, move)
        inside = _inside(b, move)
    lit, light = _light(a.light, pooled(after))
    difference = without_slow(after - before * cv2.resize(lit, a.size, interpolation=cv2.INTER_LINEAR))
    energy = pooled(difference * difference)
    if inside is not None:
        energy = energy * inside
    detail = a.detail + b.detail
    sharper = float(np.log((np.median(b.steep) + 0.05) / (np.median(a.steep) + 0.05)))
    return Change(a.number, b.number, energy, np.maximum(a.steep, b.steep), detail, light, sharper, move)


def _light(a: Image, b: Image) -> tuple[Image, float]:
    """By what to multiply each block to bring it to the light of the other picture, and the log of it for the whole.
    Bands of a lamp run along rows (or columns, in film turned on its side): each has its own factor."""
    ratio = np.log((b + 8.0) / (a + 8.0))
    whole = float(np.median(ratio))
    left = ratio - whole
    rows = cv2.blur(np.median(left, axis=1, keepdims=True), (1, 3), borderType=cv2.BORDER_REPLICATE)
    left = left - rows
    columns = cv2.blur(np.median(left, axis=0, keepdims=True), (3, 1), borderType=cv2.BORDER_REPLICATE)
    return np.exp(whole + rows + columns).astype(np.float32), whole


def _inside(b: Look, move: Move) -> Image:
    """1 for blocks that both pictures show, 0 where the camera's motion left nothing to compare."""
    width, height = b.size
    white = Look(b.number, np.full((height, width), 255, np.uint8))
    shown = cv2.copyMakeBorder(white.grey[2:-2, 2:-2], 2, 2, 2, 2, cv2.BORDER_CONSTANT, value=0)
    white.grey = shown
    inside: Image = (pooled(laid_on(white, move)) > 254).astype(np.uint8)
    # what lies at the rim is compared with pixels from beyond it, as detail is taken against what lies round it
    ring = cv2.copyMakeBorder(inside, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    shrunk: Image = cv2.erode(ring, np.ones((5, 5), np.uint8))[1:-1, 1:-1].astype(np.float32)
    return shrunk


def blocks_of(width: int, height: int) -> tuple[int, int]:
    """Columns and rows of blocks."""
    return width // BLOCK, height // BLOCK
