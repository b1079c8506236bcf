"""Cuts and dissolves: where one camera view ends and the next begins.

A cut is a single step: the picture is unlike the one before, even when small movements are allowed for, and its
neighbours are not. A dissolve is a mixture: over half a second or more each picture is a blend of the one at its
beginning and the one at its end (common practice for both; the limits were set on real film, see docs/motion.md).
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.align import Grey, Image
from clipmark.motion.result import Shot

_UNLIKE, _MOVED = 0.4, 0.03  # a cut is at least so unlike, and so much of it is not mere movement
_EVERYWHERE = 0.4  # a cut changes at least this share of the picture
_SHORTEST = 5  # frames of the shortest shot
_REACH_S = 1.7  # seconds of the longest dissolve
_MIX = 0.3  # misfit of a blend, share of the difference of both ends


@dataclass(frozen=True, slots=True)
class _View:
    time: float
    flat: Image  # small picture without its mean, (k,)
    spread: float
    number: int


class ShotFinder:
    """Takes small pictures one by one and says at the end where the views changed."""

    def __init__(self) -> None:
        self._recent: deque[_View] = deque()
        self._before: Image | None = None
        self._unlike: list[float] = []
        self._moved: list[float] = []
        self._numbers: list[int] = []
        self._blends: list[tuple[int, int]] = []
        self._blend_checked = -1e9

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
        self._unlike.append(unlike)
        self._moved.append(moved)
        self._numbers.append(number)
        sudden = unlike > _UNLIKE and moved > _MOVED
        if sudden:
            self._recent.clear()
        flat = view.ravel() - np.float32(cv2.mean(view)[0])
        self._recent.append(_View(time, flat, math.sqrt(float(flat @ flat) / flat.size), number))
        while time - self._recent[0].time > _REACH_S:
            self._recent.popleft()
        if time - self._blend_checked > 0.08:
            self._blend_checked = time
            self._look_for_blend()
        return sudden

    def _look_for_blend(self) -> None:
        end = self._recent[-1]
        for length in (0.45, 0.8, 1.2, 1.65):
            start = next((v for v in self._recent if end.time - v.time <= length), end)
            between = [v for v in self._recent if start.number < v.number < end.number]
            if len(between) < 5 or min(start.spread, end.spread) < 4:
                continue
            if float(start.flat @ end.flat) / (start.spread * end.spread * len(end.flat)) > 0.45:
                continue
            span = _blend(start, between, end)
            if span is not None:
                self._blends.append(span)
                return

    def shots(self) -> tuple[Shot, ...]:
        """All shots of the film so far, numbered by frames."""
        if not self._numbers:
            return ()
        starts = [(self._numbers[0], "film")]
        for i in self._cuts():
            if self._numbers[i] - starts[-1][0] >= _SHORTEST:
                starts.append((self._numbers[i], "cut"))
        cuts = [frame for frame, _ in starts[1:]]
        for first, last in _merged(self._blends):
            if not any(first - 3 <= cut <= last + 3 for cut in cuts) and first - starts[0][0] >= _SHORTEST:
                starts.append((first, "dissolve"))
        starts.sort()
        ends = [*(frame for frame, _ in starts[1:]), self._numbers[-1] + 1]
        return tuple(Shot(a, b, how) for (a, how), b in zip(starts, ends, strict=True) if b > a)

    def _cuts(self) -> list[int]:
        unlike, moved = np.array(self._unlike), np.array(self._moved)
        found = []
        for i in np.flatnonzero((unlike > _UNLIKE) & (moved > _MOVED)):
            near = np.r_[max(0, i - 2) : i, i + 1 : min(len(moved), i + 3)]
            if len(near) and moved[i] > 2.5 * moved[near].max() and unlike[i] > 1.6 * unlike[near].max():
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


def _blend(start: _View, between: list[_View], end: _View) -> tuple[int, int] | None:
    """First and last frame of a dissolve that lies between two views, if that is what happened."""
    way = end.flat - start.flat
    power = float(way @ way)
    shares = np.array([float((v.flat - start.flat) @ way) / power for v in between])
    left = np.array(
        [float(np.linalg.norm(v.flat - start.flat - s * way)) for v, s in zip(between, shares, strict=True)]
    ) / np.sqrt(power)
    middle = (shares > 0.2) & (shares < 0.8)
    if middle.sum() < 4 or left[middle].mean() > _MIX or (np.diff(shares) < -0.06).any():
        return None
    if np.diff(shares).max() > 0.3 or shares[0] > 0.15 or shares[-1] < 0.85:
        return None
    inside = np.flatnonzero((shares > 0.04) & (shares < 0.96))
    return between[inside[0]].number, between[inside[-1]].number


def _merged(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Overlapping spans as one: the same dissolve is met at several moments."""
    merged: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if merged and first <= merged[-1][1] + 2:
            merged[-1] = (merged[-1][0], max(last, merged[-1][1]))
        else:
            merged.append((first, last))
    return merged
