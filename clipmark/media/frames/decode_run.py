"""Decoding on from one place in a film, and what its silence about a frame means."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from clipmark.media.index.packets import Ints, PacketTable

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

_AHEAD = 8  # frames held that came before one that was expected first (times of some films are not quite in order)
_LEANING = 300  # packets after a damaged one that are in doubt at most, where no keyframe comes before


class Doubt:
    """Which frames of a clip may not be whole: their own data are damaged, or they lean on a frame whose data are.

    Args:
        delay: packets that the decoder may have taken in since the one that it refuses (its threads).
    """

    def __init__(self, table: PacketTable, delay: int):
        rows = np.arange(len(table))
        self._key = np.maximum.accumulate(np.where(table.keyframe, rows, 0))
        self._bad: list[int] = np.flatnonzero(table.corrupt).tolist()
        self._delay = delay

    def refused(self, ordinal: int) -> None:
        """The decoder refused a packet when this one was put in."""
        self._bad.append(max(ordinal - self._delay, 0))

    def about(self, ordinal: int, filled_in: bool) -> bool:
        """Whether the frame of this packet is in doubt; `filled_in`: the decoder says that it filled parts in."""
        if filled_in:
            self._bad.append(ordinal)
            return True
        least = max(int(self._key[ordinal]), ordinal - _LEANING)
        return any(least <= bad <= ordinal for bad in self._bad)


class DecodeRun:
    """Frames as they come out of the decoder, asked for by rising number.

    Args:
        frames: (ordinal of the packet, frame).
        rank: frame number of each packet, -1 for packets that are no frame.
    """

    def __init__(self, frames: Iterator[tuple[int, VideoFrame]], rank: Ints, doubt: Doubt):
        self._frames, self._rank, self._doubt = frames, rank, doubt
        self._ahead: dict[int, tuple[VideoFrame, bool]] = {}
        self.at = -1  # number of the frame given or passed last

    def silent_until(self) -> int | None:
        """The next frame that came; None where none came any more. What lies between `at` and it came as little as
        the frame that was last asked for in vain."""
        return min(self._ahead, default=None)

    def holds(self, number: int) -> bool:
        """Whether the frame is decoded already."""
        return number in self._ahead

    def find(
        self, number: int, passing: Callable[[int, VideoFrame, bool], None] | None = None
    ) -> tuple[VideoFrame, bool] | None:
        """The frame, and whether it is damaged; None where it is passed over, or where the film ends before it.

        Args:
            passing: told (number, frame, damaged) of what comes out before; it may raise, the run can go on later.
        """
        found = self._ahead.pop(number, None)
        while found is None and len(self._ahead) < _AHEAD:
            came = next(self._frames, None)
            if came is None:
                break
            ordinal, frame = came
            rank = int(self._rank[ordinal])
            whole = frame, self._doubt.about(ordinal, frame.is_corrupt)
            if rank == number:
                found = whole
            elif rank > number:
                self._ahead[rank] = whole
            elif rank >= 0:
                self.at = max(self.at, rank)
                if passing is not None:
                    passing(rank, *whole)
        for passed in [held for held in self._ahead if held < number]:
            del self._ahead[passed]
        if found is not None:
            self.at = number
        return found
