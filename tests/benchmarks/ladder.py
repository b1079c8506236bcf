"""The ladder: pull size by error of the box by contrast, and whether the promise of each view holds. Prints tables.

    python -m tests.benchmarks.ladder [--contrasts 1 .5 .25 .12 .06] [--sizes .05 .1 .2] [--boxes good .3 .5 press]

Each film is 16 s of an oval abdomen of 80 pixels on textured ground with four pulls of one size. Contrast 1 is a
clear view; less takes her texture and her difference from the ground down alike, while the noise stays. Pulls missed
in stretches that are told as unwatched are counted beside. Promise: of the pulls that the pass planted into its own
pictures, of the size nearest to the film's, the share that it saw. It is compared with the share of true pulls found,
over films (rank correlation, Spearman 1904, scipy).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from unittest import mock

import cv2
import numpy as np

from clipmark.errors import ClipmarkError
from clipmark.motion import scan as scan_module
from clipmark.motion.planted import Planted
from clipmark.motion.result import Box
from clipmark.motion.texture import Grey

RATE, SECONDS, LENGTH, HIGH = 25, 16.0, 80, 56
ONSETS = (2.0, 5.6, 9.2, 12.8)
HOLD_S, RISE_S = 1.6, 0.2


class LadderFilm:
    """Four pulls of one size, each let go again."""

    width, height = 320, 240

    def __init__(self, size: float, contrast: float, seed: int = 0) -> None:
        draw = np.random.default_rng([seed, round(1000 * size), round(1000 * contrast)])
        self.times = np.arange(int(SECONDS * RATE)) / RATE
        self._ground = _texture(draw, 60, 14)
        self._skin = 60 - 25 * contrast + contrast * _texture(draw, 0, 12)
        self._noise = draw.normal(0, 2, (16, 240, 320))
        self._way = draw.uniform(0, 2 * np.pi, len(ONSETS))
        self._place = np.zeros((len(self.times), 2))
        for onset, way in zip(ONSETS, self._way, strict=True):
            up, down = (np.clip((self.times - at) / RISE_S, 0, 1) for at in (onset, onset + HOLD_S))
            self._place += LENGTH * size * (up - down)[:, None] * [np.cos(way), np.sin(way)]
        y, x = np.mgrid[0:240, 0:320]
        self._inside = (((x - 160) / (LENGTH / 2)) ** 2 + ((y - 120) / (HIGH / 2)) ** 2 < 1).astype(np.float32)

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        for i, (x, y) in list(enumerate(self._place))[start:stop]:
            move = np.array([[1, 0, x], [0, 1, y]])
            inside, skin = (cv2.warpAffine(one, move, (320, 240)) for one in (self._inside, self._skin))
            picture = self._ground * (1 - inside) + skin * inside + self._noise[(5 * i) % 16]
            yield i, np.clip(picture + 0.5, 0, 255).astype(np.uint8)

    def box(self, how: str, seed: int) -> Box:
        """A good box, one off by a share of its size, or a press."""
        draw = np.random.default_rng([seed, 7])
        if how == "press":
            aside = draw.uniform(-0.15, 0.15, 2)
            return Box(0, 160 + aside[0] * LENGTH, 120 + aside[1] * HIGH, 0, 0)
        dx, dy, dw, dh = (0.0 if how == "good" else float(how)) * draw.uniform(-1, 1, 4)
        w, h = LENGTH * (1 + dw), HIGH * (1 + dh)
        return Box(0, 160 + dx * LENGTH - w / 2, 120 + dy * HIGH - h / 2, w, h)


def _texture(draw: np.random.Generator, mean: float, spread: float) -> np.ndarray:
    rough = cv2.GaussianBlur(draw.normal(0, 1, (240, 320)).astype(np.float32), (0, 0), 2)
    return np.asarray(mean + spread * rough / rough.std(), np.float32)


def tried(size: float, contrast: float, how: str, seed: int) -> tuple[int, int, int, float]:
    """Pulls found, pulls in unwatched stretches, false flags, and the promised share (NaN where none was planted)."""
    film = LadderFilm(size, contrast, seed)
    planted: list[Planted] = []
    told = scan_module.smallest_found

    def noted(own: list[Planted]) -> float | None:
        planted.extend(own)
        return told(own)

    with mock.patch("clipmark.motion.scan.smallest_found", noted):
        try:
            result = scan_module.scan(film, [film.box(how, seed + round(1000 * size * contrast))])
        except ClipmarkError:  # a press refused in words: nothing was called watched
            return 0, len(ONSETS), 0, float("nan")
    flags = [float(film.times[flag.onset]) for flag in result.flags if flag.flagged]
    found = [min((at for at in flags if -0.4 <= at - onset <= 0.8), default=None) for onset in ONSETS]
    unwatched = sum(
        at is None and any(film.times[u.start] <= onset <= film.times[u.end - 1] for u in result.unwatched)
        for at, onset in zip(found, ONSETS, strict=True)
    )
    nearest = min({one.size for one in planted}, key=lambda own: abs(own - size), default=0.0)
    seen = [one.seen for one in planted if one.size == nearest]
    hits = sum(at is not None for at in found)
    return hits, unwatched, len(flags) - hits, float(np.mean(seen)) if seen else float("nan")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--contrasts", nargs="+", type=float, default=[1.0, 0.5, 0.25, 0.12, 0.06])
    parser.add_argument("--sizes", nargs="+", type=float, default=[0.05, 0.1, 0.2])
    parser.add_argument("--boxes", nargs="+", default=["good", ".3", ".5", "press"])
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    promised: list[float] = []
    true: list[float] = []
    for how in chosen.boxes:
        false = 0
        for contrast in chosen.contrasts:
            cells = []
            for size in chosen.sizes:
                hits, unwatched, wrong, promise = tried(size, contrast, how, chosen.seed)
                cells.append(f"{size:.0%}: {hits} of {len(ONSETS)} ({unwatched} unwatched)")
                false += wrong
                if np.isfinite(promise):
                    promised.append(promise)
                    true.append(hits / len(ONSETS))
            print(f"{how:6} contrast {contrast:4}: " + ", ".join(cells), flush=True)
        print(f"{how:6} false flags: {false}", flush=True)
    _agreement(np.array(promised), np.array(true))


def _agreement(promised: np.ndarray, true: np.ndarray) -> None:
    from scipy.stats import spearmanr

    rank = float(spearmanr(promised, true).statistic)
    broken = int(((promised >= 0.9) & (true < 0.6)).sum())
    print(f"{len(true)} films: rank correlation of promised and true share {rank:.2f}; "
          f"promised 0.9 and more but less than 0.6 found: {broken}")  # fmt: skip


if __name__ == "__main__":
    main()
