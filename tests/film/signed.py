"""Film of pulls whose signs are known: palps that stop or go on, her body that turns or not, him stretched or not.

    from tests.film.signed import signed
    path, truth = signed(3)

Truth: for every entry of `pulls` an entry of `signs` with `stirred` (his palps beat before), `still` (they stopped
with the pull), `turn_deg` (of her whole body, as seen on the screen, clockwise), `stretch` (of his body, as a share
of its length), `near` (gap between his body and her abdomen, in her abdomen lengths), `in_view` (he is in the
picture). `boxes` outlines her abdomen and him, `her` her abdomen alone. Seeds from 5000 on are sealed.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.film import acts, by_seed
from tests.film.library import cache_folder
from tests.film.profiles import base, scene_view
from tests.film.recipe import Recipe
from tests.film.render import Renderer, render, through
from tests.film.truth import boxes

VERSION = 1  # raised when the films change
SECONDS = 34.0


def signed(seed: int) -> tuple[Path, dict[str, Any]]:
    """The film of a seed and its truth; rendered once, kept beside the other test film."""
    path = cache_folder("spiders") / f"signed-{VERSION}-{seed:04d}.mp4"
    truth_path = path.with_suffix(".truth.json")
    if not truth_path.exists():
        film, told = plan(seed)
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        try:
            renderer, truth = render(film, path)
        finally:
            cv2.setNumThreads(threads)
        truth["signs"] = [_on_screen(film, renderer, one) for one in told]
        hers = boxes(truth, np.random.default_rng([seed, 9]), 1.05)
        truth["her"] = hers
        first = float(hers["boxes"][0]["time_s"])
        truth["boxes"] = {"boxes": [*hers["boxes"], _his_box(film, renderer, first)]}
        truth_path.write_text(json.dumps(truth))
    return path, json.loads(truth_path.read_text())


def plan(seed: int, seconds: float = SECONDS) -> tuple[Recipe, list[dict[str, Any]]]:
    """The recipe of one film and the signs of its pulls."""
    rng = np.random.default_rng([seed, 2718])
    sizes, rates = ((480, 270), (640, 360)), (Fraction(25), Fraction(30))
    film = base(rng, "signed", seed, seconds=(seconds, seconds), abdomen=(0.17, 0.28), sizes=sizes, rates=rates)
    scale = film.scenes[0].view.scale
    turn = float(rng.choice([0.0, np.pi]) + rng.uniform(-0.5, 0.5))
    film.scenes[0].view = scene_view(rng, film.size, scale, turn=turn, aim=(0.4, 0.0))
    if rng.random() < 0.4:
        acts.hold_by_hand(film, rng, float(rng.uniform(0.2, 0.7)))
    told: list[dict[str, Any]] = []
    at, far = 3.0, film.story.at("him x", 0.0)
    while at < film.story.seconds - 4.5:
        if rng.random() < 0.35:  # he steps back or comes up again
            to = float(rng.uniform(1.05, 1.5) if far > 1.6 else rng.uniform(1.7, 2.1))
            film.story.walk("him", at - 1.5, 1.2, far - to, 0.0, 0.0, 0.4)
            far, at = to, at + 1.8
        told.append(_pull(film, rng, at))
        at += float(told[-1]["hold"]) + 4.0
    return film, told


def _pull(film: Recipe, rng: np.random.Generator, at: float) -> dict[str, Any]:
    story = film.story
    rise, hold = float(rng.uniform(0.1, 0.25)), float(rng.uniform(1.4, 2.2))
    story.pull(at, rise, hold, 0.5, float(rng.uniform(0.08, 0.2)), 0.0, float(rng.uniform(-8, 8)))
    stirred, still = bool(rng.random() < 0.75), bool(rng.random() < 0.5)
    if stirred:
        rate, size = float(rng.uniform(4, 9)), float(rng.uniform(0.08, 0.18))
        end = at + (0.5 * rise if still else rise + hold - 0.1)
        story.beat("him", at - 1.4, end - at + 1.4, rate, size, "box")
    turn = float(rng.choice([-1, 1]) * rng.uniform(6, 15)) if rng.random() < 0.5 else 0.0
    long = float(rng.uniform(0.10, 0.22)) if rng.random() < 0.5 else 0.0
    shape = story.bump(at, rise, hold, 0.5)
    story.add("her heading", np.radians(turn) * shape)
    ahead = long * film.him.size * 1.6  # of a body of carapace and abdomen
    heading = story.at("him heading", at)
    story.add("him x", ahead * np.cos(heading) * shape)
    story.add("him y", ahead * np.sin(heading) * shape)
    story.add("him forward", -ahead / (film.him.size * film.him.abdomen) * shape)  # his abdomen stays where it is
    return {"at": at, "rise": rise, "hold": hold, "stirred": stirred, "still": stirred and still}


def _outlines(film: Recipe, renderer: Renderer, who: str, when: float) -> tuple[np.ndarray, np.ndarray]:
    """Abdomen and carapace as seen at an instant, without the camera's motion: points (k, 2), shown pixels."""
    view, zoom = film.scenes[0].view, film.shown[0] / film.size[0]
    spider = renderer.actors.her if who == "her" else renderer.actors.him
    assert spider is not None
    pose = renderer.actors.pose(who, when)
    c, s = np.cos(pose.heading), np.sin(pose.heading)
    around = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    size = spider.look.size
    oval = np.stack([0.42 * size * np.cos(around), 0.35 * size * np.sin(around)], axis=1)
    shell = np.array([view.place(pose.x + c * x - s * y, pose.y + s * x + c * y, 0.25 * size) for x, y in oval])
    return spider.outline(pose, view) * zoom, shell * zoom


def _on_screen(film: Recipe, renderer: Renderer, one: dict[str, Any]) -> dict[str, Any]:
    before, after = one["at"] - 0.15, one["at"] + one["rise"] + 0.5
    her = [_outlines(film, renderer, "her", when) for when in (before, after)]
    him = [_outlines(film, renderer, "him", when) for when in (before, after)]
    axes = [shell[0] - shell[12] for _, shell in her]
    turn = np.degrees(np.arctan2(axes[1][1], axes[1][0]) - np.arctan2(axes[0][1], axes[0][0]))
    forward = him[0][1][0] - him[0][1][12]
    forward /= np.hypot(*forward)
    spans = [float(np.ptp(np.concatenate(parts) @ forward)) for parts in him]
    length = float(np.hypot(*(her[0][0][0] - her[0][0][len(her[0][0]) // 2])))
    gaps = np.hypot(*(np.concatenate(him[0])[:, None] - her[0][0][None]).transpose(2, 0, 1))
    matrix, zoom = renderer.camera(before), film.shown[0] / film.size[0]
    shown = through(matrix, np.concatenate(him[0]) / zoom) * zoom
    inside = ((shown > 2) & (shown < np.array(film.shown) - 2)).all(axis=1).mean()
    return {
        "stirred": one["stirred"],
        "still": one["still"],
        "turn_deg": round(float((turn + 180) % 360 - 180), 2),
        "stretch": round(spans[1] / spans[0] - 1, 4),
        "near": round(float(gaps.min()) / length, 3),
        "in_view": bool(inside > 0.9),
    }


def _his_box(film: Recipe, renderer: Renderer, when: float) -> dict[str, Any]:
    """The keeper's outline of him: carapace and abdomen, without the legs."""
    zoom = film.shown[0] / film.size[0]
    points = np.concatenate(_outlines(film, renderer, "him", when)) / zoom
    shown = through(renderer.camera(when), points) * zoom
    low, high = np.maximum(shown.min(axis=0), 0), np.minimum(shown.max(axis=0), np.array(film.shown) - 1)
    w, h = np.maximum(high - low, 8)
    return {"time_s": when, "part": "male", "x": round(float(low[0]), 1), "y": round(float(low[1]), 1),
            "w": round(float(w), 1), "h": round(float(h), 1)}  # fmt: skip


def main() -> None:
    """`python -m tests.film.signed 0 4` renders seeds 0..3."""
    by_seed.render(
        signed,
        "`python -m tests.film.signed 0 4` renders seeds 0..3.",
        lambda t: f"{len(t['pulls'])} pulls {t['clip']['frames']} frames",
    )


if __name__ == "__main__":
    main()
