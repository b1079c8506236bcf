"""Exactly the frame that was asked for, out of any film whose frames are indexed."""

from __future__ import annotations

import os
from bisect import bisect_right
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

import numpy as np

from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip
from clipmark.media.fingerprint import fingerprint
from clipmark.media.frames.decode_run import DecodeRun, Doubt
from clipmark.media.frames.picture import Picture
from clipmark.media.frames.skip import Skipping, believed
from clipmark.media.index.packets import NONE, check_sum, decode_numbered
from clipmark.media.open_film import ClipUnreadable, check_file, open_container, packets_of, picture_stream
from clipmark.timebase import clock

if TYPE_CHECKING:
    from av.packet import Packet
    from av.video.frame import VideoFrame

# Containers that are searched by byte position: their own search by time is only a guess.
_BY_BYTE = frozenset({"mpegts", "mpeg", "h264", "hevc", "mpegvideo", "m4v"})
_WANDER = 2000  # packets read on after a seek until it counts as missed


class FrameLost(ClipmarkError):
    """A frame that the file lists and that does not come out of it."""

    def __init__(self, clip: Clip, number: int):
        at = clock(clip.index.exact_seconds(number))
        super().__init__(
            f"Frame {number} of “{clip.path.name}” (at {at}) is damaged and cannot be shown. "
            "Step on, or copy the film from the camera again."
        )
        self.number = number


class ClipChanged(ClipUnreadable):
    def __init__(self, path: Path, grew: bool = False):
        """
        Args:
            grew: it became longer, as it does while a copy or a recording goes on.
        """
        if grew:
            reason = "it has changed since it was opened: it is longer now"
            super().__init__(path, reason, "If it is still being copied or recorded, wait; then open it again.")
        else:
            super().__init__(path, "it has changed since it was opened", "Open it again.")


class Reader:
    """Reads one clip. One Reader a thread; use it in a `with`, or close it.

    Args:
        threads: decoding threads, 0 = as many as the machine has cores.
        quick: answer a jump sooner (threads share each frame) instead of reading on faster (threads take frames).
    """

    def __init__(self, clip: Clip, threads: int = 0, quick: bool = False):
        """
        Raises:
            ClipUnreadable: the file has gone or changed (ClipChanged) since the clip was opened.
        """
        self.clip = clip
        self._threads, self._kind = threads, "SLICE" if quick else "AUTO"
        self._rank = np.full(len(clip.packets), -1, np.int64)
        self._rank[clip.order] = np.arange(len(clip.order))
        self._keys: list[int] = np.flatnonzero(clip.packets.keyframe).tolist()
        self._search = "byte" if clip.container in _BY_BYTE else "pts"
        self._run: DecodeRun | None = None
        self._lost: set[int] = set()  # frames known not to come out
        # Keyframes after which a frame was looked for in every way and not found: the others after them are looked
        # for from there only, as each search from the start of the film takes as long as the film.
        self._hopeless: set[int] = set()
        self._seen: tuple[int, int] | None = None  # size and time of change of the file when it was last made sure of
        self._skipping = Skipping(self._rank, False)
        self._broken = False  # the present run ended because the file could be read no further
        self._doubt = Doubt(clip.packets, 0 if quick else (threads or min((os.cpu_count() or 1) + 1, 16)) - 1)
        self._open()
        header = self._stream.codec_context.extradata
        self._skipping.allowed = clip.checks is None and believed(clip.codec, header)

    def __enter__(self) -> Reader:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._run = None
        self._container.close()

    def frame(self, number: int, passing: Callable[[Picture], None] | None = None) -> Picture:
        """Exactly this frame. Frames before it that no other leans on are not decoded on the way.

        Args:
            passing: told of each frame that comes out on the way to it, the keyframe first; it may raise to leave.

        Raises:
            FrameLost: it does not come out of the file.
            ClipUnreadable: the file was changed meanwhile (ClipChanged), or is gone and can be read no further.
            IndexError: the clip has no such frame.
        """
        if not 0 <= number < len(self.clip.index):
            raise IndexError(f"frame {number} of {len(self.clip.index)}")
        self._make_sure()
        if number not in self._lost:
            found = self._find(number, passing)
            if found is None and self._skipping.used:
                self._skipping.allowed = False  # this film does not bear it: from now on every frame is decoded
                self._run = None
                found = self._find(number, passing)
            if found is not None:
                return self._picture(number, *found)
            self._lost.update(range(number, self._lost_until(number)))
        raise FrameLost(self.clip, number)

    def pictures(self, start: int = 0, stop: int | None = None) -> Iterator[Picture]:
        """Frames [start, stop) in order, decoded forward; those that do not decode are left out."""
        stop = len(self.clip.index) if stop is None else min(stop, len(self.clip.index))
        for number in range(max(start, 0), stop):
            try:
                picture = self.frame(number)
            except FrameLost:
                continue
            yield picture

    def nearest_key(self, number: int) -> Picture:
        """A picture near this frame that is quickly there: the keyframe at or before it (see its own number).

        Raises:
            FrameLost: it does not come out of the file.
        """
        return self.frame(self.group(number)[0])

    def group(self, number: int) -> tuple[int, int]:
        """Frames [start, stop) round this one that are decoded together: from a keyframe to the next."""
        keys = np.flatnonzero(self.clip.index.keyframe)
        place = int(np.searchsorted(keys, number, side="right"))
        start = int(keys[place - 1]) if place else 0
        stop = int(keys[place]) if place < len(keys) else len(self.clip.index)
        return start, stop

    def _find(self, number: int, passing: Callable[[Picture], None] | None) -> tuple[VideoFrame, bool] | None:
        """The frame, and whether it is damaged; None where it does not come out."""
        self._skipping.sought = number
        key = self._key_for(number)
        if self._run is None or not self._reaches(self._run, number, key):
            self._run = None

        def passed(rank: int, frame: VideoFrame, hurt: bool) -> None:
            if passing is not None and self._is_whole(frame, rank):
                passing(self._picture(rank, frame, hurt))

        for run in self._runs(key):
            found = run.find(number, None if passing is None else passed)
            if found is not None and self._is_whole(found[0], number):
                return found
            if found is None and 0 <= run.at < number and self.clip.checks is None:
                return None  # a run that gave frames before this one and then passed it over has given its answer
            self._run = None
        self._hopeless.add(key)
        return None

    def _lost_until(self, number: int) -> int:
        """The first frame after a lost one that may not be lost as well. A long stretch that does not decode is found
        out at once: to look for each of its frames by itself would take time by the square of its length."""
        if self._run is None or self.clip.checks is not None or not 0 <= self._run.at < number:
            return number + 1
        following = self._run.silent_until()
        if following is None:
            return number + 1 if self._broken else len(self.clip.index)
        return max(following, number + 1)

    def _picture(self, number: int, frame: VideoFrame, hurt: bool) -> Picture:
        return Picture(frame, number, int(self.clip.index.pts[number]), self.clip.turn, hurt)

    def _open(self) -> None:
        check_file(self.clip.path)
        self._make_sure()
        self._container = open_container(self.clip.path)
        self._stream = picture_stream(self._container, self.clip.path, self.clip.stream)
        self._stream.thread_type = self._kind
        self._stream.codec_context.thread_count = self._threads

    def _make_sure(self) -> None:
        """Make sure that the file is still the one that the index is of: another film in its place would give other
        pictures under the old numbers. A file that is gone is left to the reading: what is open may still be read."""
        try:
            found = os.stat(self.clip.path)
            seen = (found.st_size, found.st_mtime_ns)
            if seen == self._seen:
                return
            if found.st_size != self.clip.size_bytes or fingerprint(self.clip.path) != self.clip.fingerprint:
                raise ClipChanged(self.clip.path, found.st_size > self.clip.size_bytes)
        except OSError:
            return
        self._seen = seen

    def _key_for(self, number: int) -> int:
        """Place in the list of keyframes of the last one, in file order, at or before the frame's packet that is
        also shown at or before it; -1 where there is none."""
        place = bisect_right(self._keys, int(self.clip.order[number])) - 1
        while place > 0 and self._rank[self._keys[place]] > number:
            place -= 1
        return place

    def _reaches(self, run: DecodeRun, number: int, key: int) -> bool:
        """Whether decoding on from where the run stands comes to the frame, and no keyframe lies nearer."""
        if run.holds(number) or run.at == number - 1:
            return True
        return run.at < number and (key < 0 or int(self._rank[self._keys[key]]) <= run.at + 1)

    def _runs(self, key: int) -> Iterator[DecodeRun]:
        """Runs that may come to a frame: the present one, then from its keyframe, then from ever further back, at
        last from the start of the film."""
        if self._run is not None:
            yield self._run
        back = 0
        while 0 <= back <= key:
            if self._begin(self._keys[key - back]) and self._run is not None:
                yield self._run
            back = back * 2 + 1
            if key in self._hopeless:
                return
        self._container.close()
        self._open()
        yield self._take_up(self._numbered(self._packets(), 0))

    def _packets(self) -> Iterator[Packet[Any]]:
        """Packets from where the demuxer stands."""
        self._broken = False

        def broke() -> None:
            self._broken = True

        return packets_of(self._container, self._stream, broke)

    def _numbered(self, packets: Iterator[Packet[Any]], first: int) -> Iterator[tuple[int, VideoFrame]]:
        self._skipping.used = False
        return decode_numbered(self._stream, packets, self.clip.packets, first, self._doubt.refused, self._skipping)

    def _take_up(self, frames: Iterator[tuple[int, VideoFrame]]) -> DecodeRun:
        self._run = DecodeRun(frames, self._rank, self._doubt)
        return self._run

    def _begin(self, start: int) -> bool:
        """Start a run at a keyframe; False where the demuxer cannot be brought there, or it is none."""
        self._run = None
        for how, target in self._targets(start):
            landed = self._land(how, target, start)
            if landed is not None:
                self._search = how
                return self._begins_well(self._numbered(landed, start))
        return False

    def _begins_well(self, frames: Iterator[tuple[int, VideoFrame]]) -> bool:
        """Begin a run with a picture that leans on no other. Containers mark keyframes that are none; the decoder's
        own word counts. (H.264 is left to its decoder, which keeps back what is not whole: film with intra refresh
        has no such pictures.)"""
        if self.clip.codec != "h264":
            first = next(frames, None)
            if first is None or not first[1].key_frame:
                return False
            frames = chain((first,), frames)
        self._take_up(frames)
        return True

    def _targets(self, start: int) -> Iterator[tuple[str, int]]:
        """Ways to bring the demuxer to a packet: the one that worked last, the others, then from further ahead."""
        table = self.clip.packets
        ways = {"byte": table.position[start], "pts": table.pts[start], "dts": table.dts[start]}
        if self._search != "byte":
            del ways["byte"]
        for how in sorted(ways, key=lambda way: way != self._search):
            if ways[how] != NONE:
                yield how, int(ways[how])
        place = bisect_right(self._keys, start) - 1
        for back in (1, 2, 4):
            if place - back >= 0 and table.dts[self._keys[place - back]] != NONE:
                yield "dts", int(table.dts[self._keys[place - back]])

    def _land(self, how: str, target: int, start: int) -> Iterator[Packet[Any]] | None:
        """Seek, and read on until the wanted packet itself is met; None where it is not."""
        import av

        try:
            self._container.seek(target, stream=self._stream, unsupported_byte_offset=how == "byte")
        except (av.FFmpegError, OSError):
            return None
        packets = self._packets()
        for _, packet in zip(range(_WANDER), packets, strict=False):
            ordinal = self.clip.packets.ordinal(packet)
            if ordinal == start:
                return chain((packet,), packets)
            if ordinal is not None and ordinal > start:
                return None
        return None

    def _is_whole(self, frame: VideoFrame, number: int) -> bool:
        """Whether this is the picture that decoding from the beginning gave, where that had to be learned: packets of
        such films do not say reliably which frame they hold."""
        return self.clip.checks is None or check_sum(frame) == self.clip.checks[number]
