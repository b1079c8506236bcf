"""The packets of a long MP4 or MOV film from its own tables, without reading the gigabytes between them.

The decoder library gives each sample's place, size, dts and keyframe mark; only how much later it is shown (the box
`ctts` of ISO/IEC 14496-12) is read here. The outcome is believed only where it equals what the demuxer gives at the
beginning, at the end and in between; otherwise all packets are read one by one.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from clipmark.media.index.packets import Ints, PacketTable, read_packets
from clipmark.media.open_film import packets_of

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream

_WORTH_IT = 3000  # packets; a shorter film is read whole sooner than this is checked
_DISCARD = 2  # flag of an entry that is never shown
_PLACES = 6  # where the table is held against the demuxer
_EACH = 12  # packets compared at each place
_LARGEST = 256 << 20  # bytes of tables that are taken into memory


def table_of_mp4(container: InputContainer, stream: VideoStream, path: Path) -> PacketTable | None:
    """The packet table; None where this is no plain, whole, long MP4 or where anything does not agree.

    Moves the container's reading position.
    """
    if not container.format.name.startswith("mov"):
        return None
    entries = getattr(stream, "index_entries", None)
    if entries is None or len(entries) < _WORTH_IT or len(entries) != stream.frames:
        return None
    rows = np.array([(e.pos, e.size, e.timestamp, e.flags) for e in entries], np.int64)
    position, size, dts, flags = rows.T.copy()
    if (flags & _DISCARD).any() or (position + size).max() > path.stat().st_size or (np.diff(dts) < 0).any():
        return None
    try:
        with path.open("rb") as file:
            later = _composition_offsets(file, stream.id, len(rows))
    except (OSError, ValueError):
        return None
    if later is None:
        return None
    first = next(packets_of(container, stream), None)
    if first is None or first.pts is None:
        return None
    pts = dts + later
    pts += first.pts - int(pts[0])
    duration = np.append(np.diff(dts), 0)
    nothing = np.zeros(len(rows), bool)
    table = PacketTable(pts, dts, position, size, duration, (flags & 1).astype(bool), nothing, nothing)
    return table if _agrees(table, container, stream) else None


def _agrees(table: PacketTable, container: InputContainer, stream: VideoStream) -> bool:
    """Whether the demuxer gives the same packets at several places from the first to the last."""
    import av

    keys = np.flatnonzero(table.keyframe)
    if len(keys) == 0:
        return False
    for key in keys[np.linspace(0, len(keys) - 1, _PLACES).round().astype(int)]:
        try:
            container.seek(int(table.pts[key]), stream=stream)
        except (av.FFmpegError, OSError):
            return False
        met = read_packets(islice(packets_of(container, stream), _EACH))
        start = table.place(int(met.position[0]), int(met.size[0])) if len(met) else None
        if start is None:
            return False
        same = slice(start, start + len(met))
        for column in ("pts", "dts", "position", "size", "keyframe", "discard", "corrupt"):
            if not np.array_equal(getattr(met, column), getattr(table, column)[same]):
                return False
    return True


def _composition_offsets(file: BinaryIO, track: int, count: int) -> Ints | None:
    """Ticks by which each sample of a track is shown after it is decoded; zeros where there is no such table."""
    file.seek(0, 2)
    for moov in _boxes(file, 0, file.tell(), b"moov"):
        for trak in _boxes(file, *moov, b"trak"):
            header = next(_boxes(file, *trak, b"tkhd"), None)
            if header is None or _track_number(_content(file, header)) != track:
                continue
            place = trak
            for kind in (b"mdia", b"minf", b"stbl"):
                inner = next(_boxes(file, *place, kind), None)
                if inner is None:
                    return None
                place = inner
            table = next(_boxes(file, *place, b"ctts"), None)
            return np.zeros(count, np.int64) if table is None else _offsets(_content(file, table), count)
    return None


def _boxes(file: BinaryIO, start: int, end: int, kind: bytes) -> Iterator[tuple[int, int]]:
    """[start, end) of the content of each box of a kind that lies directly in [start, end)."""
    while start + 8 <= end:
        file.seek(start)
        head = file.read(16)
        length, inner = int.from_bytes(head[:4], "big"), start + 8
        if length == 1:
            length, inner = int.from_bytes(head[8:16], "big"), start + 16
        elif length == 0:
            length = end - start
        if length < inner - start or start + length > end:
            return
        if head[4:8] == kind:
            yield inner, start + length
        start += length


def _content(file: BinaryIO, place: tuple[int, int]) -> bytes:
    start, end = place
    if end - start > _LARGEST:
        raise ValueError("a table of impossible size")
    file.seek(start)
    return file.read(end - start)


def _track_number(header: bytes) -> int:
    at = 20 if header[:1] == b"\x01" else 12  # times of 8 bytes each in version 1, of 4 in version 0
    return int.from_bytes(header[at : at + 4], "big")


def _offsets(table: bytes, count: int) -> Ints | None:
    """Runs of (how many samples, offset) spelled out; None where they do not add up to the samples."""
    runs = int.from_bytes(table[4:8], "big")
    spelled = table[8 : 8 + 8 * runs]
    if runs == 0 or len(spelled) != 8 * runs:
        return None
    pairs = np.frombuffer(spelled, ">i4").reshape(-1, 2).astype(np.int64)
    if (pairs[:, 0] < 0).any() or pairs[:, 0].sum() != count:
        return None
    return np.repeat(pairs[:, 1], pairs[:, 0])
