"""Long film in which hardly anything happens, and when an animal moved in it: what the survey is measured on.

    python -m tests.film.long tripod 0 3        renders seeds 0..2 of a kind ("all": every kind)

A film lasts two and a half minutes; the animals move for a tenth to a third of it. Truth (`clipmark-long-film/1`):
`moving`, one entry a second: whether any part of an animal (body, abdomen, feet, palps) was displaced by over 3 %
of that animal's body length within it; `movements` with kind, start and end; `cuts_s`, `light_s`, `camera`.
Seeds from 5000 on are sealed, as for the other films.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import zlib
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from tests.film import acts
from tests.film.library import cache_folder
from tests.film.profiles import COLOURS, DARK, GROUNDS, base, scene_view
from tests.film.recipe import Recipe, Scene
from tests.film.render import Renderer

KINDS = ("tripod", "small", "handheld", "dark", "lamp", "knocks", "sparse", "rate", "cuts")
SECONDS = 150.0
SHARE = 0.03  # of its body length that an animal moves by, to count as moving
BODY = 1.75  # body length in the renderer's unit, her abdomen's length
_PARTS_HZ = 25


def recipe(kind: str, seed: int, seconds: float = SECONDS) -> Recipe:
    """The recipe of one film; the same kind and seed always give the same one."""
    rng = np.random.default_rng([seed, zlib.crc32(f"long {kind}".encode())])
    abdomen = (0.028, 0.05) if kind == "small" else (0.06, 0.22)
    dark = kind == "dark"
    film = base(
        rng, "tripod", seed, (seconds, seconds), abdomen,
        sizes=((640, 360), (640, 480), (1280, 720)) if kind != "small" else ((1280, 720),),
        rates=(Fraction(25), Fraction(30), Fraction("30000/1001")),
        contrast=(0.2, 0.5) if dark else (0.5, 1.2),
        grounds=("soil", "bark", "moss") if dark else GROUNDS,
        her=DARK if dark else tuple(COLOURS),
        noise=(2.0, 5.0) if dark else (0.8, 3.5),
    )  # fmt: skip
    film.profile, film.parallax = f"long {kind}", 0.0
    rate = float(film.rate)
    film.options |= {"g": str(round(rate * (8 if kind == "sparse" else 2))), "crf": str(int(rng.integers(18, 27)))}
    if kind == "sparse" and rng.random() < 0.4:
        film.options["g"] = "100000"
        film.options["sc_threshold"] = "0"
    if kind == "rate":
        bits = str(int(film.shown[0] * film.shown[1] * rate * 0.1))
        del film.options["crf"]
        film.options |= {
            "b": bits,
            "minrate": bits,
            "maxrate": bits,
            "bufsize": str(int(bits) // 2),
            "nal-hrd": "cbr",
        }
    if dark:
        film.story.add("gain", np.log(rng.uniform(0.45, 0.9)))
    if kind in ("handheld",) or (dark and rng.random() < 0.4):
        acts.hold_by_hand(film, rng, rng.uniform(0.3, 1.0))
    if kind == "lamp":
        film.flicker = (float(rng.choice([100.0, 120.0])), float(rng.uniform(0.04, 0.2)))
        film.shutter = float(rng.choice([1 / 500, 1 / 240, 1 / 120]))
        film.readout = float(rng.uniform(0.008, 0.025))
    busy = _happenings(film, rng)
    if kind in ("lamp", "knocks", "dark"):
        _trouble(film, rng, busy, kind)
    if kind == "cuts":
        _views(film, rng)
    return film


def _happenings(film: Recipe, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Bouts of movement with long stillness between."""
    story, busy = film.story, []
    at = float(rng.uniform(4, 15))
    near = True
    while at < story.seconds - 12:
        kind = str(rng.choice(["walk him", "walk her", "drum", "tap", "pull", "lurch", "turn", "away", "box"]))
        long = float(np.exp(rng.uniform(np.log(0.6), np.log(9))))
        if kind == "walk him":
            story.walk("him", at, long, rng.uniform(-0.25, 0.35), rng.uniform(-0.4, 0.4), rng.uniform(-40, 40))
        elif kind == "walk her":
            acts.her_walk(film, rng, at, long, float(rng.uniform(0.2, 1.0)))
        elif kind == "turn":
            story.walk("her", at, long, 0, 0, rng.choice([-1, 1]) * rng.uniform(8, 40))
        elif kind in ("drum", "box"):
            long = min(long, 4.0)
            story.beat("him", at, long, rng.uniform(3, 10), rng.uniform(0.08, 0.2), kind)
        elif kind == "tap":
            long = min(long, 4.0)
            who = str(rng.choice(["her", "him"]))
            story.tap(
                who,
                at,
                long,
                rng.uniform(1.5, 6),
                rng.uniform(0.15, 0.4),
                ((0, 4), (0,), (3, 7))[int(rng.integers(3))],
            )
        elif kind == "pull":
            rise, hold, fall = rng.uniform(0.1, 0.4), rng.uniform(0.6, 6.0), rng.uniform(0.3, 0.8)
            a, size = float(rng.normal(0, 0.4)), float(rng.uniform(0.08, 0.2))
            story.pull(at, rise, hold, fall, size * np.cos(a), size * np.sin(a))
            long = rise + hold + fall
        elif kind == "lurch":
            story.lurch(
                "her", at, rng.uniform(0.1, 0.4), rng.uniform(0.08, 0.2), rng.normal(0, 0.03), rng.choice([None, 1.0])
            )
            long = 1.5
        elif kind == "away":  # he leaves the picture, or comes back
            far = 1.2 * film.size[0] / film.scenes[0].view.scale
            long = max(3.0, min(9.0, far / 2.5))
            story.walk("him", at, long, -far if near else far, 0.0, 0.0, 0.4)
            near = not near
        busy.append((at, at + long))
        at += long + float(np.exp(rng.uniform(np.log(4), np.log(30))))
    return busy


def _trouble(film: Recipe, rng: np.random.Generator, busy: list[tuple[float, float]], kind: str) -> None:
    """Knocks at the camera, pans and light steps, mostly while nothing moves."""
    story = film.story
    for _ in range(int(rng.integers(4, 8))):
        at = float(rng.uniform(3, story.seconds - 6))
        what = str(
            rng.choice(["step", "white"] if kind == "lamp" else ["bump", "bump", "pan", "zoom", "step", "refocus"])
        )
        if what == "step":
            story.light_step(at, rng.choice([rng.uniform(0.6, 0.88), rng.uniform(1.12, 1.5)]), rng.uniform(0.03, 0.6))
        elif what == "white":
            story.white_step(at, rng.uniform(-0.12, 0.12), rng.uniform(-0.15, 0.15))
        elif what == "bump":
            story.bump_camera(at, float(np.exp(rng.uniform(np.log(0.004), np.log(0.04)))))
        elif what == "pan":
            story.pan(
                at, rng.uniform(0.3, 1.2), rng.uniform(-0.12, 0.12), rng.uniform(-0.1, 0.1), bool(rng.random() < 0.5)
            )
        elif what == "zoom":
            story.zoom(at, rng.uniform(0.05, 0.6), rng.uniform(1.05, 1.2), rng.uniform(1.0, 1.8))
        else:
            story.refocus(at, 1.4, rng.uniform(2, 6))
    curve = story.curve("gain")
    story.channels["gain"] = np.clip(curve, curve[0] - 0.55, curve[0] + 0.5)


def _views(film: Recipe, rng: np.random.Generator) -> None:
    """Two to five other angles."""
    first = film.scenes[0]
    times = np.sort(rng.uniform(10, film.story.seconds - 10, int(rng.integers(2, 6))))
    for k, when in enumerate(times[np.r_[True, np.diff(times) > 4]]):
        scale = first.view.scale * float(rng.uniform(0.75, 1.25))
        aim = (film.story.at("her x", when) - 0.35, film.story.at("her y", when))
        view = scene_view(rng, film.size, scale, aim=aim)
        ground = first.ground if rng.random() < 0.7 else str(rng.choice(GROUNDS))
        film.scenes.append(Scene(float(when), view, ground, film.seed * 10 + 2 + k, first.grain, first.contrast))


class LongRenderer(Renderer):
    """Draws the animals anew only when they moved by what could be seen, so that stillness costs little."""

    _drawn: tuple[int, np.ndarray] | None = None

    def _look(self, index: int, when: float, again: bool = False) -> np.ndarray:
        parts = np.concatenate([self._where(when), self._covers(when)])
        scale = self.recipe.scenes[index].view.scale
        if self._drawn is not None and self._drawn[0] == index:
            before = self._drawn[1]
            again = again or (len(before) == len(parts) and float(np.abs(before - parts).max()) * scale < 0.25)
        else:
            again = False
        if not again:
            self._drawn = (index, parts)
        return super()._look(index, when, again)

    def _where(self, when: float) -> np.ndarray:
        out = []
        for who in ("her", "him"):
            pose = self.actors.pose(who, when)
            out += [
                pose.x,
                pose.y,
                pose.heading,
                *pose.draw,
                pose.turn,
                0.5 * pose.stretch,
                0.5 * pose.swell,
                pose.rear,
            ]
            out += [*pose.feet.ravel(), *pose.palps.ravel()]
        return np.array(out, float)

    def _covers(self, when: float) -> np.ndarray:
        return np.array([when * 9 for item in self.recipe.story.occluders if item["start"] <= when < item["end"]])

    def _record(self, index: int, when: float) -> None:
        return


def truth_of(film: Recipe, renderer: Renderer) -> dict[str, Any]:
    """When an animal moved, second by second, from the poses that were rendered."""
    seconds = int((int(film.pts[-1]) - int(film.pts[0])) * film.time_base) + 1
    moving, share = [], []
    for second in range(seconds):
        most = 0.0
        for who, look in (("her", film.her), ("him", film.him)):
            spots = np.stack([_spots(renderer, who, second + k / _PARTS_HZ) for k in range(_PARTS_HZ + 1)])
            inside = _inside(film, spots, second)
            way = np.hypot(*(spots.max(0) - spots.min(0)).T)
            if inside.any():
                most = max(most, float(way[inside].max()) / (BODY * look.size))
        share.append(round(most, 4))
        moving.append(most > SHARE)
    lights = [d for d in film.story.distractors if d.kind in ("light step", "white balance step")]
    camera = [d for d in film.story.distractors if d.kind in ("camera bump", "pan", "zoom step", "refocus")]
    own = [d for d in film.story.distractors if d not in lights and d not in camera]
    return {
        "format": "clipmark-long-film/1",
        "kind": film.profile,
        "seed": film.seed,
        "seconds": (len(film.pts) / float(film.rate)),
        "width": film.shown[0],
        "height": film.shown[1],
        "body_px": round(BODY * film.scenes[0].view.scale * film.shown[0] / film.size[0], 1),
        "options": film.options,
        "moving": moving,
        "moved_share": share,
        "movements": [{"kind": d.kind, "start_s": d.start, "end_s": d.end} for d in own],
        "pulls": [{"onset_s": p.onset, "full_s": p.full, "release_s": p.release} for p in film.story.pulls],
        "light_s": [d.start for d in lights if d.kind == "light step"],
        "camera": [{"kind": d.kind, "start_s": d.start, "end_s": d.end} for d in camera],
        "cuts_s": [scene.start for scene in film.scenes[1:]],
    }


def _spots(renderer: Renderer, who: str, when: float) -> np.ndarray:
    """Places (world) of body, abdomen, feet and palp tips of one animal, (n, 2)."""
    pose = renderer.actors.pose(who, when)
    size = renderer.recipe.her.size if who == "her" else renderer.recipe.him.size
    ahead = np.array([np.cos(pose.heading), np.sin(pose.heading)])
    aside = np.array([-ahead[1], ahead[0]])
    body = np.array([pose.x, pose.y])
    long = size * (renderer.recipe.her.abdomen if who == "her" else renderer.recipe.him.abdomen)
    behind = -(1 + pose.stretch) * long * (ahead * np.cos(pose.turn) + aside * np.sin(pose.turn))
    shift = pose.draw[0] * ahead + pose.draw[1] * aside
    rows = [body, body + 0.5 * behind + shift * size, body + 0.4 * size * ahead]
    rows += [foot[:2] + 0.7 * foot[2] * aside for foot in pose.feet]  # a lift shows as a shift in slanted views
    rows += [body + tip[0] * ahead + tip[1] * aside + 0.7 * tip[2] * ahead for tip in pose.palps]
    return np.array(rows)


def _inside(film: Recipe, spots: np.ndarray, second: int) -> np.ndarray:
    """Which of the spots are in the picture at some time in the second."""
    scene = [s for k, s in enumerate(film.scenes) if k == 0 or second >= s.start][-1]
    width, height = (int(side * 1.5) for side in film.size)
    at = spots @ scene.view.flat().T + np.array(scene.view.centre)
    x, y = at[..., 0] - width / 2, at[..., 1] - height / 2
    return ((np.abs(x) < film.size[0] / 2) & (np.abs(y) < film.size[1] / 2)).any(0)


def long_film(kind: str, seed: int, seconds: float = SECONDS) -> tuple[Path, dict[str, Any]]:
    """The film and its truth, rendered when it is asked for the first time."""
    import tempfile

    import cv2

    from tests.film.encode import write_film

    own = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()[:10]
    folder = cache_folder() / f"long-{own}"
    folder.mkdir(exist_ok=True)
    path = folder / f"{kind}-{seed:04d}-{seconds:.0f}.mp4"
    told = path.with_suffix(".truth.json")
    if not told.exists():
        threads = cv2.getNumThreads()
        cv2.setNumThreads(1)
        handle, name = tempfile.mkstemp(suffix=".part", dir=folder)
        os.close(handle)
        try:
            film = recipe(kind, seed, seconds)
            renderer = LongRenderer(film)
            write_film(Path(name), renderer.frames(), film.pts, film.time_base, film.rate, film.options)
            os.replace(name, path)
            told.write_text(json.dumps(truth_of(film, renderer)))
        finally:
            cv2.setNumThreads(threads)
            Path(name).unlink(missing_ok=True)
    return path, json.loads(told.read_text())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=(*KINDS, "all"))
    parser.add_argument("first", type=int)
    parser.add_argument("stop", type=int)
    chosen = parser.parse_args()
    for seed in range(chosen.first, chosen.stop):
        for kind in KINDS if chosen.kind == "all" else (chosen.kind,):
            path, truth = long_film(kind, seed)
            print(path, sum(truth["moving"]), "seconds of", len(truth["moving"]), "with movement", flush=True)


if __name__ == "__main__":
    main()
