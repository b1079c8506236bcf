"""Pictures that everything is made of: grounds to sit on and furry sprites to sit there.

A sprite is a uint8 array (h, w, 4), blue green red premultiplied by alpha, drawn lying along +x (front at the right).
Source: common practice (fractal noise, relief shading, hair strokes); no measured spider.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

GROUNDS = ("bark", "soil", "cork", "sand", "moss", "paper")

PALETTES = {
    "bark": ((28, 38, 52), (62, 84, 110), (110, 138, 165)),
    "soil": ((18, 24, 34), (38, 52, 72), (70, 92, 120)),
    "cork": ((38, 58, 92), (80, 118, 160), (120, 160, 200)),
    "sand": ((90, 130, 165), (130, 170, 200), (170, 205, 228)),
    "moss": ((18, 40, 34), (40, 84, 70), (70, 130, 112)),
    "paper": ((170, 180, 186), (205, 212, 216), (226, 231, 234)),
}


def fractal(
    rng: np.random.Generator,
    shape: tuple[int, int],
    cell: float,
    octaves: int = 4,
    gain: float = 0.55,
    stretch: float = 1,
) -> np.ndarray:
    """Smooth noise of unit deviation, float32; `cell`: its largest grain, pixels; `stretch` draws it along x."""
    h, w = shape
    total = np.zeros(shape, np.float32)
    weight, norm = 1.0, 0.0
    for _ in range(octaves):
        rows, columns = max(2, int(h / cell) + 3), max(2, int(w / (cell * stretch)) + 3)
        grid = rng.standard_normal((rows, columns)).astype(np.float32)
        total += weight * cv2.resize(grid, (w, h), interpolation=cv2.INTER_CUBIC)
        norm += weight**2
        weight *= gain
        cell = max(cell / 2, 1.0)
    return total / np.float32(np.sqrt(norm) * 0.75)


def relief(height: np.ndarray, light: float, strength: float) -> np.ndarray:
    """Brightness factor of a height map lit from the angle `light` (radians)."""
    dx = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3) / 8
    dy = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3) / 8
    slope = dx * np.cos(light) + dy * np.sin(light)
    return 1 + 0.55 * np.tanh(strength * slope / max(2.5 * float(slope.std()), 1e-6))


def _blend(palette: tuple[tuple[int, int, int], ...], value: np.ndarray) -> np.ndarray:
    """Colours along a palette for values in 0..1."""
    stops = np.linspace(0, 1, len(palette))
    channels = [np.interp(value, stops, [colour[c] for colour in palette]) for c in range(3)]
    return np.stack(channels, axis=-1).astype(np.float32)


def ground(
    rng: np.random.Generator,
    kind: str,
    shape: tuple[int, int],
    grain: float = 1.0,
    contrast: float = 1.0,
    light: float = 0.8,
) -> np.ndarray:
    """A piece of ground, uint8 (h, w, 3). `grain` scales its structure, `contrast` 0 is a plain colour."""
    stretch = {"bark": float(rng.uniform(3, 9))}.get(kind, 1.0)
    coarse = fractal(rng, shape, 90 * grain, 5, 0.6, stretch)
    fine = fractal(rng, shape, 9 * grain, 3, 0.7, max(1.0, stretch / 3))
    height = coarse * 6 * grain + fine * 0.6
    tone = 0.45 + 0.16 * coarse + 0.10 * fine
    if kind == "bark":
        ridges = np.abs(fractal(rng, shape, 60 * grain, 4, 0.5, stretch))
        cracks = np.clip(1 - ridges / 0.22, 0, 1)
        height = height - 9 * cracks * grain
        tone = tone - 0.35 * cracks
    elif kind == "cork":
        pits = np.clip(fractal(rng, shape, 16 * grain, 2) - 1.0, 0, 1)
        height = height - 6 * pits
        tone = tone - 0.5 * pits
    elif kind == "soil":
        tone = tone + _crumbs(rng, shape, grain) * 0.35
        height = height + 3 * fractal(rng, shape, 6 * grain, 2)
    elif kind == "sand":
        tone = 0.5 + 0.05 * coarse + 0.13 * rng.standard_normal(shape).astype(np.float32)
        height = coarse * 3
    elif kind == "moss":
        height = height + 5 * fractal(rng, shape, 7 * grain, 3, 0.8)
    elif kind == "paper":
        tone = 0.5 + 0.05 * coarse + 0.06 * fine
        height = height * 0.3
    tone = 0.45 + (tone - 0.45) * contrast
    colour = _blend(PALETTES[kind], np.clip(tone, 0, 1))
    rough = contrast * {"paper": 0.25, "moss": 0.7, "sand": 0.6}.get(kind, 1.0)
    shaded = colour * (1 + rough * (relief(height, light, 1.0) - 1))[..., None]
    tint = 1 + 0.035 * contrast * fractal(rng, shape, 140 * grain, 2)[..., None] * np.array([1, 0, -1], np.float32)
    return np.clip(shaded * tint, 0, 255).astype(np.uint8)


def _crumbs(rng: np.random.Generator, shape: tuple[int, int], grain: float) -> np.ndarray:
    """Lumps and chips of earth, -1..1."""
    out = np.zeros(shape, np.float32)
    for _ in range(int(shape[0] * shape[1] / (260 * grain**2))):
        centre = (int(rng.integers(0, shape[1])), int(rng.integers(0, shape[0])))
        size = float(rng.gamma(2, 1.7) * grain) + 1
        axes = (max(1, int(size * rng.uniform(0.8, 2.2))), max(1, int(size)))
        cv2.ellipse(out, centre, axes, float(rng.uniform(0, 180)), 0, 360, float(rng.uniform(-1, 1)), -1)
    return cv2.GaussianBlur(out, (0, 0), 0.8)


@dataclass(frozen=True, slots=True)
class Coat:
    """How a furry part is dressed: colours blue green red, hair length as a share of the part's width."""

    base: tuple[float, float, float]
    hair: tuple[float, float, float]
    spread: float = 0.35  # how much the hairs differ in brightness
    density: float = 1.0
    hair_length: float = 0.35
    gloss: float = 0.2
    stray: float = 0.15  # share of long pale hairs


def _canvas(length: float, width: float, margin: float) -> tuple[int, int, float, float]:
    h, w = int(np.ceil(width + 2 * margin)), int(np.ceil(length + 2 * margin))
    return h, w, w / 2, h / 2


def _hairs(
    rng: np.random.Generator,
    colour: np.ndarray,
    alpha: np.ndarray,
    roots: np.ndarray,
    angles: np.ndarray,
    lengths: np.ndarray,
    tones: np.ndarray,
) -> None:
    """Draw hair strokes in place; `tones` (n, 3)."""
    tips = roots + lengths[:, None] * np.stack([np.cos(angles), np.sin(angles)], 1)
    ends = np.round(np.stack([roots, tips], 1) * 16).astype(int)
    for (start, end), tone in zip(ends, tones, strict=True):
        cv2.line(colour, tuple(map(int, start)), tuple(map(int, end)), tuple(map(float, tone)), 1, cv2.LINE_AA, 4)
        cv2.line(alpha, tuple(map(int, start)), tuple(map(int, end)), 255, 1, cv2.LINE_AA, 4)


def _tones(rng: np.random.Generator, coat: Coat, n: int) -> np.ndarray:
    brightness = np.exp(rng.normal(0, coat.spread, n))
    mix = rng.random(n)[:, None]
    tones = (np.array(coat.hair) * mix + np.array(coat.base) * (1 - mix)) * brightness[:, None]
    pale = rng.random(n) < coat.stray
    tones[pale] = np.array(coat.hair) * rng.uniform(1.0, 1.6, (int(pale.sum()), 1))
    return np.clip(tones, 0, 255)


def _finish(colour: np.ndarray, alpha: np.ndarray, shade: np.ndarray) -> np.ndarray:
    """Shade, soften and premultiply."""
    alpha = cv2.GaussianBlur(alpha, (0, 0), 0.6).astype(np.float32) / 255
    lit = np.clip(cv2.GaussianBlur(colour, (0, 0), 0.45).astype(np.float32) * shade[..., None], 0, 255)
    return np.dstack([lit * alpha[..., None], alpha * 255]).round().astype(np.uint8)


def furry_oval(
    rng: np.random.Generator,
    length: float,
    width: float,
    coat: Coat,
    light: float = -0.9,
    egg: float = 0.15,
    pattern: str = "",
    radial: bool = False,
) -> np.ndarray:
    """An egg-shaped body part with hairs combed to the rear (or out from its middle); front at the right.

    `pattern`: "" plain, "stripes", "patch" (a bald mirror), "spots", "line" or "star" (carapace).
    """
    hair = max(2.0, coat.hair_length * width)
    h, w, cx, cy = _canvas(length, width, hair + 3)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    u, v = (xx - cx) / (length / 2), (yy - cy) / (width / 2)
    v = v / (1 - egg * u)  # wider behind
    radius = np.sqrt(u**2 + v**2)
    colour = np.empty((h, w, 3), np.uint8)
    colour[:] = np.clip(coat.base, 0, 255)
    mottle = 1 + 0.5 * coat.spread * fractal(rng, (h, w), max(4, width / 6), 3)
    colour = np.clip(colour * (mottle * _marking(rng, pattern, u, v, radius))[..., None], 0, 255).astype(np.uint8)
    alpha = np.where(radius < 1, 255, 0).astype(np.uint8)
    n = int(coat.density * length * width / 9)
    r, a = np.sqrt(rng.random(n)) * 1.0, rng.uniform(0, 2 * np.pi, n)
    roots = np.stack([cx + r * np.cos(a) * length / 2, cy + r * np.sin(a) * width / 2 * (1 - egg * r * np.cos(a))], 1)
    out = np.arctan2(roots[:, 1] - cy, roots[:, 0] - cx)
    comb = np.where(roots[:, 1] > cy, np.pi - 0.9 * r * np.abs(np.sin(a)), np.pi + 0.9 * r * np.abs(np.sin(a)))
    angles = (out if radial else comb) + rng.normal(0, 0.3, n)
    lengths = hair * rng.uniform(0.4, 1.1, n) * np.where(radial, 0.5 + 0.5 * r, 1)
    index = roots.astype(int).clip(0, [w - 1, h - 1])
    local = colour[index[:, 1], index[:, 0]].astype(np.float32).mean(1, keepdims=True) / max(
        1.0, float(np.mean(coat.base))
    )
    keep = np.ones(n, bool)
    if pattern == "patch":
        keep = np.hypot(u[index[:, 1], index[:, 0]] + 0.35, v[index[:, 1], index[:, 0]]) > 0.4
    tones = np.clip(_tones(rng, coat, n) * local, 0, 255)
    order = np.argsort(roots[:, 0])  # front hairs lie over rear ones
    order = order[keep[order]]
    _hairs(rng, colour, alpha, roots[order], angles[order], lengths[order], tones[order])
    dome = np.sqrt(np.clip(1.08 - radius**2, 0.03, None))
    slope = u * np.cos(light) + v * np.sin(light)
    shade = 0.45 + 0.65 * dome + 0.22 * slope * np.clip(radius, 0, 1)
    spot = np.exp(-((u - 0.35 * np.cos(light)) ** 2 + (v - 0.35 * np.sin(light)) ** 2) / 0.12)
    return _finish(colour, alpha, (shade + coat.gloss * spot).astype(np.float32))


def _marking(rng: np.random.Generator, pattern: str, u: np.ndarray, v: np.ndarray, radius: np.ndarray) -> np.ndarray:
    one = np.ones_like(u)
    if pattern == "stripes":
        count = rng.uniform(4, 8)
        return one + 0.5 * np.sign(np.sin(count * (u * 2 + 0.8 * np.abs(v)))) * np.clip(np.abs(v) * 2.5, 0, 1)
    if pattern == "patch":
        return one - 0.45 * (np.hypot(u + 0.35, v) < 0.42)
    if pattern == "spots":
        spots = np.cos(9 * u) * np.cos(7 * np.abs(v) + 0.6)
        return one + 0.7 * np.clip(spots - 0.3, 0, 1)
    if pattern == "line":
        return one - 0.5 * np.exp(-((v / 0.14) ** 2))
    if pattern == "star":
        rays = 0.5 + 0.5 * np.cos(8 * np.arctan2(v, u + 0.15))
        fovea = np.exp(-(((u + 0.15) / 0.09) ** 2 + (v / 0.13) ** 2))
        eyes = np.exp(-(((u - 0.78) / 0.1) ** 2 + (v / 0.16) ** 2))
        return one + 0.35 * rays * np.clip(radius, 0, 1) - 0.75 * fovea - 0.8 * eyes
    return one


def draw_eyes(carapace: np.ndarray, length: float) -> None:
    """Eight small eyes on their mound, in place, on a carapace sprite that looks to the right."""
    h, w = carapace.shape[:2]
    cx, cy, unit = w / 2 + 0.37 * length, h / 2, length / 100
    cv2.ellipse(
        carapace, (int(cx), int(cy)), (int(4 * unit), int(6 * unit)), 0, 0, 360, (10, 11, 13, 255), -1, cv2.LINE_AA
    )
    for dx, dy, size in ((1.2, -2, 0.9), (1.2, 2, 0.9), (2, -4, 0.7), (2, 4, 0.7), (-1.5, -3, 0.6), (-1.5, 3, 0.6)):
        at = (int(cx + dx * unit), int(cy + dy * unit))
        cv2.circle(carapace, at, max(1, int(size * unit)), (60, 66, 72, 255), -1, cv2.LINE_AA)
        cv2.circle(
            carapace, (at[0], at[1] - 1), max(1, int(0.4 * size * unit)), (120, 126, 132, 255), -1, cv2.LINE_AA
        )


def furry_rod(
    rng: np.random.Generator,
    length: float,
    width: float,
    coat: Coat,
    taper: float = 0.85,
    ring: tuple[float, ...] | None = None,
) -> np.ndarray:
    """A leg segment along +x: a hairy rod, its far end narrower by `taper`; `ring` colours its near joint."""
    hair = max(1.5, coat.hair_length * width)
    h, w, cx, cy = _canvas(length, width, hair + 2)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    x0, x1 = cx - length / 2, cx + length / 2
    along = np.clip((xx - x0) / max(length, 1), 0, 1)
    half = width / 2 * (1 - (1 - taper) * along)
    inside = np.clip(xx, x0 + width / 3, x1 - width / 3)
    across = np.hypot(xx - inside, yy - cy) / half
    colour = np.empty((h, w, 3), np.uint8)
    colour[:] = np.clip(coat.base, 0, 255)
    if ring is not None:
        colour[(along < 0.3) & (along > 0.02)] = np.clip(ring, 0, 255)
    alpha = np.where(across < 1, 255, 0).astype(np.uint8)
    n = int(coat.density * length * max(width, 3) / 6)
    x = rng.uniform(x0, x1, n)
    side = rng.choice([-1.0, 1.0], n)
    offset = rng.random(n) ** 0.5
    y = cy + side * offset * width / 2 * (1 - (1 - taper) * (x - x0) / max(length, 1))
    angles = side * rng.uniform(0.3, 1.2, n)
    lengths = hair * rng.uniform(0.4, 1.1, n) * (0.4 + 0.6 * offset)
    _hairs(rng, colour, alpha, np.stack([x, y], 1), angles, lengths, _tones(rng, coat, n))
    shade = (
        0.5 + 0.65 * np.sqrt(np.clip(1.1 - np.clip(across, 0, 1.2) ** 2 * 0.9, 0.02, None)) - 0.18 * (yy - cy) / half
    )
    return _finish(colour, alpha, np.clip(shade, 0.2, 1.6).astype(np.float32))


def soft_shadow(length: float, width: float, blur: float, strength: float) -> np.ndarray:
    """A blurred dark oval."""
    h, w, cx, cy = _canvas(length, width, 3 * blur + 2)
    alpha = np.zeros((h, w), np.uint8)
    cv2.ellipse(alpha, (int(cx), int(cy)), (max(1, int(length / 2)), max(1, int(width / 2))), 0, 0, 360, 255, -1)
    alpha = cv2.GaussianBlur(alpha, (0, 0), max(0.5, blur))
    return np.dstack([np.zeros((h, w, 3), np.uint8), (alpha * strength).astype(np.uint8)])


def bark_piece(rng: np.random.Generator, length: float, width: float, kind: str = "bark") -> np.ndarray:
    """A ragged piece of bark or a stone that something can hide behind."""
    h, w, cx, cy = _canvas(length, width, 4)
    picture = ground(rng, kind, (h, w), max(0.25, width / 250), 1.1)
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    edge = np.maximum(np.abs(xx - cx) / (length / 2), np.abs(yy - cy) / (width / 2))
    ragged = edge + 0.05 * fractal(rng, (h, w), max(8, width / 4), 3)
    alpha = cv2.GaussianBlur((ragged < 0.93).astype(np.float32), (0, 0), 0.8)
    lit = picture * np.clip(1.25 - 0.5 * edge, 0.4, 1.2)[..., None] * alpha[..., None]
    return np.dstack([np.clip(lit, 0, 255), alpha * 255]).astype(np.uint8)


def hand(rng: np.random.Generator, length: float, width: float, gloved: bool = False) -> np.ndarray:
    """A hand's edge with fingers (or a gloved one), out of focus as near things are."""
    h, w, cx, cy = _canvas(length, width, width * 0.25)
    colour = np.empty((h, w, 3), np.float32)
    colour[:] = (60, 50, 45) if gloved else np.array([110, 140, 195]) * rng.uniform(0.45, 1.1)
    alpha = np.zeros((h, w), np.uint8)
    for k in range(4):
        y = int(cy + (k - 1.5) * width / 4.4)
        tip = int(cx + length / 2 - abs(k - 1.3) * width * 0.12)
        cv2.line(alpha, (0, y), (tip, y), 255, int(width / 4.1))
    alpha = cv2.GaussianBlur(alpha, (0, 0), max(1.0, width * 0.03)).astype(np.float32) / 255
    shade = 0.75 + 0.25 * np.cos(np.linspace(0, 8 * np.pi, h))[:, None] + 0.06 * fractal(rng, (h, w), 12, 3)
    return np.dstack([np.clip(colour * shade[..., None], 0, 255) * alpha[..., None], alpha * 255]).astype(np.uint8)
