"""The floor of the invented enclosure: earth, a cork hide, moss, dry leaves, stones. One picture, seen from above."""

from __future__ import annotations

import cv2
import numpy as np

from tests.film.textures import bark_piece, fractal, ground

MOSS = ((3.1, -2.3, 1.25), (-4.6, 2.0, 1.5), (0.4, 3.4, 0.9), (5.0, 1.7, 0.8))  # place and radius, abdomen lengths


def scenery(rng: np.random.Generator, scale: float) -> np.ndarray:
    """The floor, uint8 (h, w, 3), `scale` pixels an abdomen length, its middle at the world's origin."""
    side = (int(10 * scale), int(13 * scale))
    floor = 0.75 * ground(rng, "soil", side, scale / 110, 0.75, 0.9).astype(np.float32)
    floor += 0.45 * ground(rng, "cork", side, scale / 60, 0.6, 0.9)
    yy, xx = np.mgrid[0 : side[0], 0 : side[1]].astype(np.float32)
    x, y = (xx - side[1] / 2) / scale, (yy - side[0] / 2) / scale
    moss = ground(rng, "moss", side, scale / 120, 0.9, 0.9).astype(np.float32)
    for mx, my, radius in MOSS:
        edge = radius + 0.35 * fractal(rng, side, scale * 0.9, 4) - np.hypot(x - mx, (y - my) * 1.25)
        cover = 1 / (1 + np.exp(-np.clip(edge * 14, -30, 30)))[..., None]
        shade = 1 - 0.35 * np.exp(-((np.clip(-edge, 0, None) / 0.12) ** 2))[..., None] * (1 - cover)
        floor = floor * shade * (1 - cover) + moss * cover
    floor = _lay(floor, _hide(rng, scale), scale, (-3.3, -2.0), -0.22, 0.30)
    for _ in range(26):
        leaf = _leaf(rng, scale * float(rng.uniform(0.35, 0.75)))
        floor = _lay(floor, leaf, scale, _somewhere(rng), float(rng.uniform(0, 6.3)), 0.06)
    for _ in range(16):
        size = scale * float(rng.uniform(0.12, 0.3))
        stone = bark_piece(rng, size * 1.4, size, "sand" if rng.random() < 0.5 else "soil")
        floor = _lay(floor, _pebble(stone), scale, _somewhere(rng), float(rng.uniform(0, 6.3)), 0.08)
    return np.clip(_silk(rng, floor * 1.25, scale), 0, 255).astype(np.uint8)


def _somewhere(rng: np.random.Generator) -> tuple[float, float]:
    return float(rng.uniform(-6, 6)), float(rng.uniform(-4.6, 4.6))


def _lay(
    floor: np.ndarray, sprite: np.ndarray, scale: float, at: tuple[float, float], angle: float, height: float
) -> np.ndarray:
    """Lay a sprite and its soft shadow on the floor."""
    c, s = np.cos(angle), np.sin(angle)
    turn = np.array([[c, -s], [s, c]])
    middle = np.array([floor.shape[1] / 2, floor.shape[0] / 2]) + np.array(at) * scale
    size = (floor.shape[1], floor.shape[0])
    half = np.array([sprite.shape[1], sprite.shape[0]]) / 2
    place = np.column_stack([turn, middle - turn @ half])
    laid = cv2.warpAffine(sprite, place, size, flags=cv2.INTER_LINEAR).astype(np.float32)
    place[:, 2] += height * scale * np.array([0.7, 0.6])
    shadow = cv2.warpAffine(np.ascontiguousarray(sprite[..., 3]), place, size).astype(np.float32) / 255
    shadow = cv2.GaussianBlur(shadow, (0, 0), max(1.0, height * scale * 0.35))[..., None]
    alpha = laid[..., 3:] / 255
    return floor * (1 - 0.6 * shadow) * (1 - alpha) + laid[..., :3]


def _hide(rng: np.random.Generator, scale: float) -> np.ndarray:
    """A half-round piece of cork bark, seen from above."""
    h, w = int(2.5 * scale), int(4.2 * scale)
    bark = ground(rng, "bark", (h, w), scale / 130, 1.1, 1.1).astype(np.float32)
    yy, xx = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    arch = np.sqrt(np.clip(1 - yy**2, 0.02, 1)) * (1 - 0.25 * yy)
    across = np.abs(yy) + 0.04 * fractal(rng, (h, w), 30, 3)
    ragged = np.maximum(across, np.abs(xx) + 0.05 * fractal(rng, (h, w), 24, 3))
    alpha = cv2.GaussianBlur((ragged < 0.9).astype(np.float32), (0, 0), 1.2)[..., None]
    return np.dstack([np.clip(bark * arch[..., None] * 1.05, 0, 255) * alpha, alpha * 255]).astype(np.uint8)


def _silk(rng: np.random.Generator, floor: np.ndarray, scale: float) -> np.ndarray:
    """Her web: faint threads over the ground in front of the hide."""
    web = np.zeros(floor.shape[:2], np.uint8)
    middle = np.array([floor.shape[1] / 2, floor.shape[0] / 2])
    for _ in range(260):
        start = middle + scale * rng.normal((0.6, 0.1), (1.7, 1.1))
        end = start + scale * rng.normal(0, 0.7, 2)
        cv2.line(web, tuple(map(int, start)), tuple(map(int, end)), int(rng.uniform(20, 90)), 1, cv2.LINE_AA)
    shine = web[..., None].astype(np.float32) / 255
    return floor * (1 - shine) + np.array([190, 196, 200]) * shine


def _leaf(rng: np.random.Generator, length: float) -> np.ndarray:
    """A dry leaf."""
    h, w = int(length * 0.5) + 4, int(length) + 4
    yy, xx = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    width = np.clip(np.cos(xx * np.pi / 2), 0, 1) ** 0.8 * 0.85
    alpha = cv2.GaussianBlur((np.abs(yy) < width).astype(np.float32), (0, 0), 0.7)[..., None]
    colour = np.array([34, 66, 104]) * rng.uniform(0.55, 1.25) * np.array([rng.uniform(0.8, 1.2), 1, 1])
    veins = 1 - 0.3 * np.exp(-((yy / 0.06) ** 2)) - 0.12 * (np.cos(26 * (xx - np.abs(yy) * 0.6)) > 0.8)
    curl = 0.75 + 0.35 * yy + 0.1 * fractal(rng, (h, w), max(4, length / 6), 3)
    return np.dstack([np.clip(colour * (veins * curl)[..., None], 0, 255) * alpha, alpha * 255]).astype(np.uint8)


def _pebble(sprite: np.ndarray) -> np.ndarray:
    """Give a flat piece the shading of a pebble."""
    h, w = sprite.shape[:2]
    yy, xx = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    inside = (np.hypot(xx, yy) < 0.95).astype(np.float32)
    dome = np.sqrt(np.clip(1 - xx**2 - yy**2, 0, 1))
    out = sprite.astype(np.float32)
    out[..., :3] *= (np.clip(0.7 + 0.4 * dome - 0.3 * (xx + yy), 0.1, 1.6) * inside)[..., None]
    out[..., 3] *= inside
    return np.clip(out, 0, 255).astype(np.uint8)
