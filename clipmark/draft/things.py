"""Two animals kept apart by how they move: each a box that is pushed along by what moves in it.

A box does not shrink when its animal stands still, and a beating palp inside it pushes nothing. What moves beyond its
edge pushes the edge; what moves far from every box is a new thing. A hand pushes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from clipmark.draft.moving import Blob, Instant
from clipmark.motion.rhythm.values import Floats

Box = tuple[float, float, float, float]  # x0, y0, x1, y1; shares of the picture

_NEAR = 0.03  # of the picture, between a blob and the box that it belongs to
_LEAST = 0.0012  # of the picture: a smaller blob founds no thing
_MOST = 0.5  # of the picture's width or height that a thing takes at most


@dataclass
class Thing:
    """One animal: its box at every instant, and how much of it moved.

    Attributes:
        name: "her", "him", or empty while that is not told.
        times: seconds; boxes: as many (x0, y0, x1, y1); moved: shares of the picture.
    """

    box: Box
    name: str = ""
    known: bool = False  # outlined by the keeper
    times: list[float] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    moved: list[float] = field(default_factory=list)

    def note(self, time_s: float, moved: float) -> None:
        """Write down where it is now and how much of it moved."""
        self.times.append(time_s)
        self.boxes.append(self.box)
        self.moved.append(moved)

    def push(self, blob: Blob) -> None:
        """Let what moved push the box: it moves as little as holds the blob, and grows only where it must."""
        x0, x1 = _pushed(self.box[0], self.box[2], blob.x0, blob.x1)
        y0, y1 = _pushed(self.box[1], self.box[3], blob.y0, blob.y1)
        self.box = (x0, y0, x1, y1)

    @property
    def middles(self) -> Floats:
        """(n, 2) middle of the box at every instant."""
        box = np.array(self.boxes).reshape(-1, 4)
        return np.stack([(box[:, 0] + box[:, 2]) / 2, (box[:, 1] + box[:, 3]) / 2], axis=1)

    @property
    def travelled(self) -> float:
        """How far it went in all, against its size."""
        if len(self.boxes) < 2:
            return 0.0
        size = max(self.box[2] - self.box[0], self.box[3] - self.box[1], 1e-3)
        return float(np.hypot(*np.diff(self.middles, axis=0).T).sum() / size)


def _pushed(low: float, high: float, first: float, last: float) -> tuple[float, float]:
    size, wanted = high - low, last - first
    if wanted >= size:
        grown = min(wanted, _MOST)
        return first, first + grown
    if first < low:
        return first, first + size
    if last > high:
        return last - size, last
    return low, high


def follow(seen: Iterable[Instant], known: Iterable[Thing] = ()) -> list[Thing]:
    """The things that move in a film, those that were outlined first.

    Args:
        seen: in order of time. known: animals that the keeper outlined, with the box where they are first.
    """
    things = list(known)
    for instant in seen:
        hand = [blob for blob in instant.blobs if blob.hand]
        moved = dict.fromkeys(range(len(things)), 0.0)
        for blob in sorted(instant.blobs, key=lambda b: b.area, reverse=True):
            if blob.hand or any(_apart(_box(blob), _box(h)) <= 0.02 for h in hand):
                continue
            k = _owner(things, blob)
            if k is None:
                if blob.area < _LEAST:
                    continue
                things.append(Thing(_box(blob)))
                k = len(things) - 1
            elif not (things[k].known and things[k].name == "her"):
                things[k].push(blob)
            moved[k] = moved.get(k, 0.0) + blob.area
        for k, thing in enumerate(things):
            thing.note(instant.time_s, moved.get(k, 0.0))
    return [thing for thing in things if thing.known or _lives(thing)]


def _lives(thing: Thing) -> bool:
    return sum(m > 0 for m in thing.moved) >= 5


def _owner(things: list[Thing], blob: Blob) -> int | None:
    """The thing that a blob belongs to: of those near it, the one whose middle lies nearest against its size."""
    best, least = None, np.inf
    for k, thing in enumerate(things):
        if _apart(thing.box, _box(blob)) > _NEAR:
            continue
        x0, y0, x1, y1 = thing.box
        across = (0.5 * (blob.x0 + blob.x1) - 0.5 * (x0 + x1)) / max(x1 - x0, 0.02)
        down = (0.5 * (blob.y0 + blob.y1) - 0.5 * (y0 + y1)) / max(y1 - y0, 0.02)
        far = float(np.hypot(across, down))
        if far < least:
            best, least = k, far
    return best


def _box(blob: Blob) -> Box:
    return blob.x0, blob.y0, blob.x1, blob.y1


def _apart(one: Box, other: Box) -> float:
    """The gap between two boxes, share of the picture; 0 where they touch."""
    across = max(one[0] - other[2], other[0] - one[2], 0.0)
    down = max(one[1] - other[3], other[1] - one[3], 0.0)
    return float(np.hypot(across, down))


def hands(seen: Iterable[Instant]) -> list[tuple[float, float, float, tuple[float, float]]]:
    """When a hand reached in: start, end, when it began to leave (seconds), and where it was (x, y)."""
    spans: list[list[float]] = []
    places: list[list[tuple[float, float, float]]] = []
    for instant in seen:
        large = [blob for blob in instant.blobs if blob.hand]
        if not large:
            continue
        if spans and instant.time_s - spans[-1][1] <= 3.0:
            spans[-1][1] = instant.time_s
        else:
            spans.append([instant.time_s, instant.time_s])
            places.append([])
        blob = max(large, key=lambda b: b.area)
        places[-1].append((instant.time_s, 0.5 * (blob.x0 + blob.x1), 0.5 * (blob.y0 + blob.y1)))
    found = []
    for (start, end), where in zip(spans, places, strict=True):
        if len(where) < 3 or end - start < 0.6:
            continue
        times = np.array([w[0] for w in where])
        pauses = np.flatnonzero(np.diff(times) > 0.25)
        leaves = float(times[pauses[-1] + 1]) if len(pauses) else start + 0.7 * (end - start)
        middle = where[len(where) // 2]
        found.append((start, end, leaves, (middle[1], middle[2])))
    return found
