"""Cuts, dissolves and steps of light within the frames that were looked at closely."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.camera import coarse
from clipmark.motion.shots import ShotFinder
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Grey, Image, without_shade

_NOTHING, _NEAR = 0.4, 3  # correlation across a cut at most; pictures on either side that are asked
_SAME = 0.5  # grey levels by which two pictures of one view may differ without being compared further
_STEP = 0.06  # log of brightness by which the light changes at least
_HELD = 0.5  # seconds that it is new light
_WITHIN = 0.8  # seconds within which it changed


@dataclass(frozen=True, slots=True)
class Found:
    """Seconds from the first frame: cuts, dissolves (start, end), steps of the light."""

    cuts: tuple[float, ...]
    dissolves: tuple[tuple[float, float], ...]
    light: tuple[float, ...]


class ViewChanges:
    """Sees the pictures of runs of frames pass by."""

    def __init__(self, times: Floats):
        self._times = times
        self._cuts: list[float] = []
        self._dissolves: list[tuple[float, float]] = []
        self._light: list[float] = []

    def watched(self, pictures: Iterator[tuple[int, Grey]]) -> Iterator[tuple[int, Grey]]:
        """The same pictures of one run; what they show is known after the last."""
        finder = ShotFinder()
        numbers: list[int] = []
        bright: list[float] = []
        alike: list[float] = [1.0]
        before: Image | None = None
        for number, picture in pictures:
            small = coarse(picture)
            detail = without_shade(small, 0.8, 17)
            if before is not None:
                alike.append(_alike(before, detail))
            before = detail
            finder.take(small, number, float(self._times[number]))
            numbers.append(number)
            bright.append(float(np.log(np.median(small) + 8.0)))
            yield number, picture
        if not numbers:
            return
        # a step from one picture to the next is a cut, also where the finder of shots took it for a quick dissolve
        starts = {numbers[i] for i in _jumps(np.array(alike))}
        for shot in finder.shots()[1:]:
            if any(shot.start - 3 <= jump <= max(shot.whole, shot.start) + 3 for jump in starts):
                continue
            if shot.begins == "cut":
                starts.add(shot.start)
            else:
                whole = float(self._times[min(shot.whole, numbers[-1])])
                self._dissolves.append((float(self._times[shot.start]), whole))
        self._cuts += [float(self._times[start]) for start in sorted(starts)]
        edges = starts | {int(np.searchsorted(self._times, start)) for start, _ in self._dissolves}
        self._light += _steps(self._times[numbers], np.array(bright), [float(self._times[e]) for e in edges])

    def found(self) -> Found:
        """Cuts, dissolves and light steps so far, in order of time."""
        return Found(tuple(sorted(self._cuts)), tuple(sorted(self._dissolves)), tuple(sorted(self._light)))


def _alike(a: Image, b: Image) -> float:
    """Correlation of the fine detail of two pictures, as they lie or after one shift of the whole; at most 1."""
    if float(cv2.norm(a, b, cv2.NORM_L1)) < _SAME * a.size:
        return 1.0
    plain = _correlation(a, b)
    if plain > 0.6:
        return plain
    height, width = a.shape
    (dx, dy), _ = cv2.phaseCorrelate(a, b, cv2.createHanningWindow((width, height), cv2.CV_32F))
    across, down = int(abs(dx)) + 2, int(abs(dy)) + 2
    if 2 * across >= width or 2 * down >= height:
        return plain
    moved = cv2.warpAffine(a, np.array([[1, 0, dx], [0, 1, dy]], np.float32), (width, height))
    return max(plain, _correlation(moved[down:-down, across:-across], b[down:-down, across:-across]))


def _correlation(a: Image, b: Image) -> float:
    x, y = (a - a.mean()).ravel(), (b - b.mean()).ravel()
    return float(x @ y) / (float(np.sqrt(float(x @ x) * float(y @ y))) + 1e-3 * x.size)


def _jumps(alike: Floats) -> list[int]:
    """Places at which one picture has nothing of the one before while its neighbours on both sides hold together."""
    found = []
    for i in np.flatnonzero(alike < _NOTHING).tolist():
        before, after = alike[max(i - _NEAR, 1) : i], alike[i + 1 : i + 1 + _NEAR]
        if len(before) < 2 or len(after) < 2:
            continue
        # (each of them: a swing of the camera, or something that fills the lens, blurs several pictures)
        holds = min(float(before.min()), float(after.min()))
        if holds > 0.5 and alike[i] < 0.4 * holds:
            found.append(i)
    return found


def _steps(times: Floats, bright: Floats, cuts: list[float]) -> list[float]:
    """Seconds at which the brightness of the whole picture changed within `_WITHIN` and stayed changed."""
    if len(times) < 8:
        return []
    gap = max(float(np.median(np.diff(times))), 1e-3)
    width, lag = max(int(_HELD / gap), 2), max(int(_WITHIN / gap), 1)
    found: list[float] = []
    n = len(bright)
    if n < 2 * width + lag:
        return []
    means = np.convolve(bright, np.ones(width) / width, "valid")  # means[i]: frames i .. i + width - 1
    change = means[width + lag :] - means[: -width - lag] if len(means) > width + lag else np.zeros(0)
    spread = np.array([np.ptp(bright[i : i + width]) for i in range(len(means))])
    size = np.abs(change)
    at = 0
    while at < len(size):
        if size[at] < _STEP:
            at += 1
            continue
        end = at
        while end + 1 < len(size) and size[end + 1] >= _STEP:
            end += 1
        best = at + int(np.argmax(size[at : end + 1]))
        inside = slice(best + width, best + width + lag + 1)
        calm = max(spread[best], spread[min(best + width + lag, len(spread) - 1)]) < 0.6 * size[best]
        when = float(times[inside.start + int(np.argmax(np.abs(np.diff(bright[inside.start - 1 : inside.stop]))))])
        if calm and not any(abs(when - cut) < _WITHIN + _HELD for cut in cuts):
            found.append(when)
        at = end + 1
    return found
