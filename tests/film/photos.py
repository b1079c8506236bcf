"""The other hand: real photographs and real film in which a soft-edged patch is pulled.

Shares no picture and no motion code with the spiders; only the format of truth and boxes, and the encoder.

Photographs ship with scikit-image (skimage.data). Real film is used where CLIPMARK_REAL_FILM points at it (see
`tests.film.footage`); the profiles that need it say so in NEEDS_FILM.

Profiles: "photo still" (patch on a photograph, fixed camera), "photo shake" (random-walk camera), "photo trouble"
(gain, focus, things in front, the whole animal moving), "fur warp" (one photograph warped smoothly inside itself, so
that nothing is cut out), "film behind" (patch over real street film), "film shake" (camera motion taken from real
handheld film), "photo quiet" (all troubles, no pull).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film import footage
from tests.film.footage import film_frames, handheld_track, real_film, street_track

PROFILES = ("photo still", "photo shake", "photo trouble", "fur warp", "film behind", "film shake", "photo quiet")
NEEDS_FILM = ("film behind", "film shake")
GROUNDS = ("gravel", "grass", "brick", "coffee", "rocket", "motorcycle_left", "retina", "ihc", "moon")
FURS = ("chelsea", "chelsea", "brick", "coffee", "grass", "gravel", "ihc", "coins", "motorcycle_left")
NAMES = {"front": "something in front", "body": "whole animal moves", "jump": "whole animal lurches"}
STREET = ((137, 187), (189, 240))  # frames of bikes.mp4 from a fixed camera


def available(profile: str) -> bool:
    """Whether what the profile needs lies on this machine."""
    return profile not in NEEDS_FILM or (real_film("bikes").exists() and real_film("cockatoo").exists())


@dataclass
class Curves:
    """Everything over time, a value a frame."""

    t: np.ndarray
    draw: np.ndarray = field(init=False)  # patch displacement, abdomen lengths (n, 2), picture axes
    tilt: np.ndarray = field(init=False)  # degrees
    body: np.ndarray = field(init=False)  # whole animal, abdomen lengths (n, 2) and degrees
    camera: np.ndarray = field(init=False)  # x, y (heights), angle, log zoom
    gain: np.ndarray = field(init=False)
    white: np.ndarray = field(init=False)
    blur: np.ndarray = field(init=False)
    pulls: list[dict[str, Any]] = field(default_factory=list)
    distractors: list[dict[str, Any]] = field(default_factory=list)
    fronts: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        n = len(self.t)
        self.draw, self.tilt, self.body = np.zeros((n, 2)), np.zeros(n), np.zeros((n, 3))
        self.camera, self.gain, self.white, self.blur = np.zeros((n, 4)), np.ones(n), np.zeros((n, 2)), np.zeros(n)


def _edge(t: np.ndarray, start: float, rise: float, manner: str) -> np.ndarray:
    """0 to 1: "even" (straight), "soft" (raised cosine), "snap" (exponential)."""
    x = np.clip((t - start) / rise, 0, None)
    if manner == "snap":
        return (1 - np.exp(-3 * x)) * (x > 0)
    x = np.clip(x, 0, 1)
    return x if manner == "even" else 0.5 - 0.5 * np.cos(np.pi * x)


def _parts(manner: str) -> tuple[float, float]:
    """Shares of the rise at which 5 % and 95 % are done."""
    if manner == "snap":
        return -np.log(0.95) / 3, -np.log(0.05) / 3
    return (0.05, 0.95) if manner == "even" else (np.arccos(0.9) / np.pi, 1 - np.arccos(0.9) / np.pi)


def _pulls(c: Curves, rng: np.random.Generator, count: int, axis: float) -> None:
    slot = (c.t[-1] - 1.5) / count
    for k in range(count):
        start = 1.2 + slot * k + rng.uniform(0, 0.3) * slot
        rise, manner = float(rng.uniform(0.06, 0.28)), str(rng.choice(["even", "soft", "snap"]))
        hold = float(rng.uniform(0.4, max(0.5, min(6.0, 0.55 * slot))))
        fall = float(rng.choice([rng.uniform(0.08, 0.3), rng.uniform(0.5, 1.5)]))
        keeps = bool(rng.random() < 0.12)
        size, away = float(np.exp(rng.uniform(np.log(0.05), np.log(0.35)))), axis + rng.normal(0, 0.4)
        twist = float(rng.choice([0, rng.choice([-1, 1]) * rng.uniform(4, 22)]))
        if twist and rng.random() < 0.4:
            size *= 0.3
        shape = _edge(c.t, start, rise, manner)
        top = start + rise * (2.2 if manner == "snap" else 1) + hold
        if not keeps:
            shape = shape - _edge(c.t, top, fall, "soft") * shape[-1]
        c.draw += size * shape[:, None] * np.array([np.cos(away), np.sin(away)])
        c.tilt += twist * shape
        first, last = _parts(manner)
        c.pulls.append(
            {
                "onset": start + first * rise,
                "full": start + last * rise,
                "release": None if keeps else top + 0.1 * fall,
                "released": None if keeps else top + fall,
                "abrupt_release": not keeps and fall < 0.5,
            }
        )


def _walk_noise(rng: np.random.Generator, n: int, rate: float, memory: float) -> np.ndarray:
    """A mean-reverting random walk, unit deviation, smoothed once."""
    out = np.zeros(n)
    keep = np.exp(-1 / (rate * memory))
    kicks = rng.standard_normal(n)
    for k in range(1, n):
        out[k] = keep * out[k - 1] + kicks[k]
    out = np.convolve(out, np.ones(3) / 3, "same")
    return (out - out.mean()) / max(out.std(), 1e-9)


def _tell(c: Curves, kind: str, start: float, end: float) -> None:
    c.distractors.append({"kind": kind, "start_s": round(float(start), 4), "end_s": round(float(end), 4)})


def _free(c: Curves, rng: np.random.Generator, seconds: float) -> float | None:
    """A start that touches no pull (0.7 s clear), release included."""
    for _ in range(40):
        start = float(rng.uniform(0.5, c.t[-1] - seconds - 0.3))
        busy = [(p["onset"] - 0.7, (p["released"] or p["full"] + 0.3) + 0.7) for p in c.pulls]
        if all(start + seconds < a or start > b for a, b in busy):
            return start
    return None


def _trouble(c: Curves, rng: np.random.Generator, count: int) -> None:
    kinds = ["gain", "white", "blur", "front", "front", "body", "body", "bump", "zoom", "jump"]
    for _ in range(count):
        kind = str(rng.choice(kinds))
        seconds = float(rng.uniform(0.4, 2.0))
        start = _free(c, rng, seconds + 0.5)
        if start is None:
            continue
        ramp = _edge(c.t, start, seconds, "soft")
        if kind == "gain":
            step = float(rng.choice([-0.3, -0.15, 0.15, 0.35]))
            c.gain *= 1 + step * _edge(c.t, start, rng.uniform(0.04, 0.6), "even")
        elif kind == "white":
            c.white += rng.uniform(-0.12, 0.12, 2) * ramp[:, None]
        elif kind == "blur":
            c.blur += rng.uniform(1, 4) * np.sin(np.pi * np.clip((c.t - start) / seconds, 0, 1))
        elif kind == "front":
            way = float(rng.uniform(0, 6.28))
            c.fronts.append({"start": start, "end": start + seconds, "seed": int(rng.integers(1 << 30)), "from": way})
        elif kind == "body":
            c.body += np.array([*rng.normal(0, 0.25, 2), rng.normal(0, 12)]) * ramp[:, None]
        elif kind == "bump":
            after = np.clip(c.t - start, 0, None)
            ring = np.exp(-after / 0.15) * np.sin(2 * np.pi * 7 * after)
            c.camera[:, :2] += rng.normal(0, 0.02, 2) * ring[:, None]
        elif kind == "zoom":
            c.camera[:, 3] += np.log(rng.uniform(0.9, 1.2)) * ramp
        else:
            c.body += np.array([*rng.normal(0, 0.06, 2), 0]) * _edge(c.t, start, 0.2, "soft")[:, None]
        _tell(c, NAMES.get(kind, kind), start, start + seconds)


# -- pictures -----------------------------------------------------------------------------------------------------
def _similar(angle: float, zoom: float, about: np.ndarray, to: np.ndarray) -> np.ndarray:
    c, s = zoom * np.cos(angle), zoom * np.sin(angle)
    m = np.array([[c, -s], [s, c]])
    return np.column_stack([m, to - m @ about])


def _over(under: np.ndarray, sprite: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """Lay a premultiplied sprite over a float picture; returns its alpha."""
    laid = cv2.warpAffine(sprite, matrix, (under.shape[1], under.shape[0]), flags=cv2.INTER_CUBIC)
    alpha = np.clip(laid[..., 3], 0, 1)
    under *= (1 - alpha)[..., None]
    under += laid[..., :3]
    return alpha


@dataclass
class Film:
    """One film of this hand, ready to be drawn."""

    profile: str
    seed: int
    rng: np.random.Generator
    size: tuple[int, int]
    length: int
    width: int
    axis: float  # where the front of the patch points, radians
    place: np.ndarray  # its middle at rest, picture pixels
    curves: Curves
    pts: np.ndarray
    rate: Fraction
    time_base: Fraction
    noise: float
    codec: str
    options: dict[str, str]
    street: tuple[int, int] = (0, 0)  # frames of the street film, if it is that one
    boxes: list[list[float] | None] = field(default_factory=list)
    hidden: list[float] = field(default_factory=list)

    def camera(self, k: int) -> np.ndarray:
        """Scene to picture, 2x3."""
        if self.profile == "film behind":
            where, left = self._street(k)
            shift = np.array([[1, 0, left], [0, 1, 0], [0, 0, 1.0]])
            track = street_track(*self.street, self.size[1])[where]
            return (np.linalg.inv(shift) @ track @ shift)[:2]
        x, y, angle, zoom = self.curves.camera[k]
        middle = np.array(self.size) / 2
        return _similar(angle, float(np.exp(zoom)), middle, middle + self.size[1] * np.array([x, y]))

    def _street(self, k: int) -> tuple[int, int]:
        """Which frame of the street film lies behind (there and back again), and what is cut off at its left."""
        n = self.street[1] - self.street[0]
        wide = film_frames("bikes", *self.street, self.size[1])[0].shape[1]
        return n - 1 - abs(n - 1 - k % (2 * n - 2)), max(0, (wide - self.size[0]) // 2)

    def pose(self, k: int) -> tuple[np.ndarray, float]:
        """Middle (scene pixels) and axis angle of the patch."""
        body = self.curves.body[k]
        turn = np.radians(body[2])
        hinge = self.place + 0.55 * self.length * np.array([np.cos(self.axis), np.sin(self.axis)])
        tilt = np.radians(self.curves.tilt[k])
        arm = -0.55 * self.length * np.array([np.cos(self.axis + tilt), np.sin(self.axis + tilt)])
        here = hinge + arm + self.length * self.curves.draw[k]
        c, s = np.cos(turn), np.sin(turn)
        here = hinge + np.array([[c, -s], [s, c]]) @ (here - hinge) + self.length * body[:2]
        return here, self.axis + tilt + turn

    def outline(self, k: int) -> np.ndarray:
        middle, angle = self.pose(k)
        a = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        points = np.stack([np.cos(a) * self.length / 2, np.sin(a) * self.width / 2], 1)
        c, s = np.cos(angle), np.sin(angle)
        scene = points @ np.array([[c, s], [-s, c]]) + middle
        matrix = self.camera(k)
        return scene @ matrix[:, :2].T + matrix[:, 2]

    def frames(self) -> Iterator[np.ndarray]:
        draw = self._warped if self.profile == "fur warp" else self._layered
        grain = self.rng.standard_normal((self.size[1] + 32, self.size[0] + 32, 1)).astype(np.float32) * self.noise
        for k, (picture, seen, whole) in enumerate(draw()):
            picture, seen = self._in_front(k, picture, seen)
            points = self.outline(k)
            low, high = points.min(0), points.max(0)
            inside = high.min() > 0 and low[0] < self.size[0] and low[1] < self.size[1]
            self.boxes.append([float(v) for v in (*low, *(high - low))] if inside else None)
            self.hidden.append(float(np.clip(1 - seen.sum() / max(whole, 1.0), 0, 1)))
            blue, red = self.curves.white[k]
            lit = picture * (self.curves.gain[k] * np.array([1 + blue, 1, 1 + red])).astype(np.float32)
            if self.curves.blur[k] > 0.2:
                lit = cv2.GaussianBlur(lit, (0, 0), float(self.curves.blur[k]))
            oy, ox = self.rng.integers(0, 32, 2)
            lit = lit + grain[oy : oy + self.size[1], ox : ox + self.size[0]] * (1 + lit.mean(2, keepdims=True) / 255)
            yield np.clip(lit, 0, 255).astype(np.uint8)

    def _backgrounds(self) -> Iterator[np.ndarray]:
        w, h = self.size
        n = len(self.pts)
        if self.profile == "film behind":
            real = film_frames("bikes", *self.street, h)
            for k in range(n):
                where, left = self._street(k)
                yield real[where][:, left : left + w].astype(np.float32)
            return
        still = footage.backdrop(self.rng, str(self.rng.choice(GROUNDS)), (int(w * 1.4), int(h * 1.4)))
        shift = np.array([[1, 0, -0.2 * w], [0, 1, -0.2 * h], [0, 0, 1.0]])
        for k in range(n):
            matrix = np.vstack([self.camera(k), [0, 0, 1]]) @ shift
            yield cv2.warpAffine(still, matrix[:2], (w, h), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)

    def _layered(self) -> Iterator[tuple[np.ndarray, np.ndarray, float]]:
        """Backdrop, body, patch, and a small beating piece beside it."""
        rng, length, width = self.rng, self.length, self.width
        names = [str(v) for v in rng.choice(FURS, 3)]
        patch = footage.patch(rng, names[0], length, width, rng.uniform(1, 5))
        body = footage.patch(
            rng, names[0] if rng.random() < 0.6 else names[1], int(0.9 * length), int(0.8 * width), 2
        )
        piece = footage.patch(rng, names[2], int(0.5 * length), max(6, int(0.2 * width)), 1.5)
        beat, reach = float(rng.uniform(2, 11)), float(rng.uniform(0.05, 0.2)) * length
        shadow = np.zeros_like(patch)
        shadow[..., 3] = cv2.GaussianBlur(patch[..., 3], (0, 0), 5) * 0.5
        front = np.array([np.cos(self.axis), np.sin(self.axis)])
        hinge = self.place + 0.55 * length * front
        for k, picture in enumerate(self._backgrounds()):
            camera = np.vstack([self.camera(k), [0, 0, 1]])
            turn = np.radians(self.curves.body[k, 2])
            moved = hinge + length * self.curves.body[k, :2]
            c, s = np.cos(turn), np.sin(turn)
            bodies = moved + np.array([[c, -s], [s, c]]) @ (0.3 * length * front)
            middle, angle = self.pose(k)
            beating = moved + (0.9 * length + reach * np.sin(2 * np.pi * beat * self.curves.t[k])) * front
            for sprite, at, way in (
                (body, bodies, self.axis + turn),
                (piece, beating, self.axis),
                (shadow, middle + 5, angle),
                (patch, middle, angle),
            ):
                centre = np.array([sprite.shape[1], sprite.shape[0]]) / 2 - 0.5
                place = np.vstack([_similar(way, 1.0, centre, at), [0, 0, 1]])
                alpha = _over(picture, sprite, (camera @ place)[:2])
            zoom = float(np.exp(2 * self.curves.camera[k, 3]))
            yield picture, alpha, float(patch[..., 3].sum()) * zoom

    def _warped(self) -> Iterator[tuple[np.ndarray, np.ndarray, float]]:
        """One photograph; inside a circle it is moved rigidly, outside it stays, between them it stretches."""
        w, h = self.size
        name = str(self.rng.choice(["chelsea", "chelsea", "coffee", "grass", "gravel", "ihc", "brick"]))
        big = footage.backdrop(self.rng, name, (int(1.4 * w), int(1.4 * h)))
        big = cv2.GaussianBlur(big, (0, 0), 0.5)
        left, up = self._textured_place(big)
        yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
        core, skirt = 0.62 * self.length, self.rng.uniform(0.2, 0.65) * self.length
        ellipse = cv2.ellipse2Poly((0, 0), (self.length // 2, self.width // 2), 0, 0, 360, 15)
        area = float(cv2.contourArea(ellipse))
        for k in range(len(self.pts)):
            back = cv2.invertAffineTransform(self.camera(k))
            sx = back[0, 0] * xx + back[0, 1] * yy + back[0, 2]
            sy = back[1, 0] * xx + back[1, 1] * yy + back[1, 2]
            middle, angle = self.pose(k)
            turn = self.axis - angle
            dx, dy = sx - middle[0], sy - middle[1]
            c, s = np.cos(turn), np.sin(turn)
            rx, ry = c * dx - s * dy + self.place[0], s * dx + c * dy + self.place[1]
            half = 0.5 * (middle + self.place)
            far = np.hypot(sx - half[0], sy - half[1])
            weight = 0.5 + 0.5 * np.cos(np.pi * np.clip((far - core) / skirt, 0, 1))
            mx = (sx + weight * (rx - sx) + left).astype(np.float32)
            my = (sy + weight * (ry - sy) + up).astype(np.float32)
            picture = cv2.remap(big, mx, my, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
            mask = np.zeros((h, w), np.float32)
            cv2.fillConvexPoly(mask, np.round(self.outline(k)).astype(np.int32), 1.0)
            yield picture, mask, area * float(np.exp(2 * self.curves.camera[k, 3]))

    def _textured_place(self, big: np.ndarray) -> tuple[int, int]:
        """Where to take the picture from the larger photograph: of six places the one whose oval shows the most."""
        w, h = self.size
        tries = [(int(self.rng.uniform(0, 0.4 * w)), int(self.rng.uniform(0, 0.4 * h))) for _ in range(6)]
        half = self.length // 2

        def shown(place: tuple[int, int]) -> float:
            x, y = int(self.place[0]) + place[0], int(self.place[1]) + place[1]
            return float(big[y - half : y + half, x - half : x + half].mean(2).std())

        return max(tries, key=shown)

    def _in_front(self, k: int, picture: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        for front in self.curves.fronts:
            if not front["start"] <= self.curves.t[k] < front["end"]:
                continue
            rng = np.random.default_rng(front["seed"])
            long, wide = (int(self.length * v) for v in (rng.uniform(0.8, 2.5), rng.uniform(0.3, 1.4)))
            sprite = footage.patch(rng, str(rng.choice(FURS)), long, wide, 3)
            share = (self.curves.t[k] - front["start"]) / (front["end"] - front["start"])
            way = np.array([np.cos(front["from"]), np.sin(front["from"])])
            at = self.outline(k).mean(0) + (2.5 * self.length * (1 - 2 * share) + rng.uniform(-20, 20)) * way
            centre = np.array([sprite.shape[1], sprite.shape[0]]) / 2
            alpha = _over(picture, sprite, _similar(front["from"], 1.0, centre, at))
            seen = seen * (1 - alpha)
        return picture, seen


def plan(profile: str, seed: int) -> Film:
    """One film of this hand, by profile and seed."""
    if profile not in PROFILES:
        raise ValueError(f"no profile {profile!r}; there are {', '.join(PROFILES)}")
    rng = np.random.default_rng([seed, zlib.crc32(profile.encode()), 4])
    size = tuple(int(v) for v in rng.choice([(640, 360), (480, 360), (854, 480), (426, 240)]))
    if profile == "film behind":  # no wider than the film itself
        size = ((640, 272), (480, 360), (426, 240))[int(rng.integers(3))]
    rate = Fraction([24, 25, 30, 50][int(rng.integers(4))])
    seconds = float(rng.uniform(16, 26)) * (0.6 if rate == 50 else 1)
    base = Fraction(1, 60000)
    gaps = np.full(int(seconds * rate), float(1 / rate / base))
    if rng.random() < 0.3:
        gaps *= 1 + rng.normal(0, 0.05, len(gaps)).clip(-0.2, 0.2)
    pts = np.round(np.cumsum(gaps) - gaps[0]).astype(np.int64)
    t = pts * float(base)
    curves = Curves(t)
    length = int(rng.uniform(0.16, 0.34) * size[1])
    axis = float(rng.uniform(0, 2 * np.pi))
    if profile != "photo quiet":
        _pulls(curves, rng, int(rng.integers(3, 6)), axis)
    if profile in ("photo shake", "fur warp", "photo quiet") and (profile == "photo shake" or rng.random() < 0.6):
        for column, level in enumerate((0.012, 0.012, 0.008, 0.008)):
            curves.camera[:, column] += level * rng.uniform(0.4, 1.5) * _walk_noise(rng, len(t), float(rate), 1.5)
    if profile == "film shake":
        track = handheld_track() * rng.uniform(0.3, 1.0)
        where = (t * 20 * rng.uniform(0.7, 1.3) + rng.uniform(0, 60)) % (len(track) - 1)
        for column in range(4):
            curves.camera[:, column] += np.interp(where, np.arange(len(track)), track[:, column])
        curves.camera -= np.median(curves.camera, 0)
    if profile in ("photo trouble", "photo quiet"):
        _trouble(curves, rng, int(rng.integers(4, 8)) if profile == "photo trouble" else 14)
    breath = 0.004 * np.sin(2 * np.pi * rng.uniform(0.2, 0.8) * t)
    curves.draw += breath[:, None] * np.array([np.cos(axis), np.sin(axis)])
    return Film(
        profile, seed, rng, size, length, int(length * rng.uniform(0.6, 0.9)), axis,
        np.array(size) * rng.uniform(0.42, 0.58, 2), curves, pts, rate, base, float(rng.uniform(0.5, 4)),
        str(rng.choice(["libx264", "libx264", "mpeg4"])),
        {"crf": str(int(rng.integers(18, 32))), "preset": "veryfast", "g": str(int(rng.choice([12, 50, 250])))},
        STREET[int(rng.integers(len(STREET)))],
    )  # fmt: skip


def make(profile: str, seed: int, path: Path) -> dict[str, Any]:
    """Render one film of this hand to `path`; returns its truth (format of tests.film.truth)."""
    from tests.film.encode import write_film

    if not available(profile):
        raise FileNotFoundError(f"{profile!r} needs real film: set CLIPMARK_REAL_FILM to the folder that holds it")
    film = plan(profile, seed)
    options = film.options if film.codec == "libx264" else {"b": "1500000", "g": film.options["g"]}
    write_film(path, film.frames(), film.pts, film.time_base, film.rate, options, 0, film.codec)
    return _truth(film)


def _truth(film: Film) -> dict[str, Any]:
    t = film.curves.t
    return {
        "format": "clipmark-test-film/1",
        "generator": "photos",
        "profile": film.profile,
        "seed": film.seed,
        "clip": {
            "width": film.size[0],
            "height": film.size[1],
            "frames": len(t),
            "duration_s": float(t[-1]),
            "rate": float(film.rate),
            "time_base": [1, film.time_base.denominator],
            "rotation": 0,
            "codec": film.codec,
            "options": film.options,
        },
        "abdomen_px": float(film.length),
        "frames": {
            "pts": film.pts.tolist(),
            "time_s": [round(float(v), 6) for v in t],
            "box": [None if b is None else [round(v, 2) for v in b] for b in film.boxes],
            "hidden": [round(v, 3) for v in film.hidden],
        },
        "pulls": [_pull(film, pull) for pull in film.curves.pulls if pull["full"] < t[-1]],
        "distractors": sorted(film.curves.distractors, key=lambda d: d["start_s"]),
        "cuts": [],
        "strikes_s": [],
        "notes": {},
    }


def _pull(film: Film, pull: dict[str, Any]) -> dict[str, Any]:
    t = film.curves.t
    out: dict[str, Any] = {"abrupt_release": pull["abrupt_release"]}
    for name in ("onset", "full", "release", "released"):
        when = pull[name]
        if when is None or when > t[-1]:
            out |= {f"{name}_s": None, f"{name}_frame": None, f"{name}_pts": None}
            continue
        frame = min(int(np.searchsorted(t, when - 1e-9)), len(t) - 1)
        out |= {f"{name}_s": round(float(when), 5), f"{name}_frame": frame, f"{name}_pts": int(film.pts[frame])}
    before = max(0, out["onset_frame"] - 1)
    top = pull["full"] + 0.3 * (pull["full"] - pull["onset"])
    after = min(int(np.searchsorted(t, top)), len(t) - 1)
    (a, way_a), (b, way_b) = film.pose(before), film.pose(after)
    moved = film.camera(after)[:, :2] @ (b - a)
    zoom = float(np.exp(film.curves.camera[after, 3]))
    hidden = film.hidden[out["onset_frame"] : out["full_frame"] + 1]
    return {
        **out,
        "pull": round(float(np.hypot(*moved)) / film.length / zoom, 5),
        "moved_px": [round(float(v), 3) for v in moved],
        "drawn": round(float(np.hypot(*(film.curves.draw[after] - film.curves.draw[before]))), 5),
        "tilt_deg": round(float(np.degrees(way_b - way_a)), 3),
        "direction_deg": round(float(np.degrees(np.arctan2(moved[1], moved[0]))) % 360, 1),
        "abdomen_px": round(film.length * zoom, 1),
        "hidden": round(float(np.mean(hidden)), 3),
    }
