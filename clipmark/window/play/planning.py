"""Which frames are held round the place where the keeper stands, and what is decoded next."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

LARGE = 4 << 20  # bytes of a frame above which film is held shrunk
SHRUNK = 2 << 20  # bytes of a shrunk frame at most
BEHIND, BEHIND_LARGE = 30, 8  # frames held against the direction of travel at most: a jump waits for them


@dataclass(frozen=True, slots=True)
class Room:
    """How many frames to hold: `ahead` in the direction of travel, `behind` against it, `block` for going back."""

    ahead: int
    behind: int
    block: int


def room(limit_bytes: int, frame_bytes: int, sharing: int = 1, behind: int = BEHIND) -> Room:
    """Share out the cache: together the three stay below nine tenths of what fits."""
    frames = max(limit_bytes // max(frame_bytes, 1) // max(sharing, 1), 6)
    return Room(ahead=max(min(frames * 3 // 10, 90), 2), behind=max(min(frames // 8, behind), 1),
                block=max(min(frames * 45 // 100, 250), 2))  # fmt: skip


def kept_width(width: int, height: int) -> int:
    """Width in which frames of a film are held: its own, or a whole part of it where the film is large."""
    nbytes = width * height * 3 // 2
    return width if nbytes <= LARGE else width // math.ceil(math.sqrt(nbytes / SHRUNK))


@dataclass(frozen=True, slots=True)
class DecodePlan:
    """Frames [keep, stop) are to be held; decoding begins at the start of keep's group."""

    keep: int
    stop: int


def plan(
    number: int,
    direction: int,
    count: int,
    room: Room,
    held: Callable[[int], bool],
    group_start: Callable[[int], int],
) -> DecodePlan | None:
    """What to decode next for somebody who stands at `number` and goes in `direction` (-1, 0, +1); None: nothing.

    Going back, the next block is begun while half a block is still in hand."""
    if not held(number):
        if direction < 0:
            return DecodePlan(max(group_start(number), number + 1 - room.block), number + 1)
        return DecodePlan(max(group_start(number), number - room.behind), min(number + 1 + room.behind, count))
    ahead, behind = (room.ahead, room.behind) if direction >= 0 else (room.behind, room.block // 2)
    on = next((n for n in range(number + 1, min(number + 1 + ahead, count)) if not held(n)), None)
    back = next((n for n in range(number - 1, max(number - 1 - behind, -1), -1) if not held(n)), None)
    forward = None if on is None else DecodePlan(on, min(number + 1 + ahead, count))
    size = room.block if direction < 0 else room.behind
    backward = None if back is None else DecodePlan(max(group_start(back), back + 1 - size), back + 1)
    return (backward or forward) if direction < 0 else (forward or backward)
