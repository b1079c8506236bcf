"""The facts of one film file, gathered without decoding more than its first frames."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from clipmark.media.door import ClipUnreadable, CodecUnknown, MostlyLost, open_container, packets_of, picture_stream
from clipmark.media.fingerprint import fingerprint
from clipmark.media.index import FrameIndex, frame_index
from clipmark.media.order import Order, find_order
from clipmark.media.packets import Ints, PacketTable, decode_numbered, read_packets
from clipmark.media.picture import Turn, turn_of
from clipmark.progress import SILENT, Progress
from clipmark.timebase import exact

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.video.frame import VideoFrame


@dataclass(frozen=True, slots=True)
class SoundFacts:
    """The sound that goes with the film: number of its stream, codec, samples a second, channels, and its start in
    seconds from the clip's first frame (negative where it begins earlier; None where the file does not say)."""

    stream: int
    codec: str
    rate: int
    channels: int
    start: Fraction | None


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """Frozen facts of one film file.

    Attributes:
        width, height: the picture as displayed (turn applied), in stored pixels.
        rotation: degrees clockwise that are applied for showing: 0, 90, 180 or 270.
        pixel_aspect: width of a stored pixel by its height, for the screen only.
        times_exact: whether every frame's time is the file's own.
        inexact: spans of frames [start, end) whose times are counted on instead.
        notes: sentences for the keeper: damage, inexact stretches.
        stream: number of the picture stream in the file.
        packets, order: how frames are found in the file; order[i] is the ordinal of frame i's packet.
        checks: where the order had to be learned by decoding, a check sum of each frame, else None.
    """

    path: Path
    size_bytes: int
    fingerprint: str
    container: str
    codec: str
    pixel_format: str
    width: int
    height: int
    rotation: int
    pixel_aspect: Fraction
    index: FrameIndex
    times_exact: bool
    notes: tuple[str, ...]
    sound: SoundFacts | None
    inexact: tuple[tuple[int, int], ...]
    turn: Turn = field(repr=False)
    stream: int = field(repr=False)
    packets: PacketTable = field(repr=False)
    order: Ints = field(repr=False)
    checks: Ints | None = field(repr=False)


def open_clip(path: Path | str, progress: Progress = SILENT, use_cache: bool = True) -> Clip:
    """The facts of a film file: its frames and their exact times, its sound, its damage.

    Raises:
        ClipUnreadable: the file will not do as film; the subclass and the sentence say why.
        Cancelled: out of `progress`.
    """
    path = Path(path)
    with open_container(path) as container:
        stream = picture_stream(container, path)
        table = read_packets(_reporting(packets_of(container, stream), stream.frames, progress))
        container_name, number = container.format.name, stream.index
        start_of_sound = _sound(container)
    if len(table) == 0:
        raise ClipUnreadable(path, "it holds no picture data", "Copy it from the camera again.")

    def decode(failed: list[int]) -> Iterator[tuple[int, VideoFrame]]:
        with open_container(path) as again:
            its = picture_stream(again, path, number)
            its.thread_type = "AUTO"
            yield from decode_numbered(its, packets_of(again, its), None, failed=failed)

    with open_container(path) as container:
        stream = picture_stream(container, path, number)
        time_base = exact(stream.time_base) or Fraction(1, 1000)
        rate = exact(stream.average_rate) or exact(stream.base_rate)
        codec = stream.codec_context.name
        pixel_aspect = exact(stream.sample_aspect_ratio) or Fraction(1)
    order = find_order(table, decode, 1 / (rate or Fraction(25)) / time_base)
    if order is None or order.first is None:
        raise CodecUnknown(path, codec)
    if order.refused > len(order.ordinal):
        raise MostlyLost(path, codec, len(order.ordinal), len(table))
    return _clip(path, container_name, codec, table, order, time_base, rate, pixel_aspect, number, start_of_sound)


def _clip(
    path: Path,
    container: str,
    codec: str,
    table: PacketTable,
    order: Order,
    time_base: Fraction,
    rate: Fraction | None,
    pixel_aspect: Fraction,
    stream: int,
    sound: SoundFacts | None,
) -> Clip:
    frame = order.first
    assert frame is not None
    turn = turn_of(frame)
    sides = (frame.width, frame.height)
    index = frame_index(
        order.pts, time_base, table.keyframe[order.ordinal], int(table.duration[order.ordinal[-1]]), rate
    )
    if sound is not None and sound.start is not None:
        first = int(order.pts[0]) * time_base
        sound = SoundFacts(sound.stream, sound.codec, sound.rate, sound.channels, sound.start - first)
    notes = list(order.notes)
    damaged = int(np.count_nonzero(table.corrupt))
    if damaged:
        pieces = "1 piece" if damaged == 1 else f"{damaged} pieces"
        notes.append(f"{pieces} of the picture data (of {len(table)}) are marked as damaged in the file.")
    return Clip(
        path=path,
        size_bytes=path.stat().st_size,
        fingerprint=fingerprint(path),
        container=container,
        codec=codec,
        pixel_format=frame.format.name,
        width=sides[1] if turn.sideways else sides[0],
        height=sides[0] if turn.sideways else sides[1],
        rotation=turn.degrees,
        pixel_aspect=1 / pixel_aspect if turn.sideways else pixel_aspect,
        index=index,
        times_exact=not order.inexact,
        notes=tuple(notes),
        sound=sound,
        inexact=tuple(order.inexact),
        turn=turn,
        stream=stream,
        packets=table,
        order=order.ordinal,
        checks=order.checks,
    )


def _sound(container: InputContainer) -> SoundFacts | None:
    """The first sound stream, its start still on the file's clock."""
    for stream in container.streams.audio:
        if stream.codec_context is None:
            continue
        start, base = stream.start_time, exact(stream.time_base)
        begins = start * base if start is not None and base is not None else None
        return SoundFacts(
            stream.index, stream.codec_context.name, stream.sample_rate or 0, stream.channels or 0, begins
        )
    return None


def _reporting(packets: Iterator[Packet], total: int, progress: Progress) -> Iterator[Packet]:
    for done, packet in enumerate(packets):
        if done % 4096 == 0:
            progress.advance(done, max(total, 0))
        yield packet
