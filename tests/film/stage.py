"""The stage: a ground on which flat furry parts are laid, redrawn only where something moved.

World lengths are abdomen lengths of the female. A View turns world places (x, y, height) into canvas pixels.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import cos, hypot, sin

import cv2
import numpy as np


@dataclass(slots=True)
class View:
    """One camera view. `slant` 0 looks straight down, larger looks flatter over the ground (radians)."""

    scale: float  # canvas pixels an abdomen length
    turn: float
    slant: float
    centre: tuple[float, float]  # canvas pixel of the world's origin
    lean: tuple[float, float] = (0.0, 0.0)  # parallax: shift of raised parts, in their own height

    def flat(self, squash: float | None = None) -> np.ndarray:
        """Linear part, world to canvas, for things lying on the ground (or rounder ones: larger `squash`)."""
        c, s = np.cos(self.turn), np.sin(self.turn)
        squeeze = np.cos(self.slant) if squash is None else squash
        return self.scale * np.array([[c, -s], [s * squeeze, c * squeeze]])

    def body(self) -> np.ndarray:
        """The same for round bodies, which look less squashed than the ground."""
        return self.flat(0.5 * (1 + np.cos(self.slant)))

    def place(self, x: float, y: float, z: float = 0.0) -> np.ndarray:
        c, s = cos(self.turn), sin(self.turn)
        rise = z * self.scale
        px, py = self.scale * (c * x - s * y), self.scale * cos(self.slant) * (s * x + c * y)
        up = rise * (self.lean[1] - sin(self.slant))
        return np.array((self.centre[0] + px + rise * self.lean[0], self.centre[1] + py + up))


@dataclass(slots=True)
class Placed:
    """A sprite laid somewhere: 2x3 matrix from sprite pixels to canvas pixels."""

    key: str
    sprite: np.ndarray
    matrix: np.ndarray
    subject: bool = False  # its visible share is measured (the abdomen)
    soft: bool = False  # a shadow or mist: darkens, does not hide


@dataclass(slots=True)
class _Drawn:
    matrix: np.ndarray
    sprite_id: int
    box: tuple[int, int, int, int]
    colour: np.ndarray
    keep: np.ndarray  # what of the things below stays, 0..255, 3 channels


def body_matrix(
    sprite: np.ndarray,
    resolution: float,
    linear: np.ndarray,
    angle: float,
    at: np.ndarray,
    stretch: tuple[float, float] = (1, 1),
) -> np.ndarray:
    """Matrix that lays a sprite turned by `angle` with its middle at canvas pixel `at`.

    `resolution`: sprite pixels an abdomen length.
    """
    c, s = np.cos(angle), np.sin(angle)
    m = linear @ np.array([[c, -s], [s, c]]) @ np.diag([stretch[0] / resolution, stretch[1] / resolution])
    middle = np.array([sprite.shape[1] / 2, sprite.shape[0] / 2]) - 0.5
    return np.column_stack([m, at - m @ middle])


def rod_matrix(
    sprite: np.ndarray, length: float, width_scale: float, start: np.ndarray, end: np.ndarray
) -> np.ndarray:
    """Matrix that lays a rod sprite (its own rod `length` pixels long) from canvas pixel `start` to `end`."""
    (x0, y0), (x1, y1) = start.tolist(), end.tolist()
    dx, dy = x1 - x0, y1 - y0
    distance = max(hypot(dx, dy), 1e-3)
    a, b, c, d = dx / length, dy / length, -dy / distance * width_scale, dx / distance * width_scale
    mx, my = sprite.shape[1] / 2 - 0.5, sprite.shape[0] / 2 - 0.5
    tx, ty = (x0 + x1) / 2 - a * mx - c * my, (y0 + y1) / 2 - b * mx - d * my
    return np.array(((a, c, tx), (b, d, ty)))


@dataclass(slots=True)
class Stage:
    """A canvas that remembers what lies on it. `visible` holds what of the subject can be seen."""

    background: np.ndarray
    canvas: np.ndarray = field(init=False)
    visible: np.ndarray = field(init=False)
    subject_area: float = field(init=False, default=0.0)
    _drawn: dict[str, _Drawn] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.canvas = self.background.copy()
        self.visible = np.zeros(self.background.shape[:2], np.uint8)

    def draw(self, parts: list[Placed], tolerance: float = 0.015) -> np.ndarray:
        """Lay the parts in order; returns the canvas, valid until next time. Less than `tolerance` px is left."""
        dirty: list[tuple[int, int, int, int]] = []
        now: dict[str, _Drawn] = {}
        for part in parts:
            old = self._drawn.get(part.key)
            if (
                old is not None
                and old.sprite_id == id(part.sprite)
                and _near(old.matrix, part.matrix, part.sprite, tolerance)
            ):
                now[part.key] = old
                continue
            new = self._warp(part)
            now[part.key] = new
            dirty.append(new.box)
            if old is not None:
                dirty.append(old.box)
        dirty += [old.box for key, old in self._drawn.items() if key not in now]
        self._drawn = now
        for area in _merged(dirty):
            self._repaint(area, parts)
        return self.canvas

    def _warp(self, part: Placed) -> _Drawn:
        h, w = part.sprite.shape[:2]
        corners = part.matrix @ np.array([[0, w, 0, w], [0, 0, h, h], [1, 1, 1, 1]])
        height, width = self.canvas.shape[:2]
        x0, y0 = np.floor(corners.min(1)).astype(int) - 1
        x1, y1 = np.ceil(corners.max(1)).astype(int) + 2
        x0, y0, x1, y1 = max(0, x0), max(0, y0), min(width, x1), min(height, y1)
        if x1 <= x0 or y1 <= y0:
            empty = np.zeros((0, 0, 3), np.uint8)
            return _Drawn(part.matrix, id(part.sprite), (0, 0, 0, 0), empty, empty)
        matrix = part.matrix.copy()
        matrix[:, 2] -= (x0, y0)
        warped = cv2.warpAffine(part.sprite, matrix, (x1 - x0, y1 - y0), flags=cv2.INTER_LINEAR)
        alpha = warped[..., 3]
        if part.subject:
            self.subject_area = float(alpha.sum())
        keep = cv2.cvtColor(255 - alpha, cv2.COLOR_GRAY2BGR)
        colour = np.ascontiguousarray(warped[..., :3])
        return _Drawn(part.matrix, id(part.sprite), (x0, y0, x1, y1), colour, keep)

    def _repaint(self, area: tuple[int, int, int, int], parts: list[Placed]) -> None:
        x0, y0, x1, y1 = area
        self.canvas[y0:y1, x0:x1] = self.background[y0:y1, x0:x1]
        self.visible[y0:y1, x0:x1] = 0
        subject_laid = False
        for part in parts:
            drawn = self._drawn[part.key]
            a0, b0 = max(x0, drawn.box[0]), max(y0, drawn.box[1])
            a1, b1 = min(x1, drawn.box[2]), min(y1, drawn.box[3])
            if a1 <= a0 or b1 <= b0:
                continue
            inside = (slice(b0 - drawn.box[1], b1 - drawn.box[1]), slice(a0 - drawn.box[0], a1 - drawn.box[0]))
            keep, target = drawn.keep[inside], (slice(b0, b1), slice(a0, a1))
            under = cv2.multiply(self.canvas[target], keep, scale=1 / 255)
            self.canvas[target] = cv2.add(under, drawn.colour[inside])
            if part.subject:
                self.visible[target] = 255 - keep[..., 0]
                subject_laid = True
            elif subject_laid and not part.soft:
                self.visible[target] = cv2.multiply(
                    self.visible[target], np.ascontiguousarray(keep[..., 0]), scale=1 / 255
                )


def _near(old: np.ndarray, new: np.ndarray, sprite: np.ndarray, tolerance: float) -> bool:
    h, w = sprite.shape[:2]
    rows = zip(old.tolist(), new.tolist(), strict=True)
    return all(abs(p[0] - q[0]) * w + abs(p[1] - q[1]) * h + abs(p[2] - q[2]) < tolerance for p, q in rows)


def _merged(boxes: list[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Boxes joined where they overlap, so that nothing is painted twice."""
    rest = [b for b in boxes if b[2] > b[0] and b[3] > b[1]]
    out: list[tuple[int, int, int, int]] = []
    while rest:
        x0, y0, x1, y1 = rest.pop()
        grown = True
        while grown:
            grown = False
            for other in (*rest, *out):
                if other[0] < x1 and other[2] > x0 and other[1] < y1 and other[3] > y0:
                    x0, y0 = min(x0, other[0]), min(y0, other[1])
                    x1, y1 = max(x1, other[2]), max(y1, other[3])
                    (rest if other in rest else out).remove(other)
                    grown = True
                    break
        out.append((x0, y0, x1, y1))
    return out
