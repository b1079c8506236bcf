"""How the camera moved from one small picture to another, from all that is no animal.

Robust Gauss-Newton on shift, turn, size, shear and keystone (eight numbers, the first terms of a plane seen by a
moving camera), over the steepest pixels of each part of the picture; begun from phase correlation where the pictures
lie far apart. Common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from clipmark.motion.survey.look import Look
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Image

_ROUNDS = 6
_WIDE = 3.0  # so much farther off a pixel may lie in the first rounds
_ENOUGH = 0.02  # pixels of the small picture: a smaller step ends the search


@dataclass(frozen=True, slots=True, eq=False)
class Move:
    """
    Attributes:
        numbers: the eight, in half pixels of the look.
        far: the largest shift of any corner or the middle, in pixels of the look; 0 for a camera that stands.
        likeness: correlation of the two pictures once laid on each other, robustly weighted, -1..1.
    """

    numbers: Floats
    far: float
    likeness: float


def camera_move(a: Look, b: Look) -> Move:
    """The move that brings `b` onto `a`."""
    second, marks = b.small, a.marks
    height, width = second.shape
    x, y = marks.x, marks.y
    basis = _terms(x * (2 / (width - 1)) - 1, y * (2 / (height - 1)) - 1)
    rows = marks.gx * basis[0] + marks.gy * basis[1]  # (8, n)
    numbers = np.zeros(8)
    seen = second[y.astype(np.intp), x.astype(np.intp)]
    if _correlation(marks.values, seen, None) < 0.75:
        (dx, dy), sure = cv2.phaseCorrelate(a.small, second, _window(width, height))
        if sure > 0.05:
            numbers[0], numbers[3] = dx, dy
    weight = np.ones_like(seen)
    for turn in range(_ROUNDS):
        if numbers.any():
            shift = numbers.astype(np.float32) @ basis
            seen = _at(second, x + shift[0], y + shift[1])
        residual = seen - marks.values
        spread = (_WIDE if turn < 2 else 1.0) * 1.4826 * float(np.median(np.abs(residual))) + 0.3
        weight = 1.0 / (1.0 + (residual * np.float32(1 / (2.0 * spread))) ** 2)
        weight *= weight
        chosen = [0, 3] if turn == 0 else list(range(8))  # the shift first: it is surest
        part = rows[chosen]
        loaded = part * weight
        normal = (loaded @ part.T).astype(np.float64)
        normal[np.diag_indices(len(chosen))] *= 1.001
        normal[np.diag_indices(len(chosen))] += 1e-3
        step = np.clip(-np.linalg.solve(normal, (loaded @ residual).astype(np.float64)), -4, 4)
        numbers[chosen] += step
        if float(np.abs(step).max()) < _ENOUGH and (turn > 0 or _reach(numbers) < 0.03):
            break
    return Move(numbers, 2 * _reach(numbers), _correlation(marks.values, seen, weight))


def laid_on(b: Look, move: Move) -> Image:
    """The grey picture of `b` as it lies on the other, after the move; float32 (h, w)."""
    width, height = b.size
    map_x, map_y = shown_at(b.size, move, np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    return cv2.remap(b.grey, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def shown_at(size: tuple[int, int], move: Move, x: Image, y: Image) -> tuple[Image, Image]:
    """Where the places of a grid, columns `x` and rows `y` in pixels of the look, lie in the second picture; two
    (rows, columns)."""
    n = 2 * move.numbers.astype(np.float32)
    across, down = x * (2 / (size[0] - 1)) - 1, y * (2 / (size[1] - 1)) - 1
    map_x = np.outer(down, n[2] + n[7] * across)
    map_x += x + n[0] + n[1] * across + n[6] * across**2
    map_y = np.outer(n[4] + n[6] * down, across)
    map_y += (y + n[3] + n[5] * down + n[7] * down**2)[:, None]
    return map_x, map_y


def _terms(x: Image, y: Image) -> Image:
    """(2, 8, n): how each of the eight numbers shifts a place across and down; x and y run from -1 to 1."""
    one, none = np.ones_like(x), np.zeros_like(x)
    across = np.stack([one, x, y, none, none, none, x * x, x * y])
    down = np.stack([none, none, none, one, x, y, x * y, y * y])
    return np.stack([across, down])


def _at(picture: Image, x: Image, y: Image) -> Image:
    """Values between pixels, (n,)."""
    found: Image = cv2.remap(picture, x[None], y[None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return found[0]


@lru_cache(maxsize=8)
def _window(width: int, height: int) -> Image:
    window: Image = cv2.createHanningWindow((width, height), cv2.CV_32F)
    return window


def _reach(numbers: Floats) -> float:
    """The largest shift among the corners and the middle."""
    most = 0.0
    for x, y in ((0, 0), (-1, -1), (1, -1), (-1, 1), (1, 1)):
        across = numbers[0] + numbers[1] * x + numbers[2] * y + numbers[6] * x * x + numbers[7] * x * y
        down = numbers[3] + numbers[4] * x + numbers[5] * y + numbers[6] * x * y + numbers[7] * y * y
        most = max(most, float(np.hypot(across, down)))
    return most


def _correlation(a: Image, b: Image, weight: Image | None) -> float:
    wa, wb = (a, b) if weight is None else (a * weight, b * weight)
    return float(wa @ b) / (float(np.sqrt(float(wa @ a) * float(wb @ b))) + 1e-3 * len(a))
