"""Moving things kept apart over a film, and what happens between them: from regions that moved to a few tracks.

A region belongs to the thing that was last seen to move nearest to it, if that is within the size of both; what
stands still keeps its place until it moves again. Two things whose boxes touch are together (own method).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from clipmark.motion.survey.seconds import Pair
from clipmark.motion.survey.values import Span, Stretch, Thing

Box = tuple[float, float, float, float]

_LEAST = 4  # times that a thing is seen to move at least
_MOST = 6  # things that are told at most
_STILL = 20.0  # seconds without movement that are worth a word
_EDGE = 10.0  # pixels of the look: so near to the edge of the picture something comes in
_WINDOW = 3.0  # seconds over which nearness is judged


class _Track:
    def __init__(self, at: float, box: Box):
        self.times, self.boxes = [at], [box]

    def take(self, at: float, box: Box) -> None:
        if self.times[-1] == at:
            self.boxes[-1] = _round(self.boxes[-1], box)
        else:
            self.times.append(at)
            self.boxes.append(box)

    def place(self, at: float) -> Box:
        return self.boxes[max(int(np.searchsorted(self.times, at, side="right")) - 1, 0)]


def things(pairs: Sequence[Pair], across: float, down: float) -> tuple[Thing, ...]:
    """Moving things, the most often seen first.

    Args:
        across, down: pixels of the film a pixel of the look.
    """
    tracks: list[_Track] = []
    for pair in pairs:
        for region in sorted(pair.held, key=lambda one: -one.blocks):
            box: Box = tuple(map(float, region.box))  # type: ignore[assignment]
            near = min(tracks, key=lambda one: _gap(one.boxes[-1], box), default=None)
            if near is not None and _gap(near.boxes[-1], box) < 0.6 * max(*near.boxes[-1][2:], *box[2:]):
                near.take(pair.end_s, box)
            else:
                tracks.append(_Track(pair.end_s, box))
    kept = sorted((one for one in tracks if len(one.times) >= _LEAST), key=lambda one: -len(one.times))[:_MOST]
    scale = np.array([across, down, across, down])
    return tuple(
        Thing(number, np.array(one.times), np.array(one.boxes) * scale) for number, one in enumerate(kept, start=1)
    )


def happenings(
    found: Sequence[Thing], moving: Sequence[Stretch], seconds: float, size: tuple[int, int]
) -> tuple[Span, ...]:
    """When things come into view, come together and part, and when nobody moves."""
    told: list[Span] = []
    edges = [0.0, *(edge for one in moving for edge in (one.start_s, one.end_s)), seconds]
    told += [
        Span(start, end, "nobody moves")
        for start, end in zip(edges[::2], edges[1::2], strict=True)
        if end - start >= _STILL
    ]
    for one in found:
        x, y, w, h = one.boxes[0]
        near = x < _EDGE or y < _EDGE or x + w > size[0] - _EDGE or y + h > size[1] - _EDGE
        if near and one.times_s[0] > _WINDOW:
            told.append(Span(float(one.times_s[0]), float(one.times_s[0]), f"thing {one.number} comes into view"))
    for one, other in combinations(found, 2):
        told += _meetings(one, other)
    return tuple(sorted(told, key=lambda span: (span.start_s, span.end_s)))


def _meetings(one: Thing, other: Thing) -> list[Span]:
    """Where two things that lay apart touch, and where they part again."""
    times = np.unique(np.concatenate([one.times_s, other.times_s]))
    times = times[times >= max(one.times_s[0], other.times_s[0])]
    if len(times) < 2:
        return []
    told: list[Span] = []
    together: bool | None = None
    since = times[0]
    for at in times.tolist():
        a, b = _at(one, at), _at(other, at)
        gap = _gap(a, b)
        now = True if gap <= 0 else False if gap > 0.5 * min(max(a[2:]), max(b[2:])) else together
        if now != together:
            if together is not None and now is not None:
                what = "come together" if now else "part"
                told.append(Span(float(since), float(at), f"things {one.number} and {other.number} {what}"))
            together = now
        since = at
    return told


def _at(one: Thing, at: float) -> Box:
    """Box round a thing in the last seconds."""
    last = max(int(np.searchsorted(one.times_s, at, side="right")) - 1, 0)
    x, y, w, h = one.boxes[last].tolist()
    return x, y, w, h


def _gap(a: Box, b: Box) -> float:
    """Pixels between two boxes; 0 or less where they touch."""
    across = max(a[0] - b[0] - b[2], b[0] - a[0] - a[2])
    down = max(a[1] - b[1] - b[3], b[1] - a[1] - a[3])
    return max(across, down) if min(across, down) <= 0 else float(np.hypot(across, down))


def _round(a: Box, b: Box) -> Box:
    x, y = min(a[0], b[0]), min(a[1], b[1])
    return x, y, max(a[0] + a[2], b[0] + b[2]) - x, max(a[1] + a[3], b[1] + b[3]) - y
