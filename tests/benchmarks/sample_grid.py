"""The sample session from a grid of rough boxes: all of its pulls, none of its bumps, however the box was drawn.

    python -m tests.benchmarks.sample_grid [--times 0 12 30] [--off .3] [--press]

Each box is her true box off by `--off` of its width and height in place and in size, in all eight combinations of one
half fraction of the two-level design (common practice), and once as it is, drawn at each of the given times. Prints a
line a box: pulls found, false flags, error of the abdomen length, and the source of the second view's outline.
"""

from __future__ import annotations

import argparse
import itertools
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.motion.result import Box, ScanResult
from clipmark.motion.scan import film_width, scan
from clipmark.motion.texture import Grey

SAMPLE = Path(__file__).resolve().parents[2] / "sample_media"
NEAR_S = 0.3


class HeldFilm:
    """The sample film, decoded once and kept: many passes read it."""

    def __init__(self, width: int) -> None:
        clip = open_clip(SAMPLE / "pairing.mp4")
        film = GreyFilm(clip, width)
        self.width, self.height, self.times = film.width, film.height, np.asarray(film.times)
        self._kept = list(film.frames())

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        yield from self._kept[start:stop]


def truth() -> dict[str, Any]:
    """What is known of the sample film."""
    told: dict[str, Any] = json.loads((SAMPLE / "pairing.truth.json").read_text(encoding="utf-8"))
    return told


def wrong_boxes(box: list[float], off: float) -> list[tuple[float, float, float, float]]:
    """The box as it is, then off by a share of its size in place and size, every way."""
    x, y, w, h = box
    found = [(x, y, w, h)]
    for a, b, c in itertools.product((-1, 1), repeat=3):
        wide, high = w * (1 + off * c), h * (1 + off * a * b * c)
        middle = x + w / 2 + a * off * w, y + h / 2 + b * off * h
        found.append((middle[0] - wide / 2, middle[1] - high / 2, wide, high))
    return found


def judged(result: ScanResult, times: np.ndarray, pulls: list[dict[str, Any]]) -> tuple[int, list[float]]:
    """How many pulls were found, and the times of the flags that are none."""
    flags = [float(times[flag.onset]) for flag in result.flags if flag.flagged]
    found = [min((at for at in flags if abs(at - p["onset_s"]) < NEAR_S), default=None) for p in pulls]
    return sum(at is not None for at in found), [at for at in flags if at not in found]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", nargs="+", type=float, default=[0.0, 12.0, 30.0])
    parser.add_argument("--off", type=float, default=0.3)
    parser.add_argument("--press", action="store_true", help="a press in the middle of each box instead")
    chosen = parser.parse_args()
    told = truth()
    films: dict[int, HeldFilm] = {}
    total, false, boxes = 0, 0, 0
    for at in chosen.times:
        clip = open_clip(SAMPLE / "pairing.mp4")
        frame = int(np.argmin(np.abs(np.array(told["frames"]["time_s"]) - at)))
        for x, y, w, h in wrong_boxes(told["frames"]["box"][frame], chosen.off):
            drawn = Box(frame, x + w / 2, y + h / 2, 0, 0) if chosen.press else Box(frame, x, y, w, h)
            width = film_width(clip.width, clip.height, [drawn])
            film = films.setdefault(width, HeldFilm(width))
            result = scan(film, [drawn])
            found, wrong = judged(result, film.times, told["pulls"])
            used = [(o.source, o.fitted, round(o.length), round(o.confidence, 2)) for o in result.outlines]
            print(f"{at:5.1f} s {x:4.0f} {y:4.0f} {w:4.0f} {h:4.0f}: {found} of {len(told['pulls'])} found, "
                  f"false {[round(v, 2) for v in wrong]}, {used}", flush=True)  # fmt: skip
            total, false, boxes = total + found, false + len(wrong), boxes + 1
    print(f"{boxes} boxes: {total} of {boxes * len(told['pulls'])} pulls found, {false} false flags")


if __name__ == "__main__":
    main()
