"""A clip as the motion pass takes it: small grey frames, in order, at the cost of little more than decoding."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from clipmark.media.clip import Clip
from clipmark.media.frames.reader import Reader

LONG_SIDE = 640  # pixels that the longer side has at most where no width is asked for


def grey_size(clip: Clip, width: int | None = None) -> tuple[int, int]:
    """(width, height) in which the frames of a clip are looked at, of the width asked for where one is."""
    if width is None:
        width = max(round(clip.width * min(1.0, LONG_SIDE / max(clip.width, clip.height))), 1)
    width = min(width, clip.width)
    return width, max(round(width * clip.height / clip.width), 1)


class GreyFilm:
    """All frames of a clip as brightness, shrunk by averaging.

    Attributes:
        times: (n,) seconds from the first frame.
        width, height: the picture as displayed, in full size; frames come smaller, of `grey_size`.
        grey_size: (width, height) of the frames given out.
        lost, damaged: numbers of the frames that did not come out, and of those that came out with parts filled in
            by the decoder; known as far as the frames were gone through.
    """

    def __init__(self, clip: Clip, width: int | None = None, threads: int = 0):
        self.clip = clip
        self.times: NDArray[np.float64] = clip.index.seconds()
        self.width, self.height = clip.width, clip.height
        self.grey_size = grey_size(clip, width)
        self.lost: list[int] = []
        self.damaged: list[int] = []
        self._threads = threads

    def __len__(self) -> int:
        return len(self.times)

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """(number, picture (h, w)) of every whole frame in [start, stop), in order. The others are left out, their
        numbers are in `lost` and `damaged`: what a decoder fills in would be taken for movement."""
        width, height = self.grey_size
        stop = len(self.times) if stop is None else min(stop, len(self.times))
        self.lost.clear()
        self.damaged.clear()
        expected = start
        with Reader(self.clip, threads=self._threads) as reader:
            for picture in reader.pictures(start, stop):
                self.lost.extend(range(expected, picture.number))
                expected = picture.number + 1
                if picture.damaged:
                    self.damaged.append(picture.number)
                    continue
                yield picture.number, picture.grey(width, height)
        self.lost.extend(range(expected, stop))
