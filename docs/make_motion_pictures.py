"""The three trace pictures of docs/motion.md, from films made on the spot: `python -m docs.make_motion_pictures`.

A pull and its release, a false friend (the whole female pushed aside), and an unwatched span (something lies over
the abdomen). All three are drawn from what the pass itself returns.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np

from clipmark.motion.result import Box, ScanResult
from clipmark.motion.scan import scan

PICTURES = Path(__file__).parent / "pictures"
BLUE, ORANGE, GREY = "#0072B2", "#D55E00", "#999999"  # Okabe and Ito 2008


class Scene:
    """Ground, carapace and abdomen as textured ovals; `aside` moves the abdomen, `whole` both, `cover` hides it."""

    width, height = 480, 270

    def __init__(self, aside: np.ndarray, whole: np.ndarray, cover: np.ndarray, rate: int = 25):
        self.times = np.arange(len(aside)) / rate
        self._aside, self._whole, self._cover = aside, whole, cover
        draw = np.random.default_rng(8)
        self._ground, self._skin, self._bark = (
            self._texture(draw, m, s) for m, s in ((120, 20), (60, 14), (160, 30))
        )
        self._noise = draw.normal(0, 2, (5, 270, 480))

    @staticmethod
    def _texture(draw: np.random.Generator, mean: float, spread: float) -> np.ndarray:
        rough = cv2.GaussianBlur(draw.normal(0, 1, (270, 480)).astype(np.float32), (0, 0), 1.6)
        return mean + spread * rough / rough.std()

    def _put(self, picture: np.ndarray, x: float, a: float, b: float) -> np.ndarray:
        ys, xs = np.mgrid[0:270, 0:480]
        inside = (((xs - x) / a) ** 2 + ((ys - 135) / b) ** 2 < 1).astype(np.float32)
        skin = cv2.warpAffine(self._skin, np.float64([[1, 0, x - 240], [0, 1, 0]]), (480, 270), borderMode=2)
        return picture * (1 - inside) + skin * inside

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        for i in range(start, len(self.times) if stop is None else stop):
            picture = self._put(self._ground, 290 + self._whole[i], 34, 28)
            picture = self._put(picture, 216 + self._whole[i] + self._aside[i], 42, 30)
            if self._cover[i]:
                picture[80:190, 150:280] = self._bark[80:190, 150:280]
            yield i, np.clip(picture + self._noise[i % 5], 0, 255).astype(np.uint8)


def _step(n: int, on: float, off: float, size: float) -> np.ndarray:
    t = np.arange(n) / 25
    return size * (np.clip((t - on) / 0.16, 0, 1) - np.clip((t - off) / 0.3, 0, 1))


def _draw(name: str, title: str, result: ScanResult, times: np.ndarray) -> None:
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, (above, below) = plt.subplots(2, 1, figsize=(7.2, 3.4), sharex=True, height_ratios=(3, 1))
    above.plot(times, 100 * result.trace.pull, color=BLUE)
    above.set_ylabel("pull, % of length")
    above.set_title(title, loc="left", fontsize=10)
    for flag in result.flags:
        way = "-" if flag.flagged else ":"
        above.axvline(times[flag.onset], color=ORANGE, ls=way)
        place = (times[flag.onset], 0.97)
        above.text(*place, f" score {flag.score:.2f}", transform=above.get_xaxis_transform(), fontsize=8, va="top")
        if flag.release is not None and flag.flagged:
            above.axvline(times[flag.release], color=ORANGE, ls="--")
    for span in result.unwatched:
        for axis in (above, below):
            axis.axvspan(times[span.start], times[min(span.end, len(times) - 1)], color=GREY, alpha=0.35, hatch="//")
    below.plot(times, result.trace.quality, color="black")
    below.set_ylim(0, 1.05)
    below.set_ylabel("followed")
    below.set_xlabel("seconds")
    figure.tight_layout()
    figure.savefig(PICTURES / f"motion-{name}.png", dpi=110)
    plt.close(figure)


def main() -> None:
    n, still = 225, np.zeros(225)
    hidden = np.zeros(n)
    hidden[90:140] = 1
    box = [Box(0, 174, 105, 84, 60)]
    for name, title, scene in (
        ("pull", "A pull, held for two seconds, and its release (dashed)", Scene(_step(n, 3, 5, 8), still, still)),
        ("false-friend", "A false friend: her whole body is pushed aside", Scene(still, _step(n, 3, 5, 8), still)),
        ("unwatched", "Something lies over the abdomen: not watched", Scene(_step(n, 7, 99, 8), still, hidden)),
    ):
        _draw(name, title, scan(scene, box), scene.times)


if __name__ == "__main__":
    main()
