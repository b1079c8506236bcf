"""Film of a courtship with sound: short bouts of both animals, walks, room noise and speech, and their truth.

    from tests.film.courting import court
    path, truth = court(3)

Bouts last 0.7 to 3 s and have 5 to 25 strikes, 3 to 12 a second. Some can be seen and heard, some only seen, some
only heard (the animal strikes behind something). Strikes of one bout are neither equally loud nor exactly even.
Seeds from 5000 on are sealed: report sums of them, once, and look at no single film.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film import acts, by_seed
from tests.film.library import cache_folder
from tests.film.profiles import base
from tests.film.recipe import Recipe
from tests.film.render import Renderer, render
from tests.film.spiders import SIDES, Spider
from tests.film.story import Story

SOUND_RATE = 48_000
VERSION = 1  # raised when the films change


@dataclass(slots=True)
class Drumming:
    """One bout: who strikes with what ("palps", "legs"), when (every strike), how far it lifts (abdomen lengths)."""

    who: str
    limb: str
    strikes: np.ndarray
    lift: float
    sharp: bool
    seen: bool
    heard: bool


@dataclass
class Courtship(Story):
    """A story whose palps and legs also strike at times that are given one by one."""

    bouts: list[Drumming] = field(default_factory=list)

    def lifted(self, bout: Drumming, when: np.ndarray | float) -> np.ndarray:
        """How far the limb is off the ground, 0..1, at the times; 0 at each strike."""
        t, s = np.asarray(when, float), bout.strikes
        k = np.clip(np.searchsorted(s, t, side="right") - 1, 0, len(s) - 2)
        turn = (t - s[k]) / (s[k + 1] - s[k])
        up = np.sin(np.pi * np.clip(turn, 0, 1))
        up = up**3 if bout.sharp else up**2
        return np.where((t >= s[0]) & (t <= s[-1]), up, 0.0)

    def palps_at(self, who: str, spider: Spider, when: float) -> np.ndarray:
        tips = super().palps_at(who, spider, when)
        for bout in self.bouts:
            if bout.who == who and bout.limb == "palps" and bout.seen:
                up = bout.lift * float(self.lifted(bout, when))
                tips[:, 2] += up
                tips[:, 0] += 0.3 * up
                tips[:, 1] += 0.1 * up * np.array(SIDES)
        return tips

    def solve_feet(self, who: str, spider: Spider, hz: float = 200.0) -> tuple[np.ndarray, np.ndarray]:
        away, x = self.channels.get(f"{who} away"), f"{who} x"
        if away is not None:  # carried through the air: his feet go with him
            self.channels[x] = self.channels[x] - away
        t, feet = super().solve_feet(who, spider, hz)
        if away is not None:
            self.channels[x] = self.channels[x] + away
            feet[:, :, 0] += np.interp(t, self.t, away)[:, None]
        for bout in self.bouts:
            if bout.who == who and bout.limb == "legs" and bout.seen:
                up = bout.lift * self.lifted(bout, t)
                for leg in (0, 4):
                    feet[:, leg, 2] += up
                    feet[:, leg, :2] -= 0.3 * up[:, None] * np.array([np.cos(np.pi * (who == "him")), 0.0])
        return t, feet


def court(seed: int, **more: Any) -> tuple[Path, dict[str, Any]]:
    """The film of a seed and its truth; rendered once, kept beside the other test film."""
    path = cache_folder("spiders") / f"courting-{VERSION}-{seed:04d}.mp4"
    truth_path = path.with_suffix(".truth.json")
    if not truth_path.exists():
        film, rng = plan(seed)
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        try:
            _, truth = render(film, path, sound(film, rng))
        finally:
            cv2.setNumThreads(threads)
        truth["bouts"] = [_told(film, bout) for bout in film.story.bouts]  # type: ignore[attr-defined]
        truth_path.write_text(json.dumps(truth))
    return path, json.loads(truth_path.read_text())


def _told(film: Recipe, bout: Drumming) -> dict[str, Any]:
    gaps = np.diff(bout.strikes)
    shown = film.shown[1] / film.size[1] * film.scenes[0].view.scale
    return {
        "who": bout.who,
        "limb": bout.limb,
        "start_s": round(float(bout.strikes[0]), 4),
        "end_s": round(float(bout.strikes[-1]), 4),
        "rate_hz": round(1 / float(gaps.mean()), 4),
        "strikes": len(bout.strikes),
        "seen": bout.seen,
        "heard": bout.heard,
        "lift_px": round(bout.lift * shown * 0.4, 2),  # about what it moves on the screen
    }


def shown_px(seed: int) -> list[float]:
    """How many render pixels each bout of a film changes from strike to top (0: only heard); kept beside the film.

    A palp that beats under her, or behind a leg, changes hardly any, however far it moves.
    """
    kept = cache_folder("spiders") / f"courting-{VERSION}-{seed:04d}.shown.json"
    if not kept.exists():
        film, _ = plan(seed)
        renderer = Renderer(film)
        story: Any = film.story
        kept.write_text(json.dumps([_changed(renderer, bout) if bout.seen else 0.0 for bout in story.bouts]))
    return [float(area) for area in json.loads(kept.read_text())]


def _changed(renderer: Renderer, bout: Drumming) -> float:
    areas = []
    for k in np.unique(np.linspace(0, len(bout.strikes) - 2, 4).astype(int)):
        down, up = float(bout.strikes[k]) + 1e-4, float(bout.strikes[k] + bout.strikes[k + 1]) / 2
        view, stage = renderer.recipe.scenes[0].view, renderer.stages[0]
        first = stage.draw(renderer.parts(down, view)).astype(int)
        areas.append(float((np.abs(first - stage.draw(renderer.parts(up, view))).max(axis=2) > 25).sum()))
    return float(np.median(areas))


def plan(seed: int) -> tuple[Recipe, np.random.Generator]:
    """The recipe of one courtship film: 26 to 34 s, six or so bouts, walks and boxing palps between them."""
    rng = np.random.default_rng([seed, 4711])
    sizes, rates = ((480, 270), (480, 270), (640, 360)), (Fraction(25), Fraction(30), Fraction("30000/1001"))
    film = base(rng, "courting", seed, seconds=(26, 34), abdomen=(0.2, 0.34), sizes=sizes, rates=rates)
    if rng.random() < 0.5:
        acts.hold_by_hand(film, rng, float(rng.uniform(0.2, 1.0)))
    old = film.story
    story = Courtship(rng, old.seconds, channels=old.channels)
    film.story = story
    at = float(rng.uniform(1.0, 2.5))
    while at < story.seconds - 4:
        at = _something_else(film, rng, at) if rng.random() < 0.3 else _bout(story, rng, at)
        at += float(rng.uniform(0.6, 2.0))
    return film, rng


def _bout(story: Courtship, rng: np.random.Generator, at: float) -> float:
    rate = float(np.exp(rng.uniform(np.log(3), np.log(12))))
    count = int(np.clip(rng.uniform(0.7, 3.0) * rate, 5, 25))
    strikes = at + np.concatenate([[0], np.cumsum((1 + rng.normal(0, 0.03, count - 1)) / rate)])
    kind = rng.choice(["both", "both", "seen", "heard"])
    bout = Drumming(
        str(rng.choice(["him", "him", "her"])), str(rng.choice(["palps", "palps", "legs"])), strikes,
        float(rng.uniform(0.1, 0.3)), bool(rng.random() < 0.4), kind != "heard", kind != "seen",
    )  # fmt: skip
    story.bouts.append(bout)
    return float(strikes[-1])


def _something_else(film: Recipe, rng: np.random.Generator, at: float) -> float:
    story, seconds = film.story, float(rng.uniform(0.7, 2.2))
    kind = str(rng.choice(["her walk", "his walk", "lurch", "hand", "turn"]))
    if kind == "her walk":
        acts.her_walk(film, rng, at, seconds, 0.7)
    elif kind == "his walk":
        story.walk("him", at, seconds, float(rng.uniform(-0.4, 0.4)), float(rng.uniform(-0.2, 0.2)), 0, 0.5)
    elif kind == "turn":
        story.walk("him", at, seconds, 0, 0, float(rng.uniform(-25, 25)), 0.4)
    elif kind == "lurch":
        story.lurch("him", at, 0.2, float(rng.uniform(-0.15, 0.15)), 0, 0.5)
    else:
        acts.pass_over(film, rng, "brush", at, seconds)
    return at + seconds


# -- sound ----------------------------------------------------------------------------------------------------------
def sound(film: Recipe, rng: np.random.Generator) -> np.ndarray:
    """Strikes of a timbre of each animal, in a room, with noise, in two of three films speech, and a few knocks."""
    story: Any = film.story
    n = int(SOUND_RATE * story.seconds)
    out = np.zeros(n)
    timbre = {"him": _timbre(rng), "her": _timbre(rng)}
    for bout in story.bouts:
        if not bout.heard:
            continue
        loud = float(rng.uniform(0.4, 1.0))
        for at in bout.strikes:
            _lay(out, at, loud * float(rng.uniform(0.45, 1.0)) * _strike(rng, timbre[bout.who]))
    for at in rng.uniform(0.5, story.seconds - 1, int(rng.integers(2, 9))):  # a tool put down, a door
        _lay(out, float(at), float(rng.uniform(0.2, 1.2)) * _strike(rng, _timbre(rng)))
    out = _in_room(out, rng)
    below = float(rng.uniform(10, 30))
    noise = np.cumsum(rng.normal(size=n)) * 0.01
    noise = noise - np.convolve(noise, np.ones(4800) / 4800, mode="same") + rng.normal(size=n)
    out += noise / noise.std() * 0.35 * 10 ** (-below / 20)
    if rng.random() < 0.66:
        out += speech(rng, n, float(rng.uniform(0.1, 0.6)))
    return np.clip(0.5 * out, -1, 1)


def _timbre(rng: np.random.Generator) -> tuple[float, float, float, float]:
    """Frequency of the body tone, its decay, share of hiss, decay of the hiss."""
    return float(rng.uniform(120, 800)), float(rng.uniform(0.008, 0.025)), float(rng.uniform(0.1, 0.8)), 0.006


def _strike(rng: np.random.Generator, timbre: tuple[float, float, float, float]) -> np.ndarray:
    hz, decay, hiss, short = timbre
    t = np.arange(int(0.08 * SOUND_RATE)) / SOUND_RATE
    tone = np.sin(2 * np.pi * hz * float(rng.uniform(0.95, 1.05)) * t) * np.exp(-t / decay)
    made = (1 - hiss) * tone + hiss * rng.normal(size=len(t)) * np.exp(-t / short)
    return made * np.minimum(1, t / 0.0008) / max(float(np.abs(made).max()), 1e-9)


def _lay(out: np.ndarray, at: float, one: np.ndarray) -> None:
    start = int(at * SOUND_RATE)
    end = min(len(out), start + len(one))
    if 0 <= start < end:
        out[start:end] += one[: end - start]


def _in_room(dry: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    from scipy.signal import fftconvolve

    length = int(float(rng.choice([0.05, 0.25, 0.4])) * SOUND_RATE)
    tail = rng.normal(size=length) * 10 ** (-3 * np.arange(length) / length) * 0.012
    tail[0] = 1.0
    return np.asarray(fftconvolve(dry, tail)[: len(dry)])


def speech(rng: np.random.Generator, n: int, loud: float) -> np.ndarray:
    """Speech-like: a gliding buzz shaped by three formants, in syllables of 90 to 300 ms, hisses, clicks, pauses."""
    out, at = np.zeros(n), 0
    while at < n - SOUND_RATE // 2:
        length = int(rng.uniform(0.09, 0.3) * SOUND_RATE)
        t = np.arange(length) / SOUND_RATE
        pitch = np.linspace(rng.uniform(90, 220), rng.uniform(90, 220), length)
        phase = 2 * np.pi * np.cumsum(pitch) / SOUND_RATE
        formants = rng.uniform([300, 900, 2200], [800, 2000, 3200])
        buzz, tall = np.zeros(length), 0.0
        for k in range(1, 25):
            height = sum(1 / (1 + ((k * pitch.mean() - f) / 120) ** 2) for f in formants)
            buzz, tall = buzz + height * np.sin(k * phase), max(tall, height)
        shape = np.minimum(1, t / 0.03) * np.minimum(1, (t[-1] - t) / 0.05)
        if rng.random() < 0.4:  # s, t
            buzz = buzz + rng.normal(size=length) * tall * np.exp(-((t - 0.03) ** 2) / 0.0006)
        out[at : at + length] += buzz * shape * rng.uniform(0.4, 1)
        at += length + int(rng.choice([0.02, 0.04, 0.08, 0.4, 1.2]) * SOUND_RATE)
    return out / max(float(np.abs(out).max()), 1e-9) * loud


def main() -> None:
    """`python -m tests.film.courting 0 6` renders seeds 0..5."""
    by_seed.render(
        court,
        "`python -m tests.film.courting 0 6` renders seeds 0..5.",
        lambda t: f"{len(t['bouts'])} bouts {t['clip']['frames']} frames",
    )


if __name__ == "__main__":
    main()
