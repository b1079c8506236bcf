"""Two animals kept apart by how they move: each a box that is pushed along by what moves in it.

A box does not shrink when its animal stands still, and a beating palp inside it pushes nothing. What moves beyond its
edge pushes the edge; what moves far from every box is a new thing. A hand pushes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from clipmark.draft.moving import Blob, Instant
from clipmark.motion.rhythm.values import Floats

Box = tuple[float, float, float, float]  # x0, y0, x1, y1; shares of the picture

_NEAR = 0.03  # of the picture, between a blob and the box that it belongs to
_LEAST = 0.0012  # of the picture: a smaller blob founds no thing
_SHARED = 0.25  # of a blob's box that lies in the box of its thing
_ALL, _SHRINKS = 0.6, 0.25  # a blob so large against the box shows all of it; the box then shrinks by so much
_PAUSE_S, _STAYS_S, _LEAST_S = 0.4, 4.0, 0.5  # of a hand: within one move, between coming and leaving, in all
_BLINK_S = 0.12  # a shorter burst is him being set down, or noise
_INNER = 0.005  # of the picture: what moves inside it and is no speck
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
        return first, first + min(wanted, _MOST)
    if wanted >= _ALL * size:  # all of it moves: the box was too large
        size += _SHRINKS * (wanted - size)
    if first < low:
        return first, first + size
    if last > low + size:
        return last - size, last
    return low, low + size


def follow(seen: Iterable[Instant], known: Iterable[Thing] = (), hands: Sequence[Hand] = ()) -> list[Thing]:
    """The things that move in a film, those that were outlined first.

    Args:
        seen: in order of time. known: animals that the keeper outlined, with the box where they are first.
        hands: while one is in the picture nothing is followed.
    """
    things = list(known)
    for instant in seen:
        moved = dict.fromkeys(range(len(things)), 0.0)
        busy = any(hand.start_s - 0.5 <= instant.time_s <= hand.end_s + 0.5 for hand in hands)
        for blob in () if busy else sorted(instant.blobs, key=lambda b: b.area, reverse=True):
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
        if not _belongs(thing.box, _box(blob)):
            continue
        x0, y0, x1, y1 = thing.box
        across = (0.5 * (blob.x0 + blob.x1) - 0.5 * (x0 + x1)) / max(x1 - x0, 0.02)
        down = (0.5 * (blob.y0 + blob.y1) - 0.5 * (y0 + y1)) / max(y1 - y0, 0.02)
        far = float(np.hypot(across, down))
        if far < least:
            best, least = k, far
    return best


def _belongs(box: Box, blob: Box) -> bool:
    """Whether a blob lies in a box or shares a good part with it; what only touches it from outside is another."""
    if _apart(box, blob) > _NEAR:
        return False
    across = min(box[2], blob[2]) - max(box[0], blob[0])
    down = min(box[3], blob[3]) - max(box[1], blob[1])
    shared = max(across, 0.0) * max(down, 0.0) / max((blob[2] - blob[0]) * (blob[3] - blob[1]), 1e-6)
    return shared >= _SHARED


def _box(blob: Blob) -> Box:
    return blob.x0, blob.y0, blob.x1, blob.y1


def _apart(one: Box, other: Box) -> float:
    """The gap between two boxes, share of the picture; 0 where they touch."""
    across = max(one[0] - other[2], other[0] - one[2], 0.0)
    down = max(one[1] - other[3], other[1] - one[3], 0.0)
    return float(np.hypot(across, down))


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand or lid in the picture, seconds: when it came, when it was gone, when it began to leave."""

    start_s: float
    end_s: float
    leaves_s: float


@dataclass(slots=True)
class _Burst:
    """Something large moves at the edge of the picture, seconds; `grew`: it moved inside before that."""

    start: float
    end: float
    grew: bool


def hands(seen: Iterable[Instant]) -> list[Hand]:
    """When a hand reached in: large, and from the edge of the picture; what grew to the edge is an animal near it."""
    bursts = [one for one in _bursts(seen) if one.end - one.start >= _BLINK_S]
    found: list[Hand] = []
    while bursts:
        first = bursts.pop(0)
        if first.grew:
            continue
        leaves, end = first.start + 0.7 * (first.end - first.start), first.end
        if bursts and bursts[0].start - end <= _STAYS_S:  # it came in, stayed, and leaves
            last = bursts.pop(0)
            leaves, end = last.start, last.end
        if end - first.start >= _LEAST_S:
            found.append(Hand(first.start, end, leaves))
    return found


def _bursts(seen: Iterable[Instant]) -> list[_Burst]:
    bursts: list[_Burst] = []
    inner: list[tuple[float, Blob]] = []  # what moved inside a moment ago
    for instant in seen:
        now = instant.time_s
        large = [blob for blob in instant.blobs if blob.hand]
        if large and bursts and now - bursts[-1].end <= _PAUSE_S:
            bursts[-1].end = now
        elif large:
            near = [old for t, old in inner if now - t <= _PAUSE_S]
            grew = all(any(_apart(_box(blob), _box(old)) == 0 for old in near) for blob in large)
            bursts.append(_Burst(now, now, grew))
        inner = [(t, blob) for t, blob in inner if now - t <= _PAUSE_S]
        inner += [(now, blob) for blob in instant.blobs if not blob.edge and blob.area >= _INNER]
    return bursts
