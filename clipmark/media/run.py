"""Decoding on from one place in a film, and what its silence about a frame means."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from clipmark.media.packets import Ints

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

_AHEAD = 8  # frames held that came before one that was expected first (times of some films are not quite in order)


class Run:
    """Frames as they come out of the decoder, asked for by rising number.

    Args:
        frames: (ordinal of the packet, frame).
        rank: frame number of each packet, -1 for packets that are no frame.
    """

    def __init__(self, frames: Iterator[tuple[int, VideoFrame]], rank: Ints):
        self._frames, self._rank = frames, rank
        self._ahead: dict[int, VideoFrame] = {}
        self.at = -1  # number of the frame given or passed last

    def holds(self, number: int) -> bool:
        """Whether the frame is decoded already."""
        return number in self._ahead

    def find(self, number: int) -> VideoFrame | None:
        """The frame; None where it is passed over, or where the film ends before it."""
        found = self._ahead.pop(number, None)
        while found is None and len(self._ahead) < _AHEAD:
            came = next(self._frames, None)
            if came is None:
                break
            rank = int(self._rank[came[0]])
            if rank == number:
                found = came[1]
            elif rank > number:
                self._ahead[rank] = came[1]
            elif rank >= 0:
                self.at = max(self.at, rank)
        for passed in [held for held in self._ahead if held < number]:
            del self._ahead[passed]
        if found is not None:
            self.at = number
        return found
