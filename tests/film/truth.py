"""The truth of a rendered film as JSON, and the keeper's boxes that go with it.

Truth document (`clipmark-test-film/1`): `clip` (size as displayed, frames, time_base, rotation), `frames` (lists with
one entry a frame: pts, time_s, box [x, y, w, h] or null, hidden 0..1), `pulls`, `distractors`, `cuts`.
A pull: `onset_s`/`full_s` are where 5 % and 95 % of it are done, `*_pts`/`*_frame` the first frame at or after;
`pull` is how far the middle of the abdomen moved against the ground, in abdomen lengths; `tilt_deg` its turn as seen
on the screen, clockwise positive; `direction_deg` where its middle went on the screen, degrees clockwise from right;
`moved_px` is the same motion in shown pixels [x, y]; `hidden` the mean hidden share from onset to full pull.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from tests.film.recipe import Recipe
from tests.film.story import EDGE, Pull

if TYPE_CHECKING:
    from tests.film.render import Renderer


def document(recipe: Recipe, renderer: Renderer) -> dict[str, Any]:
    times = ((recipe.pts - recipe.pts[0]) * float(recipe.time_base)).tolist()
    frames = renderer.truth
    lengths = [_length(frame.corners) for frame in frames]
    return {
        "format": "clipmark-test-film/1",
        "generator": "spiders",
        "profile": recipe.profile,
        "seed": recipe.seed,
        "clip": {
            "width": recipe.shown[0],
            "height": recipe.shown[1],
            "frames": len(times),
            "duration_s": times[-1],
            "rate": float(recipe.rate),
            "time_base": [recipe.time_base.numerator, recipe.time_base.denominator],
            "rotation": recipe.rotation,
            "codec": recipe.codec,
            "options": recipe.options,
        },
        "abdomen_px": float(np.median(lengths)),
        "frames": {
            "pts": [int(p) for p in recipe.pts],
            "time_s": [round(t, 6) for t in times],
            "box": [None if f.box is None else [round(v, 2) for v in f.box] for f in frames],
            "hidden": [round(f.hidden, 3) for f in frames],
        },
        "pulls": [_pull(recipe, renderer, times, k) for k, p in enumerate(recipe.story.pulls) if p.full < times[-1]],
        "distractors": [
            {"kind": d.kind, "start_s": round(d.start, 4), "end_s": round(d.end, 4)}
            for d in sorted(recipe.story.distractors, key=lambda d: d.start)
        ],
        "cuts": _cuts(recipe, times),
        "strikes_s": [round(s, 4) for s in sorted(recipe.story.strikes)],
        "notes": recipe.notes,
    }


def _length(corners: np.ndarray) -> float:
    return float(np.hypot(*(corners[0] - corners[len(corners) // 2])))


def _pull(recipe: Recipe, renderer: Renderer, times: list[float], k: int) -> dict[str, Any]:
    pull = recipe.story.pulls[k]
    marks: dict[str, Any] = {}
    for name in ("onset", "full", "release", "released"):
        when = getattr(pull, name)
        if when is None or when > times[-1]:
            marks |= {f"{name}_s": None, f"{name}_frame": None, f"{name}_pts": None}
            continue
        frame = int(np.searchsorted(times, when - 1e-9))
        frame = min(frame, len(times) - 1)
        marks |= {f"{name}_s": round(when, 5), f"{name}_frame": frame, f"{name}_pts": int(recipe.pts[frame])}
    first, last = marks["onset_frame"], marks["full_frame"]
    moved, tilt, length = _on_screen(recipe, renderer, pull)
    hidden = [renderer.truth[i].hidden for i in range(first, last + 1)]
    return {
        **marks,
        "pull": round(float(np.hypot(*moved)) / length, 5),
        "moved_px": [round(float(v), 3) for v in moved],
        "drawn": round(float(np.hypot(pull.forward, pull.side)), 5),
        "tilt_deg": round(tilt, 3),
        "direction_deg": round(float(np.degrees(np.arctan2(moved[1], moved[0]))) % 360, 1),
        "abdomen_px": round(length, 1),
        "hidden": round(float(np.mean(hidden)), 3),
        "abrupt_release": pull.abrupt_release,
    }


def _on_screen(recipe: Recipe, renderer: Renderer, pull: Pull) -> tuple[np.ndarray, float, float]:
    """Motion of the abdomen's middle (shown pixels), its turn (degrees) and its length, against the ground, from
    before the pull until it is held (overshoot has died away)."""
    onset, full = pull.onset, pull.full
    from tests.film.render import through

    index, _ = renderer._scene(onset)
    view = recipe.scenes[index].view
    zoom = recipe.shown[0] / recipe.size[0]
    camera = renderer.camera(full)
    rise = (full - onset) / (1 - 2 * EDGE)
    held = full + EDGE * rise + 0.35 if pull.release is None else min(full + EDGE * rise + 0.35, pull.release - 0.02)
    before = renderer.actors.her.outline(renderer.actors.pose("her", full - rise - 0.01), view)
    after = renderer.actors.her.outline(renderer.actors.pose("her", held), view)
    before, after = through(camera, before) * zoom, through(camera, after) * zoom
    half = len(before) // 2
    axes = [p[0] - p[half] for p in (before, after)]
    turn = np.degrees(np.arctan2(axes[1][1], axes[1][0]) - np.arctan2(axes[0][1], axes[0][0]))
    return after.mean(0) - before.mean(0), float((turn + 180) % 360 - 180), float(np.hypot(*axes[0]))


def _cuts(recipe: Recipe, times: list[float]) -> list[dict[str, Any]]:
    out = []
    for scene in recipe.scenes[1:]:
        frame = int(np.searchsorted(times, scene.start - 1e-9))
        out.append(
            {"frame": frame, "time_s": round(times[frame], 6), "kind": scene.begins, "seconds": scene.dissolve}
        )
    return out


def boxes(truth: dict[str, Any], rng: np.random.Generator, slack: float = 1.0, jitter: float = 0.0) -> dict[str, Any]:
    """The keeper's boxes, one a shot, on a frame where the abdomen is well seen.

    `slack`: how large the box is drawn against the true one; `jitter`: extra error of size and place, as a share.
    """
    times, frames = truth["frames"]["time_s"], truth["frames"]
    starts = [0, *(c["frame"] + int(np.ceil(c["seconds"] * truth["clip"]["rate"])) for c in truth["cuts"])]
    ends = [*(c["frame"] for c in truth["cuts"]), len(times)]
    out = []
    for start, end in zip(starts, ends, strict=True):
        good = [i for i in range(start, end) if frames["box"][i] is not None and frames["hidden"][i] < 0.3]
        if not good:
            continue
        frame = good[0] if rng.random() < 0.6 else good[int(rng.integers(0, max(1, int(0.8 * len(good)))))]
        x, y, w, h = frames["box"][frame]
        gw, gh = slack * (1 + rng.uniform(-0.04, 0.04, 2))
        gw, gh = gw + jitter * rng.choice([-1, 1]), gh + jitter * rng.choice([-1, 1])
        cx = x + w / 2 + w * (rng.uniform(-0.03, 0.03) + jitter * rng.uniform(-0.7, 0.7))
        cy = y + h / 2 + h * (rng.uniform(-0.03, 0.03) + jitter * rng.uniform(-0.7, 0.7))
        x0, y0 = max(0.0, cx - gw * w / 2), max(0.0, cy - gh * h / 2)
        x1 = min(float(truth["clip"]["width"]), cx + gw * w / 2)
        y1 = min(float(truth["clip"]["height"]), cy + gh * h / 2)
        out.append(
            {
                "time_s": times[frame],
                "x": round(x0, 1),
                "y": round(y0, 1),
                "w": round(x1 - x0, 1),
                "h": round(y1 - y0, 1),
                "part": "abdomen",
            }
        )
    return {"boxes": out}
