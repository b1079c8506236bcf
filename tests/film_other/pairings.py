"""Kinds of film with pulls, and their truth. `make(kind, seed, folder)` renders once and keeps the file.

Truth (JSON beside the film): `times`, `boxes` (one a frame, null where she is not in view), `pulls` (onset, full,
release, released in seconds; pull in abdomen lengths; tilt in degrees), `hidden` and `moving` (spans in seconds),
`cuts_s`, `abdomen_px`, `start_frame` (a fair frame to draw her outline on).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.film.encode import write_film
from tests.film_other import paint
from tests.film_other.stage import Animal, Stage

KINDS = (
    "plain", "handheld", "dim", "small", "upright", "busy", "hand", "cutback", "newview", "drawn", "night", "quiet",
)  # fmt: skip
Curve = NDArray[np.float64]
PARTS = {"dim": 0.16, "night": 0.45}  # contrast of hair and markings, where not 1


def make(kind: str, seed: int, folder: Path) -> tuple[Path, dict[str, Any]]:
    """The film of a kind and seed, rendered into `folder` unless it lies there, and its truth."""
    path = folder / f"{kind}-{seed}.mp4"
    truth_path = path.with_suffix(".json")
    if not truth_path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        stage, truth = _scene(kind, seed)
        count = len(truth["times"])
        options = {"crf": str(truth["crf"]), "preset": "veryfast", "g": "50"}
        rate = Fraction(truth["rate"])
        pts = np.arange(count)
        write_film(path, (stage.frame(k) for k in range(count)), pts, 1 / rate, rate, options)
        truth_path.write_text(json.dumps(truth), encoding="utf-8")
    return path, json.loads(truth_path.read_text(encoding="utf-8"))


def sloppy(box: list[float], off: float, seed: int) -> list[float]:
    """The box with place and size each off by up to `off` of its size (uniform)."""
    rng = np.random.default_rng((seed, int(off * 100)))
    x, y, w, h = box
    dx, dy, dw, dh = rng.uniform(-off, off, 4)
    w2, h2 = w * (1 + dw), h * (1 + dh)
    return [x + w / 2 + dx * w - w2 / 2, y + h / 2 + dy * h - h2 / 2, w2, h2]


def press(box: list[float], seed: int) -> list[float]:
    """A press somewhere in the middle third of the box."""
    rng = np.random.default_rng((seed, 7))
    x, y, w, h = box
    return [x + w * rng.uniform(0.36, 0.64), y + h * rng.uniform(0.36, 0.64)]


def rise(t: Curve, start: float, end: float) -> Curve:
    """0 before `start`, 1 after `end`, smooth between."""
    share = np.clip((t - start) / max(end - start, 1e-6), 0, 1)
    return share * share * (3 - 2 * share)


def wander(rng: np.random.Generator, n: int, rate: float, size: float, slow: float) -> Curve:
    """A smooth random path of standard deviation `size`, changing over about `slow` seconds."""
    raw = rng.normal(0, 1, n + 400)
    wide = max(int(slow * rate), 2)
    kernel = np.hanning(2 * wide + 1)
    path = np.convolve(raw, kernel / kernel.sum(), "same")[200 : 200 + n]
    return size * (path - path.mean()) / (path.std() + 1e-9)


def _pulls(rng: np.random.Generator, seconds: float, count: int, small: bool) -> list[dict[str, float]]:
    pulls, at = [], 6.0
    for _ in range(count):
        at += rng.uniform(1.0, 4.0)
        onset, takes, held = at, rng.uniform(0.07, 0.24), float(rng.choice([0.6, 1.2, 2.5, 4.0]))
        size, tilt = rng.uniform(0.09, 0.26), rng.uniform(-12, 12)
        release = onset + takes + held
        back = rng.uniform(0.5, 1.2)
        if release + back > seconds - 3:
            break
        pulls.append(
            {
                "onset_s": onset,
                "full_s": onset + takes,
                "release_s": release,
                "released_s": release + back,
                "pull": size * (1.2 if small else 1.0),
                "tilt_deg": tilt,
            }
        )
        at = release + back
    return pulls


def _animal(rng: np.random.Generator, n: int, size: float, tone: tuple[float, float, float], contrast: float,
            at: Curve, heading: Curve, seed: int) -> Animal:  # fmt: skip
    zero = np.zeros(n)
    return Animal(size, tone, contrast, at, heading, zero.copy(), zero.copy(), np.zeros((n, 8, 2)),
                  np.zeros((n, 2)), np.ones(n, bool), seed)  # fmt: skip


def _scene(kind: str, seed: int) -> tuple[Stage, dict[str, Any]]:
    rng = np.random.default_rng((seed, KINDS.index(kind)))
    width, height = {"upright": (360, 640), "small": (480, 270)}.get(kind, [(640, 360), (768, 432)][seed % 2])
    rate = [25, 30][seed % 2]
    seconds = 40.0
    n = int(seconds * rate)
    t = np.arange(n) / rate
    size = {"small": 29.0, "upright": 92.0, "dim": 70.0}.get(kind, float(rng.uniform(60, 110)))
    dark = kind in ("dim", "night")
    soil = (34.0, 40.0, 48.0) if dark else (70.0, 92.0, 120.0)
    tone = (26.0, 31.0, 38.0) if dark else [(38.0, 52.0, 78.0), (48.0, 50.0, 56.0), (52.0, 92.0, 150.0)][seed % 3]
    contrast = PARTS.get(kind, 1.0)
    heading = rng.uniform(0, 2 * np.pi)
    place = np.array([width, height]) * rng.uniform(0.42, 0.58, 2)
    her = _animal(rng, n, size, tone, contrast, np.tile(place, (n, 1)), np.full(n, heading), seed * 2 + 1)
    ahead = np.array([np.cos(heading), np.sin(heading)])
    his_at = place + 2.05 * size * ahead + rng.normal(0, 0.1 * size, 2)
    him = _animal(rng, n, size * 0.72, tuple(0.75 * v for v in tone), contrast, np.tile(his_at, (n, 1)),  # type: ignore[arg-type]
                  np.full(n, heading + np.pi + rng.uniform(-0.5, 0.5)), seed * 2 + 2)  # fmt: skip
    pulls = [] if kind == "quiet" else _pulls(rng, seconds, 6, kind == "small")
    for one in pulls:
        share = rise(t, one["onset_s"], one["full_s"]) - rise(t, one["release_s"], one["released_s"])
        her.draw += one["pull"] * share
        her.tilt += np.radians(one["tilt_deg"]) * share
    _live(rng, t, rate, her, him, troubles=kind in ("busy", "quiet"), free=pulls)
    camera = np.zeros((n, 4))
    if kind in ("handheld", "busy", "quiet", "night"):
        reach = 0.02 * width
        camera[:, 0], camera[:, 1] = wander(rng, n, rate, reach, 0.8), wander(rng, n, rate, reach, 0.9)
        camera[:, 2], camera[:, 3] = wander(rng, n, rate, 0.012, 1.5), wander(rng, n, rate, 0.02, 2.5)
    ground = paint.ground(rng, int(width * 1.7), int(height * 1.7), soil, 0.5 if dark else 1.0)
    stage = Stage(width, height, [ground], np.zeros(n, np.int64), camera, her, him, np.ones(n), np.zeros(n), [],
                  {"night": 7.0, "dim": 1.5}.get(kind, 2.0), seed)  # fmt: skip
    hidden, cuts = SPECIALS[kind](rng, t, rate, stage, pulls) if kind in SPECIALS else ([], [])
    if kind in ("busy", "quiet"):
        for at in rng.uniform(4, seconds - 2, 3):
            stage.gain *= 1 + rng.choice([-0.25, 0.3]) * rise(t, at, at + 0.08)
        stage.blur += 2.2 * np.exp(-(((t - rng.uniform(8, seconds - 5)) / 0.5) ** 2))
    stage.gain = np.clip(stage.gain, 0.5, 1.6)
    start = int((pulls[0]["full_s"] + 0.2) * rate) if kind == "drawn" else int(1.0 * rate)
    truth = {
        "kind": kind, "seed": seed, "rate": rate, "width": width, "height": height, "abdomen_px": size,
        "crf": {"small": 26, "night": 25}.get(kind, 22), "times": t.round(5).tolist(),
        "boxes": _boxes(stage, hidden, t), "pulls": pulls, "hidden": hidden, "cuts_s": cuts, "start_frame": start,
        "moving": moving(stage, t, rate),
    }  # fmt: skip
    return stage, truth


def _live(rng: np.random.Generator, t: Curve, rate: float, her: Animal, him: Animal, troubles: bool,
          free: list[dict[str, float]]) -> None:  # fmt: skip
    """Small life: legs that shift, palps that work, breathing; with `troubles` steps of the whole animal too."""
    seconds = t[-1]
    for animal, many in ((her, 4), (him, 9)):
        for _ in range(many):
            leg, at = int(rng.integers(8)), rng.uniform(2, seconds - 2)
            out = rng.normal(0, 0.16 * animal.size, 2)
            animal.lift[:, leg] += out * (rise(t, at, at + rng.uniform(0.15, 0.6)))[:, None]
    him.palps[:] += (
        0.8
        * np.sin(2 * np.pi * rng.uniform(1, 2.5) * t)[:, None]
        * np.array([1, -1])
        * ((np.sin(2 * np.pi * t / 9.0) > 0.2)[:, None])
    )
    her.draw += 0.006 * np.sin(2 * np.pi * 0.4 * t)
    if not troubles:
        return
    clear = [at for at in np.arange(4, seconds - 3, 1.7)
             if all(at + 1.2 < p["onset_s"] or at - 1.0 > p["released_s"] for p in free)]  # fmt: skip
    for at in rng.permutation(clear)[:4]:
        step = rng.normal(0, 0.14 * her.size, 2)
        share = rise(t, at, at + rng.uniform(0.2, 0.5))[:, None]
        her.at += step * share
        him.at += step * share
        her.lift -= 0.8 * (step * share)[:, None, :]
        her.heading += rng.normal(0, 0.07) * share[:, 0]


def _boxes(stage: Stage, hidden: list[list[float]], t: Curve) -> list[list[float] | None]:
    boxes: list[list[float] | None] = []
    for k, at in enumerate(t):
        away = stage.view[k] != 0 or any(a <= at < b for a, b in hidden)
        box = stage.her.box(k, stage.matrix(k))
        inside = box[0] > 0 and box[1] > 0 and box[0] + box[2] < stage.width and box[1] + box[3] < stage.height
        boxes.append(None if away or not inside else [round(v, 1) for v in box])
    return boxes


def moving(stage: Stage, t: Curve, rate: float, least: float = 0.03) -> list[list[float]]:
    """Whole seconds in which some point of a shown animal moves by more than `least` of its abdomen's length."""
    spans: list[list[float]] = []
    for second in range(int(t[-1])):
        ks = range(int(second * rate), min(int((second + 1) * rate) + 1, len(t)))
        busy = False
        for animal in (stage.her, stage.him):
            if not animal.shown[ks[0]] or stage.view[ks[0]] != 0:
                continue
            track = np.stack([animal.points(k) for k in ks])
            reach = np.ptp(track, axis=0)
            busy = busy or bool((np.hypot(reach[:, 0], reach[:, 1]) > least * animal.size).any())
        if busy and spans and spans[-1][1] == second:
            spans[-1][1] = second + 1.0
        elif busy:
            spans.append([float(second), second + 1.0])
    return spans


Marks = tuple[list[list[float]], list[float]]


def _hand(rng: np.random.Generator, t: Curve, rate: float, stage: Stage, pulls: list[dict[str, float]]) -> Marks:
    """A hand sweeps over half of the picture, twice, between pulls; once for a few frames, once for a second."""
    hidden = []
    gaps = [(a["released_s"], b["onset_s"]) for a, b in pairwise(pulls)]
    palm = paint.hairy_ellipse(rng, int(stage.width * 0.8), int(stage.height * 1.2), (120.0, 150.0, 205.0), 0.25)
    for (start, end), takes in zip(sorted(gaps, key=lambda g: g[0] - g[1])[:2], (0.15, 0.8), strict=False):
        at = 0.5 * (start + end) - takes / 2
        first, last = int(at * rate), int((at + takes) * rate) + 1
        steps = np.linspace(-1, 1, last - first)
        far = np.stack(
            [stage.width * (0.5 + 0.9 * steps * (takes > 0.4)), np.full(len(steps), stage.height * 0.5)], 1
        )
        stage.covers.append((first, last, palm, far))
        hidden.append([first / rate, last / rate])
    return hidden, []


def _cutback(rng: np.random.Generator, t: Curve, rate: float, stage: Stage, pulls: list[dict[str, float]]) -> Marks:
    """The film shows something else for two seconds between two pulls, then the same view again."""
    gaps = [(a["released_s"], b["onset_s"]) for a, b in pairwise(pulls)]
    start, end = max(gaps, key=lambda g: g[1] - g[0])
    away = [start + 0.2, max(min(start + 2.2, end - 0.3), start + 0.6)]
    first, last = int(away[0] * rate), int(away[1] * rate)
    other = paint.ground(rng, int(stage.width * 1.7), int(stage.height * 1.7), (150.0, 120.0, 90.0), 0.7)
    stage.grounds.append(other)
    stage.grounds.append(other)  # three grounds: animals are painted on the first alone
    stage.view[first:last] = 1
    return [[first / rate, last / rate]], [first / rate, last / rate]


def _newview(rng: np.random.Generator, t: Curve, rate: float, stage: Stage, pulls: list[dict[str, float]]) -> Marks:
    """The film goes on from another place: nearer or further, turned and shifted, her in full view."""
    third = pulls[min(2, len(pulls) - 1)]
    first = int((third["released_s"] + 0.3) * rate)
    zoom, turn = rng.choice([-0.25, 0.25]), rng.choice([-1, 1]) * rng.uniform(0.2, 0.5)
    stage.camera[first:, 2] += turn
    stage.camera[first:, 3] += zoom
    middle = np.array([stage.width / 2, stage.height / 2])
    seen = stage.matrix(first)
    goal = middle + rng.uniform(-0.08, 0.08, 2) * (stage.width, stage.height)
    stage.camera[first:, :2] += goal - (seen[:, :2] @ stage.her.middle(first) + seen[:, 2])
    return [], [first / rate]


SPECIALS: dict[str, Callable[..., Marks]] = {"hand": _hand, "cutback": _cutback, "newview": _newview}
