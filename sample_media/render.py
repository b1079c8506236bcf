"""Renders the sample session: an invented pairing of two invented tarantulas, with sound and truth.

    python sample_media/render.py                # from the top of the repository; some minutes
    python sample_media/render.py --stills DIR   # a few full frames only, to look at

Writes beside itself pairing.mp4, pairing.truth.json (see tests/film/truth.py), pairing.boxes.json and session.json.
Deterministic: the same machine gives the same bytes. The spiders and the lens are those of the test films
(tests/film); scenery is in scenery.py, story and sound are here. Nothing was filmed: animals, dates and place are
invented.
"""

from __future__ import annotations

import argparse
import json
import sys
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE)]

from scenery import scenery  # noqa: E402

from tests.film.encode import write_film  # noqa: E402
from tests.film.recipe import Recipe, Scene  # noqa: E402
from tests.film.render import MARGIN, Renderer  # noqa: E402
from tests.film.spiders import Look  # noqa: E402
from tests.film.stage import View  # noqa: E402
from tests.film.story import Story, wander  # noqa: E402
from tests.film.truth import document  # noqa: E402

SEED = 20260214
SECONDS, RATE, TICKS = 90.0, Fraction(25), 12800
SOUND_RATE = 48000
CUT = 62.0
FEMALE = {"name": "Copal", "species": "Brachypelma hamorii", "born": "2019", "origin": "captive-bred", "owner": ""}
MALE = {
    "name": "Ocote",
    "species": "Brachypelma hamorii",
    "born": "2021",
    "origin": "captive-bred",
    "owner": "on loan",
}
# The four pulls: start, rise, hold, fall (s), forward, side (abdomen lengths), tilt (degrees).
PULLS = (
    (39.2, 0.20, 4.6, 1.4, 0.17, 0.03, 6.0),
    (54.6, 0.14, 2.6, 0.22, 0.09, -0.04, -9.0),
    (66.4, 0.24, 3.2, 0.9, 0.065, 0.02, 4.5),
    (72.6, 0.12, 2.0, 0.7, 0.13, 0.0, 8.0),
)
DRUMMING = ((5.6, 3.4, 5.0), (10.6, 2.8, 5.6))  # start, seconds, strikes of one palp a second
PADDLING = ((28.2, 5.4), (35.6, 3.4), (45.6, 2.0), (51.4, 3.0), (63.0, 3.2), (70.6, 1.8))


def story() -> Story:
    """What happens, in seconds of the film."""
    rng = np.random.default_rng(SEED)
    told = Story(rng, SECONDS)
    told.breathe("her", 0.45, 0.003)
    told.breathe("him", 0.7, 0.003)
    told.drift("her", 0.004, 0.3)
    told.add("him x", 4.3)
    told.add("him y", 0.18)
    told.add("him heading", np.pi + 0.12)
    told.walk("him", 2.0, 2.8, 0.55, 0.02, -4, 0.5)
    for start, seconds, rate in DRUMMING:
        told.beat("him", start, seconds, rate, 0.3, "drum")
    told.tap("her", 14.2, 1.9, 5.0, 0.32, (0, 4))  # she answers
    told.walk("him", 16.4, 3.7, 2.25, 0.10, -3, 0.5)
    told.tap("him", 19.9, 4.4, 2.2, 0.3, (0, 4, 1))  # contact and leg play
    told.bump_camera(22.4, 0.03)
    told.add("her rear", 0.85 * told.bump(25.0, 1.2, 51.0, 1.2))  # she rears; he goes in under her
    told.walk("him", 25.4, 1.6, 0.22, -0.08, 0, 0.2)
    for start, seconds in PADDLING:
        told.beat("him", start, seconds, 4.6, 0.13)
    # A failed attempt: he lunges and slides off; the whole female rocks, her abdomen with her.
    told.lurch("him", 34.0, 0.25, 0.12, 0.03, 0.9)
    told.lurch("her", 34.1, 0.30, -0.05, 0.01, 0.8)
    told.beat("him", 34.2, 0.8, 9.0, 0.10)
    for start, rise, hold, fall, forward, side, tilt in PULLS:
        told.pull(start, rise, hold, fall, forward, side, tilt, 0.06)
        told.lurch("him", start - 0.1, 0.25, 0.05, 0.0, rise + hold)
    told.walk("her", 47.9, 1.7, 0.26, 0.05, 11, 0.4)  # a step of the whole female, he goes with her
    shape = told.ramp(47.95, 1.7)
    told.add("him x", 0.26 * shape)
    told.add("him y", 0.03 * shape)
    told.light_step(59.0, 1.22, 0.12)
    told.walk("him", 76.8, 1.2, -0.42, 0.0, 0, 0.3)  # he lets go and backs off
    told.walk("him", 80.6, 1.1, -0.25, 0.15, 118, 0.2)
    told.walk("him", 81.6, 3.6, 2.9, -0.3, 14, 0.6)  # retreat
    told.tap("her", 84.6, 3.4, 1.1, 0.22, (3, 7))  # she wipes her abdomen with her fourth legs
    told.handheld(0.010, 0.0010, 0.5, 0.006)
    closer = told.ramp(16.0, 8.0)
    told.add("cam zoom", 0.36 * closer)
    told.add("cam x", 0.30 * closer)
    told.add("cam zoom", -0.16 * told.ramp(79.5, 3.0))
    return told


def recipe() -> Recipe:
    """Everything that is rendered."""
    floor = (scenery(np.random.default_rng(SEED + 1), 150.0), 150.0)
    size, shown = (1280, 720), (640, 360)
    scenes = [
        Scene(0.0, _view(size, 158.0, -0.12, 0.80, (1.55, 0.0)), "soil", 0, 1, 1, "film", 0.0, floor),
        Scene(
            CUT, _view(size, 140.0, 2.35, 0.42, (0.45, 0.05), -0.3 * 720 / 1.43), "soil", 0, 1, 1, "cut", 0.0, floor
        ),
    ]
    step = TICKS / RATE
    return Recipe(
        profile="sample", seed=SEED, story=story(),
        her=Look("ember", 1.0, 1.0, 0.78, 1.0, "", 1.2, 1.0, 1.1, 1.1, True),
        him=Look("ember", 0.74, 1.35, 0.62, 0.78, "", 1.0, 1.0, 1.25, 0.92, True),
        scenes=scenes, size=size, shown=shown, rate=RATE, time_base=Fraction(1, TICKS),
        pts=np.array([round(k * step) for k in range(int(SECONDS * RATE))], np.int64),
        shutter=1 / 60, noise=1.3, softness=0.5, sharpen=0.25, vignette=0.28, readout=0.012, flicker=(100.0, 0.0),
        saturation=1.0, options={"crf": "25", "preset": "slow", "g": "125", "bf": "2"}, sun=(0.62, 0.55),
        legs_over=(), his_legs_over=True, parallax=0.25, box_slack=1.04,
    )  # fmt: skip


def _view(
    size: tuple[int, int], scale: float, turn: float, slant: float, aim: tuple[float, float], shift: float = 0.0
) -> View:
    """A view aimed at a world place; `shift` px to the right undo what the operator's pan adds."""
    view = View(scale, turn, slant, (0.0, 0.0))
    middle = np.array([int(s * MARGIN) for s in size]) / 2
    view.centre = tuple(middle + np.array([shift, 0.0]) - view.flat() @ np.array(aim))
    return view


# -- sound --------------------------------------------------------------------------------------------------------
def sound(told: Story) -> np.ndarray:
    """Mono: a room's hush, taps of drumming palps, her answering legs, steps, the knock of the camera bump."""
    rng = np.random.default_rng(SEED + 2)
    n = int(SECONDS * SOUND_RATE)
    spectrum = rng.standard_normal(n // 2 + 1) + 1j * rng.standard_normal(n // 2 + 1)
    hush = np.fft.irfft(spectrum / np.maximum(np.fft.rfftfreq(n, 1 / SOUND_RATE), 40) ** 0.8, n)
    t = np.arange(n) / SOUND_RATE
    out = 0.0025 * hush / hush.std() + 0.0006 * np.sin(2 * np.pi * 100 * t) + 0.0004 * np.sin(2 * np.pi * 200 * t)
    for k, when in enumerate(sorted(told.strikes)):
        _knock(out, when, 0.13 * float(np.exp(rng.normal(0, 0.15))), (210, 265)[k % 2], 0.020, rng)
    for k in range(int(2 * 5.0 * 1.9)):
        _knock(out, 14.2 + (k + 0.5) / (2 * 5.0), 0.05, 330, 0.016, rng)
    _knock(out, 22.4, 0.22, 90, 0.06, rng)
    for start, seconds in ((2.0, 2.6), (16.8, 2.8), (47.9, 1.7), (81.6, 3.6)):
        a, b = int(start * SOUND_RATE), int((start + seconds) * SOUND_RATE)
        swell = np.clip(wander(rng, int(seconds / 0.004) + 2, 2, 20, 0.3), 0, None).repeat(192)[: b - a]
        out[a:b] += 0.004 * np.diff(rng.standard_normal(b - a) * swell, prepend=0.0)
    return np.clip(out, -0.98, 0.98).astype(np.float32)


def _knock(out: np.ndarray, when: float, level: float, hertz: float, decay: float, rng: np.random.Generator) -> None:
    """A knock on the ground that begins exactly at `when`, in place."""
    a = round(when * SOUND_RATE)
    t = np.arange(int(6 * decay * SOUND_RATE)) / SOUND_RATE
    ring = np.sin(2 * np.pi * hertz * t) + 0.5 * np.sin(2 * np.pi * 2.3 * hertz * t + 1)
    click = rng.standard_normal(len(t)) * np.exp(-t / 0.002)
    piece = level * (ring * np.exp(-t / decay) + 0.6 * click)[: len(out) - a]
    out[a : a + len(piece)] += piece


# -- what a keeper would have written -----------------------------------------------------------------------------
def session() -> dict:
    """The session as its keeper marked it: everything but the insertions, which are still to be judged."""
    marks: list[dict] = []

    def mark(act: str, actor: str, start: float, end: float | None = None, note: str = "") -> None:
        marks.append({"act": act, "actor": actor, "start_s": start, "end_s": end, "note": note})

    mark("introduced", "keeper", 0.4, None, "let in from the right")
    mark("searching", "him", 2.0, 4.8)
    for start, seconds, _ in DRUMMING:
        mark("drumming", "him", start, round(start + seconds, 3))
    mark("answering", "her", 14.2, 16.1, "first legs")
    mark("contact", "both", 20.0)
    mark("leg play", "him", 20.0, 24.3)
    mark("rearing", "her", 25.0, 77.0)
    mark("clasp", "him", 27.0, 76.8)
    for start, seconds in PADDLING:
        mark("palp paddling", "him", start, round(start + seconds, 3))
    mark("attempt", "him", 34.0, 35.0, "slid off")
    mark("release", "him", 76.8)
    mark("stillness", "her", 76.8, 84.6)
    mark("retreat", "him", 80.6, 85.2)
    mark("abdomen cleaning", "her", 84.6, 88.0)
    return {
        "title": "Copal and Ocote, first pairing",
        "date": "2026-02-14",
        "place": "her enclosure",
        "temperature_c": 25.5,
        "humidity_pct": 68,
        "female": FEMALE,
        "male": MALE,
        "clip": "pairing.mp4",
        "marks": sorted(marks, key=lambda m: m["start_s"]),
        "life": [
            {"animal": "Copal", "kind": "moult", "date": "2025-11-08", "note": ""},
            {"animal": "Copal", "kind": "fed", "date": "2026-02-10", "note": "two crickets"},
            {"animal": "Ocote", "kind": "matured", "date": "2025-12-01", "note": ""},
            {"animal": "Ocote", "kind": "sperm web", "date": "2026-02-05", "note": ""},
        ],
    }


def boxes(truth: dict) -> dict:
    """The outlines that the keeper drew: one on a quiet frame of each shot."""
    out, times = [], truth["frames"]["time_s"]
    for when in (1.0, 62.6):
        frame = int(np.searchsorted(times, when - 1e-6))
        x, y, w, h = truth["frames"]["box"][frame]
        x, y, w, h = x - 0.03 * w, y - 0.03 * h, 1.06 * w, 1.06 * h
        place = {"x": round(x, 1), "y": round(y, 1), "w": round(w, 1), "h": round(h, 1)}
        out.append({"time_s": times[frame], **place, "part": "abdomen"})
    return {"boxes": out}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--stills", type=Path, default=None, help="write a few frames there and nothing else")
    parser.add_argument("--at", type=float, nargs="+", default=[7, 15, 21, 30, 34.4, 42, 56, 64, 68, 78, 84])
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    plan = recipe()
    if chosen.stills:
        chosen.stills.mkdir(parents=True, exist_ok=True)
        plan.pts = np.array([0, *(round(t * TICKS) for t in chosen.at)], np.int64)
        for name, picture in zip([0, *chosen.at], Renderer(plan).frames(), strict=True):
            cv2.imwrite(str(chosen.stills / f"{name:g}.png"), picture)
        return
    renderer = Renderer(plan)
    path = HERE / "pairing.mp4"
    voice = sound(plan.story)
    write_film(
        path, renderer.frames(), plan.pts, plan.time_base, RATE, plan.options, sound=voice, sound_rate=SOUND_RATE
    )
    truth = document(plan, renderer)
    truth["generator"] = "sample session"
    (HERE / "pairing.truth.json").write_text(json.dumps(truth) + "\n")
    (HERE / "pairing.boxes.json").write_text(json.dumps(boxes(truth), indent=1) + "\n")
    (HERE / "session.json").write_text(json.dumps(session(), indent=1) + "\n")
    print(f"{path} {path.stat().st_size / 1e6:.2f} MB, {len(plan.pts)} frames, {len(truth['pulls'])} pulls")


if __name__ == "__main__":
    main()
