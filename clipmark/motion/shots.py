"""Where one camera view ends and the next begins: cuts here, dissolves and fades in `blends`.

A cut is a single step: the picture is unlike the one before, even when small movements are allowed for, and its
neighbours are not (common practice; the limits were set on real film, see docs/motion.md).
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from clipmark.motion.align import Grey, Image
from clipmark.motion.blends import BlendFinder
from clipmark.motion.result import Shot

_UNLIKE, _MOVED = 0.4, 0.03  # a cut is at least so unlike, and so much of it is not mere movement
_CALM = 0.03  # in film as still as this, half as much is enough
_EVERYWHERE = 0.4  # a cut changes at least this share of the picture
_SHORTEST = 5  # frames of the shortest shot


class ShotFinder:
    """Takes small pictures one by one and says at the end where the views changed."""

    def __init__(self) -> None:
        self._blends = BlendFinder()
        self._before: Image | None = None
        self._unlike: list[float] = []
        self._moved: list[float] = []
        self._numbers: list[int] = []

    def take(self, small: Grey, number: int, time: float) -> bool:
        """The next small picture (see `camera.coarse`); whether it looks like the first of a new view."""
        view = cv2.resize(small, (32, 24), interpolation=cv2.INTER_AREA).astype(np.float32)
        unlike = moved = 0.0
        if self._before is not None:
            unlike = _unlike(view, self._before)
            moved = _not_moved(view, self._before) if unlike > 0.1 else 0.0
            if unlike > _UNLIKE and _changed_share(view, self._before) < _EVERYWHERE:
                unlike = moved = 0.0  # something large came into the picture; the view is the same
        self._before = view
        calm = not self._unlike or self._unlike[-1] < _CALM
        self._unlike.append(unlike)
        self._moved.append(moved)
        self._numbers.append(number)
        sudden = unlike > _UNLIKE and moved > (_MOVED / 2 if calm else _MOVED)
        self._blends.take(small, number, time, sudden)
        return sudden

    def shots(self) -> tuple[Shot, ...]:
        """All shots of the film, numbered by frames; to be asked once, after the last picture."""
        if not self._numbers:
            return ()
        blends = self._blends.finish()
        starts = [(self._numbers[0], self._numbers[0], "film")]
        for i in self._cuts():
            cut = self._numbers[i]
            # what a fade brings back all at once is no cut of its own
            if cut - starts[-1][0] >= _SHORTEST and not any(b.first <= cut <= b.last + 1 for b in blends):
                starts.append((cut, cut, "cut"))
        cuts = [start for start, _, _ in starts[1:]]
        for blend in blends:
            if blend.first <= self._numbers[0]:
                starts[0] = (self._numbers[0], blend.last + 1, "film")
            elif not blend.same and not any(blend.first - 3 <= cut <= blend.last + 3 for cut in cuts):
                starts.append((blend.first, blend.last + 1, "dissolve"))
        starts.sort()
        ends = [*(start for start, _, _ in starts[1:]), self._numbers[-1] + 1]
        return tuple(
            Shot(start, end, begins, min(whole, end))
            for (start, whole, begins), end in zip(starts, ends, strict=True)
            if end > start
        )

    def _cuts(self) -> list[int]:
        unlike, moved = np.array(self._unlike), np.array(self._moved)
        found = []
        for i in np.flatnonzero((unlike > _UNLIKE) & (moved > _MOVED / 2)):
            near = np.r_[max(0, i - 2) : i, i + 1 : min(len(moved), i + 3)]
            if (
                len(near)
                and (moved[i] > _MOVED or unlike[near].max() < _CALM)
                and moved[i] > 2.5 * moved[near].max()
                and unlike[i] > 1.6 * unlike[near].max()
            ):
                found.append(int(i))
        return found


def _unlike(a: Image, b: Image) -> float:
    """1 minus the correlation of two pictures; weak contrast counts less. 0..2."""
    x, y = a.ravel() - cv2.mean(a)[0], b.ravel() - cv2.mean(b)[0]
    return 1.0 - float(x @ y) / (math.sqrt(float(x @ x) * float(y @ y)) + 2.0 * a.size)


def _changed_share(a: Image, b: Image) -> float:
    """Share of the picture that differs by more than an eighth of its contrast, brightness taken out. 0..1."""
    change = a - b
    limit = 0.06 * float(a.std() + b.std()) + 0.5
    return float((np.abs(change - np.median(change)) > limit).mean())


def _not_moved(a: Image, b: Image) -> float:
    """How far each pixel of one lies outside what the other shows nearby, in units of the contrast."""
    square = np.ones((5, 5), np.uint8)
    out = 0.0
    for one, other in ((a, b), (b, a)):
        low, high = cv2.erode(other, square), cv2.dilate(other, square)
        out += float(np.maximum(np.maximum(low - one, one - high), 0).mean())
    return out / (float(a.std() + b.std()) + 4.0)
