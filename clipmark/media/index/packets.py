"""The packets of a film file as they lie in it: read without decoding, and recognised again after a seek."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av.packet import Packet
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

NONE = -(1 << 62)  # "not stated", for pts, dts and byte position

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class PacketTable:
    """One row a packet of the picture stream, in file order; the row number is the packet's *ordinal*.

    Attributes:
        pts, dts: ticks as stored, NONE where not stated.
        position, size: byte position in the file (NONE where unknown) and size in bytes.
        duration: ticks, 0 where not stated.
        keyframe, discard, corrupt: as the container says; *discard* is not shown (edit list).
    """

    pts: Ints
    dts: Ints
    position: Ints
    size: Ints
    duration: Ints
    keyframe: Bools
    discard: Bools
    corrupt: Bools

    def __len__(self) -> int:
        return len(self.pts)

    def ordinal(self, packet: Packet[Any]) -> int | None:
        """Which row a packet met after a seek is; None for one that was not met before (cut differently)."""
        position = packet.pos
        if position is not None and position >= 0:
            found = np.flatnonzero((self.position == position) & (self.size == packet.size))
            if len(found) < 2:
                return int(found[0]) if len(found) else None
        else:
            found = np.flatnonzero(self.size == packet.size)
        same = (self.pts[found] == _stated(packet.pts)) & (self.dts[found] == _stated(packet.dts))
        found = found[same]
        return int(found[0]) if len(found) else None

    def place(self, position: int, size: int) -> int | None:
        """Row of the packet that lies at this byte position and is of this size."""
        found = np.flatnonzero((self.position == position) & (self.size == size))
        return int(found[0]) if len(found) else None

    def segments(self) -> Ints:
        """For each packet the number of times that the clock was set back before it."""
        segment = np.zeros(len(self), np.int64)
        known = np.flatnonzero(self.dts != NONE)
        back = known[1:][np.diff(self.dts[known]) < 0]
        segment[back] = 1
        return np.cumsum(segment)


def _stated(value: int | None) -> int:
    return NONE if value is None else value


def check_sum(frame: VideoFrame) -> int:
    """A number for what the frame shows: every fourth line of its first plane, without the padding of the lines."""
    plane = frame.planes[0]
    step = abs(plane.line_size)
    lines = np.frombuffer(memoryview(plane), np.uint8, count=step * frame.height).reshape(frame.height, step)
    return zlib.crc32(lines[::4, : min(frame.width, step)].tobytes())


def read_packets(packets: Iterator[Packet[Any]]) -> PacketTable:
    """Table of all packets; nothing is decoded."""
    rows = [
        (
            NONE if (pts := p.pts) is None else pts,
            NONE if (dts := p.dts) is None else dts,
            NONE if (pos := p.pos) is None or pos < 0 else pos,
            p.size,
            p.duration or 0,
            p.is_keyframe,
            p.is_discard,
            p.is_corrupt,
        )
        for p in packets
    ]
    columns = np.array(rows, np.int64).reshape(-1, 8).T.copy()
    flags = columns[5:].astype(bool)
    return PacketTable(*columns[:5], *flags)


def decode_numbered(
    stream: VideoStream,
    packets: Iterator[Packet[Any]],
    table: PacketTable | None,
    first: int = 0,
    refused: Callable[[int], None] = lambda _: None,
    skipped: Callable[[int], bool] | None = None,
) -> Iterator[tuple[int, VideoFrame]]:
    """Decode packets and yield (ordinal, frame); packets that cannot be decoded are passed over.

    The ordinal is written into the packet's times before decoding and the frame carries it out; after that the
    frame's own `pts` is no time any more. (A packet's `opaque` would do the same, but stalls with frame threads.)

    Args:
        table: rows to recognise the packets by; None when they are met for the first time.
        first: ordinal of the first packet.
        refused: told the ordinal of the packet put in when the decoder refuses one (with threads, an earlier one).
        skipped: says of each packet whether the decoder may leave it out if no other frame leans on it.
    """
    import av

    context, skipping = stream.codec_context, None
    expected: int | None = first
    for packet in packets:
        if table is not None and (expected is None or expected >= len(table) or packet.size != table.size[expected]):
            expected = table.ordinal(packet)  # the demuxer cut the stream differently: find the place again
        packet.pts = packet.dts = expected
        if skipped is not None and skipping != (skips := expected is not None and skipped(expected)):
            skipping = skips
            context.skip_frame = "NONREF" if skips else "DEFAULT"
        try:
            frames = stream.decode(packet)
        except (av.FFmpegError, MemoryError):
            frames = []
            if expected is not None:
                refused(expected)
        for frame in frames:
            if frame.pts is not None:
                yield frame.pts, frame
        expected = None if expected is None else expected + 1
    for _ in range(256):  # an error inside the flush must not end it; the end of the stream does
        try:
            frames = stream.decode(None)
        except av.EOFError:
            return
        except (av.FFmpegError, MemoryError):
            continue
        if not frames:
            return
        for frame in frames:
            if frame.pts is not None:
                yield frame.pts, frame
