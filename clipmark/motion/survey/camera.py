"""How the camera moved from one small picture to another, from all that is no animal.

Robust Gauss-Newton on shift, turn, size, shear and keystone (eight numbers, the first terms of a plane seen by a
moving camera), begun from phase correlation where the pictures lie far apart. Common practice.
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
    first, second = a.small, b.small
    gx, gy = a.slopes
    height, width = first.shape
    basis = _basis(width, height)
    rows = gx.ravel() * basis[0] + gy.ravel() * basis[1]  # (8, n)
    numbers = np.zeros(8)
    if _unlike(first, second):
        window = cv2.createHanningWindow((width, height), cv2.CV_32F)
        (dx, dy), sure = cv2.phaseCorrelate(first, second, window)
        if sure > 0.05:
            numbers[0], numbers[3] = dx, dy
    flat = first.ravel()
    seen = flat
    weight = np.ones_like(flat)
    for turn in range(_ROUNDS):
        seen = _warped(second, numbers, basis, turn == 0 and not numbers.any()).ravel()
        residual = seen - flat
        spread = 1.4826 * float(np.median(np.abs(residual[::7]))) + 0.3
        weight = 1.0 / (1.0 + (residual * np.float32(1 / (2.0 * spread))) ** 2)
        weight *= weight
        count = 2 if turn == 0 else 8  # the shift first: it is surest
        chosen = [0, 3] if count == 2 else list(range(8))
        part = rows[chosen]
        loaded = part * weight
        normal = loaded @ part.T
        normal[np.diag_indices(len(chosen))] *= 1.001
        normal[np.diag_indices(len(chosen))] += 1e-3
        step = -np.linalg.solve(normal.astype(np.float64), (loaded @ residual).astype(np.float64))
        step = np.clip(step, -4, 4)
        numbers[chosen] += step
        if float(np.abs(step).max()) < _ENOUGH and (turn > 0 or _reach(numbers) < 0.03):
            break
    like = _correlation(seen, flat, weight)
    far = 2 * _reach(numbers)
    return Move(numbers, far, like)


def laid_on(b: Look, move: Move) -> Image:
    """The grey picture of `b` as it lies on the other, after the move; float32 (h, w)."""
    width, height = b.size
    basis = _basis(width, height)
    return _warped(b.grey, move.numbers * 2.0, basis, False)


@lru_cache(maxsize=8)
def _basis(width: int, height: int) -> Image:
    """(2, 8, n): how each of the eight numbers shifts each pixel across and down; x and y run from -1 to 1."""
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    x, y = x.ravel(), y.ravel()
    one, none = np.ones_like(x), np.zeros_like(x)
    across = np.stack([one, x, y, none, none, none, x * x, x * y])
    down = np.stack([none, none, none, one, x, y, x * y, y * y])
    return np.stack([across, down])


def _warped(picture: Image, numbers: Floats, basis: Image, as_it_is: bool) -> Image:
    if as_it_is:
        return picture
    height, width = picture.shape
    wanted = numbers.astype(np.float32)
    grid_x, grid_y = _grid(width, height)
    map_x = grid_x + (wanted @ basis[0]).reshape(height, width)
    map_y = grid_y + (wanted @ basis[1]).reshape(height, width)
    return cv2.remap(picture, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


@lru_cache(maxsize=8)
def _grid(width: int, height: int) -> tuple[Image, Image]:
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    return x, y


def _reach(numbers: Floats) -> float:
    """The largest shift among the corners and the middle."""
    most = 0.0
    for x, y in ((0, 0), (-1, -1), (1, -1), (-1, 1), (1, 1)):
        across = numbers[0] + numbers[1] * x + numbers[2] * y + numbers[6] * x * x + numbers[7] * x * y
        down = numbers[3] + numbers[4] * x + numbers[5] * y + numbers[6] * x * y + numbers[7] * y * y
        most = max(most, float(np.hypot(across, down)))
    return most


def _unlike(a: Image, b: Image) -> bool:
    return _correlation(a.ravel(), b.ravel(), None) < 0.75


def _correlation(a: Image, b: Image, weight: Image | None) -> float:
    wa, wb = (a, b) if weight is None else (a * weight, b * weight)
    return float(wa @ b) / (float(np.sqrt(float(wa @ a) * float(wb @ b))) + 1e-3 * len(a))
