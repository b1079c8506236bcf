"""Small grey pictures out of a film without reading all of it: the keyframes alone, or short runs of frames."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark.media.clip import Clip
from clipmark.media.frames.picture import Picture
from clipmark.media.frames.reader import FrameLost, Reader
from clipmark.media.index.packets import NONE, Ints
from clipmark.media.open_film import ClipUnreadable, open_container, packets_of, picture_stream

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

Grey = NDArray[np.uint8]

_WANDER = 64  # packets read on after a seek until a keyframe counts as missed
_TRIALS = 8  # keyframes that may be missed at the beginning until they are read the careful way


class Glimpses:
    """Looks into one clip.

    Attributes:
        times: (n,) seconds of every frame from the first.
        sizes: (n,) bytes of its packet.
        keyframe: (n,) whether the file says that decoding can start there.
        order: (n,) place of its packet in the file.
        size: width and height of the picture as displayed.
        decoded: how many frames were decoded up to now.
    """

    def __init__(self, clip: Clip, width: int, height: int, threads: int = 0):
        """
        Args:
            width, height: of the pictures given out; averaged down from the picture as displayed.
        """
        self.clip = clip
        self.times: NDArray[np.float64] = clip.index.seconds()
        self.sizes: Ints = clip.packets.size[clip.order]
        self.keyframe = clip.index.keyframe
        self.order = clip.order
        self.decoded = 0
        self.size = (clip.width, clip.height)
        self._size = (width, height)
        self._threads = threads

    def keys(self, numbers: Sequence[int]) -> Iterator[tuple[int, Grey]]:
        """(number, picture) of the keyframes asked for, rising; those that do not come out whole are left out.

        Raises:
            ClipUnreadable: the film has gone.
        """
        missed = 0
        with open_container(self.clip.path) as container:
            stream = picture_stream(container, self.clip.path, self.clip.stream)
            stream.thread_type = "SLICE"
            stream.codec_context.thread_count = self._threads
            for place, number in enumerate(numbers):
                frame = None if self.clip.checks is not None else self._alone(container, stream, number)
                if frame is None:
                    missed += 1
                    if missed >= _TRIALS and missed > place // 2:
                        break
                    continue
                self.decoded += 1
                pts = int(self.clip.index.pts[number])
                yield number, Picture(frame, number, pts, self.clip.turn).grey(*self._size)
            else:
                return
        yield from self._carefully(numbers[place - missed + 1 :] if missed <= place + 1 else numbers)

    def run(self, start: int, stop: int) -> Iterator[tuple[int, Grey]]:
        """(number, picture) of every whole frame in [start, stop)."""
        with Reader(self.clip, threads=self._threads) as reader:
            for picture in reader.pictures(start, stop):
                self.decoded += 1
                if not picture.damaged:
                    yield picture.number, self._shrunk(picture)

    def _shrunk(self, picture: Picture) -> Grey:
        """The small picture; film that is hardly larger is shrunk by interpolation, which takes a quarter of the time
        of averaging."""
        width, height = self._size
        if not width < self.size[0] < 2 * width:
            return picture.grey(width, height)
        import cv2

        small = cv2.resize(picture.grey(), (width, height), interpolation=cv2.INTER_LINEAR)
        return small.astype(np.uint8, copy=False)

    def _carefully(self, numbers: Sequence[int]) -> Iterator[tuple[int, Grey]]:
        """Keyframes by way of the Reader, for files in which they cannot be gone to directly."""
        with Reader(self.clip, threads=1, quick=True) as reader:
            for number in numbers:
                try:
                    picture = reader.frame(number)
                except (FrameLost, ClipUnreadable):
                    continue
                self.decoded += 1
                if not picture.damaged:
                    yield number, picture.grey(*self._size)

    def _alone(self, container: InputContainer, stream: VideoStream, number: int) -> VideoFrame | None:
        """One keyframe, decoded by itself; None where that does not give a whole picture."""
        import av

        table, ordinal = self.clip.packets, int(self.clip.order[number])
        at = table.pts[ordinal] if table.pts[ordinal] != NONE else table.dts[ordinal]
        if at == NONE:
            return None
        try:
            container.seek(int(at), stream=stream)
            for packet in islice(packets_of(container, stream), _WANDER):
                if packet.size != table.size[ordinal] or table.ordinal(packet) != ordinal:
                    continue
                frames = [*stream.decode(packet), *stream.decode(None)]
                whole = [frame for frame in frames if frame.key_frame and not frame.is_corrupt]
                return whole[0] if whole else None
        except (av.FFmpegError, OSError, MemoryError):
            return None
        return None
