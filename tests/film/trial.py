"""Film of a whole pairing, from hand to hand, with the truth of every act: what the draft is measured on.

    from tests.film.trial import trial
    path, truth = trial(3)

A hand sets him down; he walks, drums, she may answer; their legs meet; he holds her and she is pulled; he lets go and
walks off or bolts; she stays still; a hand takes him. Truth: `acts`, each with act, actor, start_s and end_s.
Seeds from 5000 on are sealed.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film import acts, by_seed, courting
from tests.film.courting import Courtship, Drumming
from tests.film.library import cache_folder
from tests.film.profiles import base, scene_view
from tests.film.recipe import Recipe
from tests.film.render import Actors, render
from tests.film.spiders import Spider
from tests.film.textures import hand
from tests.film.truth import boxes

VERSION = 3  # raised when the films change
_FAR_OFF = 40.0  # where he is before the hand brings him
_TOUCH = 0.16  # world units between a foot of his and a leg or the body of hers


def trial(seed: int) -> tuple[Path, dict[str, Any]]:
    """The film of a seed and its truth; rendered once. `boxes` of the truth are the keeper's outlines."""
    path = cache_folder("spiders") / f"trial-{VERSION}-{seed:04d}.mp4"
    truth_path = path.with_suffix(".truth.json")
    if not truth_path.exists():
        film, told, rng = plan(seed)
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        try:
            renderer, truth = render(film, path, courting.sound(film, rng))
        finally:
            cv2.setNumThreads(threads)
        truth["acts"] = [*told, *_met(film, renderer.actors, told)]
        truth["acts"].sort(key=lambda act: act["start_s"])
        truth["boxes"] = boxes(truth, np.random.default_rng([seed, 9]), 1.05)
        truth_path.write_text(json.dumps(truth))
    return path, json.loads(truth_path.read_text())


def _act(act: str, actor: str, start: float, end: float | None) -> dict[str, Any]:
    return {"act": act, "actor": actor, "start_s": float(start), "end_s": None if end is None else float(end)}


def plan(seed: int) -> tuple[Recipe, list[dict[str, Any]], np.random.Generator]:
    """The recipe of one film, its acts but for the contact, and the generator for its sound."""
    rng = np.random.default_rng([seed, 815])
    sizes, rates = ((480, 270), (640, 360)), (Fraction(25), Fraction(30), Fraction("30000/1001"))
    film = base(rng, "trial", seed, seconds=(70, 70), abdomen=(0.13, 0.2), sizes=sizes, rates=rates)
    film.sound = True
    scale = film.scenes[0].view.scale
    film.scenes[0].view = scene_view(
        rng, film.size, scale, turn=float(rng.choice([0.0, np.pi]) + rng.uniform(-0.5, 0.5)), aim=(1.9, 0.0)
    )
    if rng.random() < 0.35:
        acts.hold_by_hand(film, rng, float(rng.uniform(0.2, 0.7)))
    story = Courtship(rng, film.story.seconds, channels=film.story.channels)
    film.story = story
    story.channels["him x"] = np.zeros_like(story.t)
    story.channels["him away"] = np.zeros_like(story.t)
    story.channels["him y"] = np.zeros_like(story.t)
    story.channels["him heading"] = np.full_like(story.t, np.pi)
    told: list[dict[str, Any]] = []
    place = float(rng.uniform(4.6, 5.2))
    at = _brought(film, rng, told, 0.8, place)
    at, place = _comes(story, rng, told, at, place)
    at = _holds(film, rng, told, at)
    at = _leaves(story, rng, told, at)
    end = _taken(film, rng, told, at)
    story.seconds = min(end, story.seconds)
    film.pts = film.pts[film.pts * float(film.time_base) < story.seconds]
    return film, told, rng


def _hand(film: Recipe, rng: np.random.Generator, start: float, seconds: float, x: float) -> None:
    resolution = 90.0
    sprite = hand(rng, 5.5 * resolution, 1.7 * resolution, bool(rng.random() < 0.3))
    way = float(rng.choice([-1, 1]))
    out = np.array([0.35, way])
    over = np.array([x, 0.0]) + 2.1 * out
    path = np.array([over + 7 * out, over, over, over, over + 7 * out])
    film.story.occlude(
        "hand", start, start + seconds, sprite, resolution, path, float(np.arctan2(*out[::-1])) + np.pi
    )


def _carry(film: Recipe, away: np.ndarray) -> None:
    for name in ("him away", "him x"):
        film.story.add(name, away)


def _brought(film: Recipe, rng: np.random.Generator, told: list[dict[str, Any]], at: float, x: float) -> float:
    seconds = float(rng.uniform(3.0, 5.0))
    _hand(film, rng, at, seconds, x)
    middle = at + 0.5 * seconds
    _carry(film, _FAR_OFF * (1 - film.story.ramp(middle, 0.03)))
    film.story.add("him x", x)
    let_go = at + 0.75 * seconds
    told.append(_act("introduced", "keeper", let_go, None))
    return at + seconds + float(rng.uniform(0.5, 1.5))


def _walk(story: Courtship, told: list[dict[str, Any]], at: float, seconds: float, ahead: float) -> float:
    story.walk("him", at, seconds, ahead, 0.0, 0.0, 0.4)
    told.append(_act("searching", "him", at, at + seconds))
    return at + seconds


def _drums(story: Courtship, rng: np.random.Generator, told: list[dict[str, Any]], who: str, at: float) -> float:
    rate = float(np.exp(rng.uniform(np.log(3.5), np.log(11))))
    count = int(np.clip(rng.uniform(0.9, 3.0) * rate, 6, 25))
    strikes = at + np.concatenate([[0], np.cumsum((1 + rng.normal(0, 0.03, count - 1)) / rate)])
    limb = "legs" if who == "her" or rng.random() < 0.3 else "palps"
    heard = bool(rng.random() < 0.8)
    story.bouts.append(
        Drumming(who, limb, strikes, float(rng.uniform(0.15, 0.35)), bool(rng.random() < 0.4), True, heard)
    )
    told.append(_act("drumming" if who == "him" else "answering", who, strikes[0], strikes[-1]))
    told[-1] |= {"rate_hz": 1 / float(np.diff(strikes).mean()), "heard": heard}
    return float(strikes[-1])


def _comes(
    story: Courtship, rng: np.random.Generator, told: list[dict[str, Any]], at: float, x: float
) -> tuple[float, float]:
    near = float(rng.uniform(3.4, 3.9))
    at = _walk(story, told, at, float(rng.uniform(1.5, 3.0)), x - near) + float(rng.uniform(0.5, 1.5))
    for _ in range(int(rng.integers(1, 4))):
        at = _drums(story, rng, told, "him", at) + float(rng.uniform(0.4, 1.5))
        if rng.random() < 0.5:
            at = _drums(story, rng, told, "her", at) + float(rng.uniform(0.4, 1.5))
    at = _walk(story, told, at, float(rng.uniform(1.5, 3.0)), near - 1.25)
    return at, 1.25


def _holds(film: Recipe, rng: np.random.Generator, told: list[dict[str, Any]], at: float) -> float:
    story, begin = film.story, at + 0.3
    at += float(rng.uniform(1.5, 3.0))
    for _ in range(int(rng.integers(1, 4))):
        story.beat("him", at - 1.2, 1.0, rng.uniform(4, 9), 0.08, "box")
        told.append(_act("palp paddling", "him", at - 1.2, at - 0.2))
        hold = float(rng.uniform(0.8, 2.5))
        size = float(rng.uniform(0.08, 0.25))
        story.pull(
            at, float(rng.uniform(0.08, 0.25)), hold, float(rng.uniform(0.2, 1.0)), size, 0.0, rng.uniform(-10, 10)
        )
        told.append(_act("abdomen pull", "her", at, None))
        at += hold + float(rng.uniform(1.5, 3.0))
    told.append(_act("clasp", "him", begin, at))
    told.append(_act("release", "him", at, None))
    return at


def _leaves(story: Courtship, rng: np.random.Generator, told: list[dict[str, Any]], at: float) -> float:
    bolts = bool(rng.random() < 0.5)
    seconds = float(rng.uniform(0.4, 0.8) if bolts else rng.uniform(2.0, 4.0))
    story.walk("him", at, seconds, -float(rng.uniform(2.6, 3.4)), 0.0, 0.0, 0.1 if bolts else 0.4)
    told.append(_act("bolting" if bolts else "retreat", "him", at, at + seconds))
    still = float(rng.uniform(5, 9))
    told.append(_act("stillness", "her", at, at + still))
    at += still
    story.walk("her", at, 1.2, -float(rng.uniform(0.3, 0.6)), 0.0, float(rng.uniform(-20, 20)), 0.4)
    return at + 1.2 + float(rng.uniform(1.0, 2.0))


def _taken(film: Recipe, rng: np.random.Generator, told: list[dict[str, Any]], at: float) -> float:
    seconds = float(rng.uniform(2.5, 4.0))
    x = film.story.at("him x", at)
    _hand(film, rng, at, seconds, x)
    _carry(film, _FAR_OFF * film.story.ramp(at + 0.5 * seconds, 0.03))
    told.append(_act("separated", "keeper", at + 0.5 * seconds, None))
    return at + seconds + 1.0


def _met(film: Recipe, actors: Actors, told: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """First contact: the first time at which a foot of his is on a leg or the body of hers, after the hand let go."""
    assert actors.him is not None
    begin = next(a["start_s"] for a in told if a["act"] == "introduced")
    for when in np.arange(begin, film.story.seconds, 0.04):
        his, hers = actors.pose("him", float(when)), actors.pose("her", float(when))
        if _near(actors.her, hers, his.feet[:, :2]) <= _TOUCH:
            return [_act("contact", "both", float(when), None)]
    return []


def _near(spider: Spider, pose: Any, points: np.ndarray) -> float:
    least = np.inf
    middle = np.array([pose.x, pose.y])
    for leg in range(8):
        a, b = spider.hip(pose, leg), pose.feet[leg][:2]
        along = b - a
        share = np.clip(((points - a) @ along) / max(float(along @ along), 1e-9), 0, 1)
        least = min(least, float(np.hypot(*(points - a - share[:, None] * along).T).min()))
    return min(least, float(np.hypot(*(points - middle).T).min()) - 0.4)


def main() -> None:
    """`python -m tests.film.trial 0 6` renders seeds 0..5."""
    by_seed.render(
        trial,
        "`python -m tests.film.trial 0 6` renders seeds 0..5.",
        lambda t: f"{len(t['acts'])} acts {t['clip']['duration_s']} s",
    )


if __name__ == "__main__":
    main()
