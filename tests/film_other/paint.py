"""Painted sprites: hairy parts of a spider, grounds, things that pass in front. All BGRA or BGR, uint8."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]


def hairy_ellipse(
    rng: np.random.Generator, length: int, width: int, tone: tuple[float, float, float], contrast: float
) -> Picture:
    """A hairy ellipse seen from above, BGRA of shape (width + 24, length + 24); its long axis lies along x.

    `tone` is the mean colour (0-255, BGR); `contrast` scales hair and markings (1 plain to see, .2 faint).
    """
    height, span = width + 24, length + 24
    middle = np.array([span / 2, height / 2])
    mask = np.zeros((height, span), np.uint8)
    cv2.ellipse(mask, (span // 2, height // 2), (length // 2, width // 2), 0, 0, 360, 255, -1, cv2.LINE_AA)
    body = np.empty((height, span, 3), np.float32)
    body[:] = tone
    yy, xx = np.mgrid[:height, :span].astype(np.float32)
    around = ((xx - middle[0]) / (length / 2)) ** 2 + ((yy - middle[1]) / (width / 2)) ** 2
    body *= (1.12 - 0.35 * np.clip(around, 0, 1.2))[..., None]
    blotches = cv2.GaussianBlur(rng.normal(0, 1, (height, span)).astype(np.float32), (0, 0), max(length / 14, 1.2))
    blotches /= blotches.std() + 1e-6
    body += (14 * contrast * blotches)[..., None]
    canvas = np.clip(body, 0, 255).astype(np.uint8)
    for _ in range(int(length * width / 9)):
        angle, reach = rng.uniform(0, 2 * np.pi), np.sqrt(rng.uniform(0, 1))
        at = middle + reach * np.array([length / 2 * np.cos(angle), width / 2 * np.sin(angle)])
        tip = at + rng.normal(0, 0.5, 2) + np.array([-1.0, 0.0]) * rng.uniform(2, 2 + length / 14)
        shade = np.clip(np.array(tone) + contrast * rng.normal(0, 34), 0, 255)
        cv2.line(canvas, tuple(np.int32(at * 8)), tuple(np.int32(tip * 8)), shade.tolist(), 1, cv2.LINE_AA, 3)
    return np.dstack([canvas, cv2.GaussianBlur(mask, (0, 0), 0.8)])


def ground(
    rng: np.random.Generator, width: int, height: int, tone: tuple[float, float, float], litter: float
) -> Picture:
    """Soil with crumbs, fibres and bark chips, BGR. `litter`: how many bright loose bits lie on it, 0 to 1."""
    base = np.zeros((height, width), np.float32)
    for scale, weight in ((2.0, 7.0), (7.0, 8.0), (30.0, 9.0), (90.0, 8.0)):
        layer = cv2.GaussianBlur(rng.normal(0, 1, (height, width)).astype(np.float32), (0, 0), scale)
        base += weight * layer / (layer.std() + 1e-6)
    soil = np.clip(np.array(tone, np.float32) + base[..., None] * (0.35 + 0.65 * litter), 0, 255).astype(np.uint8)
    for _ in range(int(litter * width * height / 900)):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        shade = (np.array(tone) + rng.normal(20, 34) * np.array([0.7, 0.9, 1.0])).clip(0, 255).tolist()
        size = rng.gamma(2.0, 2.0)
        turn = rng.uniform(0, 180)
        cv2.ellipse(soil, ((x, y), (1 + size * rng.uniform(1, 3), 1 + size), turn), shade, -1, cv2.LINE_AA)
    return soil


def tapered(canvas: Picture, points: NDArray[np.float64], thick: float, tone: tuple[float, float, float]) -> None:
    """A leg along `points` (k, 2), thick at its root; dark below, lighter along the top, banded at the joints."""
    for k in range(len(points) - 1):
        width = max(round(thick * (1 - 0.2 * k)), 1)
        a, b = np.int32(points[k] * 8), np.int32(points[k + 1] * 8)
        shade = np.clip(np.array(tone) * (1 - 0.07 * k), 0, 255)
        cv2.line(canvas, tuple(a), tuple(b), (shade * 0.6).tolist(), width + 2, cv2.LINE_AA, 3)
        cv2.line(canvas, tuple(a), tuple(b), shade.tolist(), width, cv2.LINE_AA, 3)
        cv2.circle(canvas, tuple(b), max(width * 4, 4), np.clip(shade * 1.25, 0, 255).tolist(), -1, cv2.LINE_AA, 3)


def lay(canvas: Picture, sprite: Picture, matrix: NDArray[np.float64]) -> None:
    """Put a BGRA sprite on the canvas by a 2x3 affine matrix (sprite pixels to canvas pixels), in place."""
    height, width = sprite.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float) @ matrix[:, :2].T + matrix[:, 2]
    x0, y0 = np.floor(corners.min(0)).astype(int) - 1
    x1, y1 = np.ceil(corners.max(0)).astype(int) + 1
    x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, canvas.shape[1]), min(y1, canvas.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    moved = matrix.copy()
    moved[:, 2] -= (x0, y0)
    flat = cv2.warpAffine(sprite, moved, (x1 - x0, y1 - y0), flags=cv2.INTER_LINEAR)
    alpha = flat[..., 3:].astype(np.float32) / 255
    spot = canvas[y0:y1, x0:x1]
    spot[:] = (spot * (1 - alpha) + flat[..., :3] * alpha).astype(np.uint8)
