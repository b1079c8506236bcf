"""Cuts, dissolves and steps of light within the frames that were looked at closely."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from clipmark.motion.camera import coarse
from clipmark.motion.shots import ShotFinder
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Grey

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
        for number, picture in pictures:
            small = coarse(picture)
            finder.take(small, number, float(self._times[number]))
            numbers.append(number)
            bright.append(float(np.log(np.median(small) + 8.0)))
            yield number, picture
        if not numbers:
            return
        shots = finder.shots()
        for shot in shots[1:]:
            start, whole = float(self._times[shot.start]), float(self._times[min(shot.whole, numbers[-1])])
            if shot.begins == "cut":
                self._cuts.append(start)
            else:
                self._dissolves.append((start, whole))
        edges = {shot.start for shot in shots[1:]}
        self._light += _steps(self._times[numbers], np.array(bright), [float(self._times[e]) for e in edges])

    def found(self) -> Found:
        return Found(tuple(sorted(self._cuts)), tuple(sorted(self._dissolves)), tuple(sorted(self._light)))


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
