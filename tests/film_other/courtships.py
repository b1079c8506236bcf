"""Whole courtships with sound, from the hand that brings him to the hand that takes him out.

Truth: `acts` (act and actor by the book's codes, start_s, end_s or null) and `bouts` (actor, start_s, end_s, rate_hz,
strikes, heard, seen_px: how far the striking limb moves on the picture), besides what `pairings` tells.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from tests.film.encode import write_film
from tests.film_other import paint, voices
from tests.film_other.pairings import Curve, _animal, _boxes, moving, rise, wander
from tests.film_other.stage import Animal, Stage

WIDTH, HEIGHT, SECONDS = 640, 360, 80.0
RATES = (30, 25, 50)


def make(seed: int, folder: Path) -> tuple[Path, dict[str, Any]]:
    """The courtship of a seed, rendered into `folder` unless it lies there, and its truth."""
    path = folder / f"courtship-{seed}.mp4"
    truth_path = path.with_suffix(".json")
    if not truth_path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        stage, sound, truth = _scene(seed)
        count, rate = len(truth["times"]), Fraction(truth["rate"])
        options = {"crf": "21", "preset": "veryfast", "g": "60"}
        pictures = (stage.frame(k) for k in range(count))
        write_film(path, pictures, np.arange(count), 1 / rate, rate, options, sound=sound, sound_rate=voices.RATE)
        truth_path.write_text(json.dumps(truth), encoding="utf-8")
    return path, json.loads(truth_path.read_text(encoding="utf-8"))


def _scene(seed: int) -> tuple[Stage, voices.Sound, dict[str, Any]]:
    rng = np.random.default_rng((seed, 99))
    rate = RATES[seed % 3]
    n = int(SECONDS * rate)
    t = np.arange(n) / rate
    size = float(rng.uniform(62, 84))
    side = rng.choice([-1, 1])
    tone = [(38.0, 52.0, 78.0), (48.0, 50.0, 56.0), (52.0, 92.0, 150.0)][seed % 3]
    her_at = np.array([WIDTH * (0.5 - 0.2 * side), HEIGHT * rng.uniform(0.45, 0.55)])
    heading = 0.0 if side > 0 else np.pi
    her = _animal(rng, n, size, tone, 1.0, np.tile(her_at, (n, 1)), np.full(n, heading), seed * 2 + 1)
    far = her_at + side * np.array([5.2 * size, 0.0])
    far[0] = np.clip(far[0], 60, WIDTH - 60)
    near, held = her_at + side * np.array([3.0 * size, 0.0]), her_at + side * np.array([1.75 * size, 0.0])
    him = _animal(rng, n, size * 0.72, tuple(0.75 * v for v in tone), 1.0, np.tile(far, (n, 1)),  # type: ignore[arg-type]
                  np.full(n, heading + np.pi), seed * 2 + 2)  # fmt: skip
    acts: list[dict[str, Any]] = []
    bouts: list[dict[str, Any]] = []
    sound = voices.room(rng, SECONDS, (0.004, 0.02, 0.01)[seed % 3])

    def act(name: str, actor: str, start: float, end: float | None) -> None:
        acts.append({"act": name, "actor": actor, "start_s": round(start, 3), "end_s": end and round(end, 3)})

    him.shown[: int(4.0 * rate)] = False
    act("introduced", "keeper", 4.6, None)
    at, walked = 8.0, 0.0
    for k in range(8):  # eight bouts with walks between, some hers
        actor = her if k in (2, 5) else him
        at = _bout(rng, t, rate, at, actor, actor is her, sound, bouts, size)
        act("answering" if actor is her else "drumming", "her" if actor is her else "him",
            bouts[-1]["start_s"], bouts[-1]["end_s"])  # fmt: skip
        at += rng.uniform(1.0, 2.2)
        if k in (1, 3, 4):
            takes, goes = rng.uniform(1.0, 1.6), (near - far) / 3
            him.at += goes * rise(t, at, at + takes)[:, None]
            _step(t, him, at, at + takes)
            act("searching", "him", at, at + takes)
            walked += takes
            at += takes + rng.uniform(0.6, 1.2)
    touch = at + 1.4
    him.at += (held - near) * rise(t, at, at + 2.4)[:, None]
    _step(t, him, at, at + 2.4)
    clasp, at = at + 2.4, at + 2.4
    pulls = _clasped(rng, t, at, her, him, size)
    release = pulls[-1]["released_s"] + rng.uniform(0.6, 1.2)
    act("clasp", "him", clasp, release)
    act("release", "him", release, None)
    fast = bool(rng.uniform() < 0.5)
    takes = 0.5 if fast else 1.8
    away = side * np.array([3.2 * size, 0.0])
    him.at += away * rise(t, release, release + takes)[:, None]
    him.at[:, 0] = np.clip(him.at[:, 0], 40, WIDTH - 40)
    _step(t, him, release, release + takes)
    act("bolting" if fast else "retreat", "him", release, release + takes)
    out = min(release + takes + 7.0, SECONDS - 3.0)
    act("stillness", "her", release, out)
    act("separated", "keeper", out + 1.0, None)
    him.shown[int((out + 1.2) * rate) :] = False
    camera = np.zeros((n, 4))
    if seed % 2:
        camera[:, 0], camera[:, 1] = wander(rng, n, rate, 4.0, 1.0), wander(rng, n, rate, 4.0, 1.2)
    soil = paint.ground(rng, int(WIDTH * 1.5), int(HEIGHT * 1.5), (70.0, 92.0, 120.0), 1.0)
    palm = paint.hairy_ellipse(rng, 230, 420, (120.0, 150.0, 205.0), 0.25)
    covers = []
    for start, end, x in ((2.6, 5.6, far[0]), (out, out + 2.4, float(np.clip(held[0] + away[0], 40, WIDTH - 40)))):
        first, last = int(start * rate), min(int(end * rate), n)
        share = np.abs(np.linspace(-1, 1, last - first)) ** 1.5
        path = np.stack([np.full(last - first, x), -210 + 250 * (1 - share)], 1)
        covers.append((first, last, palm, path))
    stage = Stage(WIDTH, HEIGHT, [soil], np.zeros(n, np.int64), camera, her, him, np.ones(n), np.zeros(n), covers,
                  2.0, seed)  # fmt: skip
    act("contact", "both", _first_touch(stage, t, rate, touch - 1.4), None)
    voices_at = rng.uniform(3, SECONDS - 6, 2)
    for start in voices_at:
        voices.add(sound, voices.speech(rng, 4.0), float(start))
    for start in rng.uniform(2, SECONDS - 2, 4):
        voices.add(sound, voices.knock(rng), float(start))
    truth = {
        "kind": "courtship", "seed": seed, "rate": rate, "width": WIDTH, "height": HEIGHT, "abdomen_px": size,
        "times": t.round(5).tolist(), "boxes": _boxes(stage, [], t), "pulls": pulls, "hidden": [], "cuts_s": [],
        "start_frame": int(1.0 * rate), "moving": moving(stage, t, rate), "bouts": bouts,
        "acts": sorted(acts, key=lambda a: a["start_s"]),
        "speech_s": [[round(float(a), 2), round(float(a) + 4, 2)] for a in voices_at],
    }  # fmt: skip
    return stage, np.clip(sound, -1, 1), truth


def _first_touch(stage: Stage, t: Curve, rate: float, after: float) -> float:
    """When a foot of his first comes within a tenth of her size of her body line or feet."""
    her, him = stage.her, stage.him
    for k in range(int(after * rate), len(t)):
        hers, his = her.points(k)[:10], him.points(k)[2:10]
        gaps = np.hypot(*(hers[:, None] - his[None]).transpose(2, 0, 1))
        if gaps.min() < 0.12 * her.size:
            return round(float(t[k]), 3)
    return float(t[-1])


def _step(t: Curve, animal: Animal, start: float, end: float) -> None:
    """Feet move while the animal walks."""
    inside = ((t >= start) & (t < end)).astype(float)
    for leg in range(8):
        swing = 0.22 * animal.size * np.sin(2 * np.pi * 2.6 * (t - start) + np.pi * (leg % 2)) * inside
        animal.lift[:, leg, 0] += swing


def _bout(rng: np.random.Generator, t: Curve, rate: float, at: float, animal: Animal, hers: bool,
          sound: voices.Sound, bouts: list[dict[str, Any]], size: float) -> float:  # fmt: skip
    """One bout of strikes at an even rate, 5 to 25 of them; returns its end in seconds."""
    hertz = rng.uniform(3, min(12, 0.42 * rate))
    strikes = int(np.clip(round(rng.uniform(0.8, 3.0) * hertz), 5, 25))
    when = at + np.arange(strikes) / hertz + rng.normal(0, 0.02 / hertz, strikes)
    heard = bool(rng.uniform() < (0.4 if hers else 0.7))
    px = float(rng.choice([0.8, 2.5, 4.0, 6.0], p=[0.15, 0.35, 0.3, 0.2]))
    for j, start in enumerate(when):
        shape = np.exp(-(((t - start) / (0.22 / hertz)) ** 2))
        if hers:
            animal.lift[:, 0 if j % 2 else 4, 0] += px * shape
        else:
            animal.palps[:, j % 2] += px / (0.09 * animal.size) * shape
        if heard:
            voices.add(sound, voices.strike(rng, float(0.10 * rng.uniform(0.35, 1.0))), float(start))
    end = float(when[-1])
    bouts.append(
        {"actor": "her" if hers else "him", "start_s": round(float(when[0]), 3), "end_s": round(end, 3),
         "rate_hz": round(float(hertz), 3), "strikes": strikes, "heard": heard, "seen_px": px}
    )  # fmt: skip
    return end


def _clasped(
    rng: np.random.Generator, t: Curve, at: float, her: Animal, him: Animal, size: float
) -> list[dict[str, float]]:
    pulls = []
    at += 1.5
    for _ in range(3):
        onset, takes, held = at + rng.uniform(0.4, 1.5), rng.uniform(0.08, 0.2), rng.uniform(0.8, 2.2)
        pull, tilt, back = rng.uniform(0.1, 0.24), rng.uniform(-9, 9), rng.uniform(0.5, 0.9)
        share = rise(t, onset, onset + takes) - rise(t, onset + takes + held, onset + takes + held + back)
        her.draw += pull * share
        her.tilt += np.radians(tilt) * share
        at = onset + takes + held + back
        pulls.append({"onset_s": onset, "full_s": onset + takes, "release_s": onset + takes + held, "released_s": at,
                      "pull": pull, "tilt_deg": tilt})  # fmt: skip
    return pulls
