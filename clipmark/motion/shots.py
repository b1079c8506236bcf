"""Where one camera view ends and the next begins: cuts here, dissolves and fades in `blends`.

A cut is a single step: the picture is unlike the one before, even when small movements are allowed for, and its
neighbours are not (common practice; the limits were set on real film, see docs/motion.md). Two views of the same
place, nearer or turned, are alike from afar: there the fine detail tells, which no shift of the whole brings back.
"""

from __future__ import annotations

import math
from array import array
from collections import deque

import cv2
import numpy as np

from clipmark.motion.blends import BlendFinder
from clipmark.motion.result import Shot
from clipmark.motion.texture import Grey, Image, without_shade

_UNLIKE, _MOVED = 0.4, 0.03  # a cut is at least so unlike, and so much of it is not mere movement
_CALM = 0.03  # in film as still as this, half as much is enough
_EVERYWHERE = 0.4  # a cut changes at least this share of the picture
_ALIKE = 0.17  # two views of one place are at least so unlike from afar
_NEAR = 3  # pictures on either side whose detail must have held
_SHORTEST = 5  # frames of the shortest shot


class ShotFinder:
    """Takes small pictures one by one and says at the end where the views changed."""

    def __init__(self) -> None:
        self._blends = BlendFinder()
        self._before: Image | None = None
        # one entry a picture, for hours: plain numbers, a quarter of what lists of objects take
        self._unlike, self._moved, self._numbers = array("d"), array("d"), array("q")
        self._lately: deque[Grey] = deque(maxlen=_NEAR + 2)
        self._detail: dict[int, tuple[float, float]] = {}  # by place in the lists: see `_detail_kept`
        self._share: dict[int, float] = {}  # of the picture that changed, likewise
        self._ahead = 0  # pictures to come whose detail is wanted

    def take(self, small: Grey, number: int, time: float) -> bool:
        """The next small picture (see `camera.coarse`); whether it looks like the first of a new view."""
        view = cv2.resize(small, (32, 24), interpolation=cv2.INTER_AREA).astype(np.float32)
        unlike = moved = 0.0
        if self._before is not None:
            unlike = _unlike(view, self._before)
            moved = _not_moved(view, self._before) if unlike > 0.1 else 0.0
            share = _changed_share(view, self._before) if unlike > _ALIKE else 0.0
            if unlike > _UNLIKE and share < _EVERYWHERE:
                unlike = moved = 0.0  # something large came into the picture; the view is the same
            elif unlike > _ALIKE:
                self._share[len(self._unlike)] = share
        self._before = view
        calm = not self._unlike or self._unlike[-1] < _CALM
        self._unlike.append(unlike)
        self._moved.append(moved)
        self._numbers.append(number)
        self._look_closely(small)
        plain = unlike > _UNLIKE and moved > (_MOVED / 2 if calm else _MOVED)
        sudden = plain or self._of_one_place(len(self._unlike) - 1)
        self._blends.take(small, number, time, sudden)
        return sudden

    def _look_closely(self, small: Grey) -> None:
        """Keep how far fine detail holds, for the few pictures round each that is unlike the one before."""
        self._lately.append(small)
        here = len(self._unlike) - 1
        first = here
        if here in self._share:
            first, self._ahead = here - (len(self._lately) - 2), _NEAR + 1
        if self._ahead:
            self._ahead -= 1
            for i in range(max(first, 1), here + 1):
                if i not in self._detail:
                    back = here - i
                    self._detail[i] = _detail_kept(self._lately[-2 - back], self._lately[-1 - back])

    def _of_one_place(self, i: int) -> bool:
        """Whether picture `i` begins another view of the same place, as far as its neighbours are known."""
        if i not in self._share:
            return False
        kept, shifted = self._detail[i]
        near = [self._detail[j][0] for j in range(i - _NEAR, i + _NEAR + 1) if j != i and j in self._detail]
        if len(near) < _NEAR or kept > 0.78 or self._unlike[i] * (1.0 - shifted) < 0.07:
            return False
        return min(near) > 0.6 and min(near) - kept > 0.2 and self._share[i] > 0.45

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
        for i in np.flatnonzero(unlike > _ALIKE):
            if self._of_one_place(int(i)):
                found.append(int(i))
                continue
            if unlike[i] <= _UNLIKE or moved[i] <= _MOVED / 2:
                continue
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


def _detail_kept(before: Grey, now: Grey) -> tuple[float, float]:
    """Correlation of the fine detail of two small pictures, as they lie or after one shift of the whole, whichever is
    higher; and how clear that shift is (the response of phase correlation). Each at most 1."""
    a, b = without_shade(before, 0.8, 17), without_shade(now, 0.8, 17)
    height, width = a.shape
    (dx, dy), response = cv2.phaseCorrelate(a, b, cv2.createHanningWindow((width, height), cv2.CV_32F))
    across, down = int(abs(dx)) + 2, int(abs(dy)) + 2
    kept = _like(a, b)
    if 2 * across < width and 2 * down < height:
        shift = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
        moved = cv2.warpAffine(a, shift, (width, height), borderMode=cv2.BORDER_REPLICATE)
        kept = max(kept, _like(moved[down:-down, across:-across], b[down:-down, across:-across]))
    return kept, float(response)


def _like(a: Image, b: Image) -> float:
    x, y = (a - a.mean()).ravel(), (b - b.mean()).ravel()
    return float(x @ y) / (math.sqrt(float(x @ x) * float(y @ y)) + 1e-6)
