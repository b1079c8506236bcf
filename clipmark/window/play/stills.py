"""Small pictures of keyframes spread over a clip: what a jump shows at once, until the right frame is decoded."""

from __future__ import annotations

import threading
from bisect import bisect_left, insort
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from clipmark.media.frames.picture import Picture
    from clipmark.media.index.frame_index import FrameIndex

MOST = 240  # stills of one clip: with 320 pixels in width about 20 MB
WIDTH = 320


class Stills:
    """Stills of one clip, made by its decode thread while nothing else is wanted. All calls from any thread."""

    def __init__(self, index: FrameIndex):
        keys = np.flatnonzero(index.keyframe)
        if len(keys) > MOST:
            keys = keys[np.linspace(0, len(keys) - 1, MOST).round().astype(int)]
        self._wanted = {int(number) for number in keys}
        self._lock = threading.Lock()
        self._kept: dict[int, Picture] = {}
        self._numbers: list[int] = []

    def wants(self, number: int) -> bool:
        """Whether a still of this frame is to be kept and is not there yet."""
        return number in self._wanted

    def next(self, place: int) -> int | None:
        """The frame whose still is to be made next for somebody at `place`; None when all are there."""
        with self._lock:
            return min(self._wanted, key=lambda number: abs(number - place), default=None)

    def put(self, picture: Picture) -> None:
        """Keep a small copy of a frame that is wanted."""
        small = picture.shrunk(WIDTH)
        with self._lock:
            if picture.number in self._wanted:
                self._wanted.discard(picture.number)
                self._kept[picture.number] = small
                insort(self._numbers, picture.number)

    def give_up(self, number: int) -> None:
        """The frame does not come out of the file."""
        with self._lock:
            self._wanted.discard(number)

    def nearest(self, number: int) -> Picture | None:
        """The still nearest to a frame; None while there is none."""
        with self._lock:
            place = bisect_left(self._numbers, number)
            near = min(self._numbers[max(place - 1, 0) : place + 1], key=lambda n: abs(n - number), default=None)
            return None if near is None else self._kept[near]
