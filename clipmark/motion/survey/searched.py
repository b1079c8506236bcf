"""The motion pass over chosen stretches of a film alone; the rest is said to be not searched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.film import Film
from clipmark.motion.result import UNWATCHED, Cause, FrameSpan, ScanResult
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Grey

MARGIN = 1.5  # seconds round each stretch that are searched too: a pull is known by the rest before and after it


class Searched:
    """A film of which only some stretches are given out. In between nothing moves, so that what is followed is found
    again where it was left.

    Args:
        stretches: (start, end) in seconds.
        frames: positions that are given out as well (outlines were drawn there), half a second round each.
    """

    def __init__(self, film: Film, stretches: Sequence[tuple[float, float]], frames: Sequence[int] = ()):
        self.times: Floats = film.times
        self.width, self.height = film.width, film.height
        self._film = film
        inside = np.zeros(len(film.times), bool)
        near = [(float(film.times[frame]) - 0.5, float(film.times[frame]) + 0.5) for frame in frames]
        for start, end in (*((a - MARGIN, b + MARGIN) for a, b in stretches), *near):
            inside[np.searchsorted(film.times, start) : np.searchsorted(film.times, end)] = True
        self.inside: NDArray[np.bool_] = inside

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        """Frames of [start, stop) that lie in the stretches."""
        stop = len(self.times) if stop is None else min(stop, len(self.times))
        edges = np.flatnonzero(np.diff(np.r_[0, self.inside[start:stop].astype(np.int8), 0])) + start
        for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            yield from self._film.frames(first, last)


def told_what_was_searched(result: ScanResult, inside: NDArray[np.bool_]) -> ScanResult:
    """The result of a pass over a `Searched` film, in which all that was left out is unwatched: not searched."""
    told = [("", ""), (UNWATCHED[Cause.NOT_SEARCHED], str(Cause.NOT_SEARCHED))]
    place = np.zeros(len(inside), int)  # of what is told of each frame
    for span in result.unwatched:
        if (span.why, span.cause) not in told:
            told.append((span.why, span.cause))
        place[span.start : span.end] = told.index((span.why, span.cause))
    place[~inside] = 1
    edges = [0, *(np.flatnonzero(place[1:] != place[:-1]) + 1).tolist(), len(place)]
    spans = [FrameSpan(a, b, *told[place[a]]) for a, b in pairwise(edges) if b > a]
    return replace(
        result,
        watched=tuple(span for span in spans if not span.why),
        unwatched=tuple(span for span in spans if span.why),
    )
