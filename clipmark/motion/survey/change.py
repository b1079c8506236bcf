"""What changed in each block between two small pictures, the camera's motion and the light taken out."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.survey.camera import Move, camera_move, laid_on, shown_at
from clipmark.motion.survey.look import BLOCK, Look, pooled, without_slow
from clipmark.motion.texture import Image

_STANDS = 0.1  # pixels: a camera that moved by less is taken to stand
_EVEN = 0.01  # light that differs by less over the picture is taken to be even
_RIM = 2.5  # blocks


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """From look `a` to look `b`; maps are float32, one value a block.

    Attributes:
        first, last: numbers of the two frames.
        energy: mean squared difference of fine detail, grey levels².
        steep: mean squared gradient of the first, (grey levels a pixel)²: energy / steep is a squared shift.
        detail: energy that two pictures like the first, with nothing in common, would show.
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
    stands = move.far <= _STANDS
    after = b.grey if stands else laid_on(b, move)
    lit, light = _light(a.light, b.light if stands else pooled(after))
    if float(np.ptp(lit)) > _EVEN:
        before = a.grey * cv2.resize(lit, a.size, interpolation=cv2.INTER_LINEAR)
    else:
        before = a.grey * np.float32(lit.mean())
    difference = without_slow(after - before)
    energy = pooled(difference * difference)
    if not stands:
        energy = energy * _inside(b, move)
    sharper = 2 * float(np.log((b.contrast + 0.2) / (a.contrast + 0.2)))
    return Change(a.number, b.number, energy, a.steep, 2 * a.detail, light, sharper, move)


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
    columns, rows = blocks_of(width, height)
    x, y = (np.arange(columns) + 0.5) * BLOCK, (np.arange(rows) + 0.5) * BLOCK
    at_x, at_y = shown_at(b.size, move, x.astype(np.float32), y.astype(np.float32))
    # what lies at the rim is compared with pixels from beyond it, as detail is taken against what lies round it
    rim = _RIM * BLOCK
    inside = (at_x > rim) & (at_x < width - rim) & (at_y > rim) & (at_y < height - rim)
    return inside.astype(np.float32)


def blocks_of(width: int, height: int) -> tuple[int, int]:
    """Columns and rows of blocks."""
    return width // BLOCK, height // BLOCK
