"""The facts of one film file, gathered without decoding more than its first frames."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, fields, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from clipmark.media.fingerprint import fingerprint
from clipmark.media.frames.picture import Turn, turn_of
from clipmark.media.index import index_cache
from clipmark.media.index.frame_index import FrameIndex, frame_index
from clipmark.media.index.mp4_table import table_of_mp4
from clipmark.media.index.order import find_order
from clipmark.media.index.packets import Ints, PacketTable, decode_numbered, read_packets
from clipmark.media.open_film import (
    ClipUnreadable,
    MostlyLost,
    check_file,
    open_container,
    packets_of,
    picture_stream,
)
from clipmark.progress import SILENT, Progress
from clipmark.timebase import clock, exact

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
        inexact: spans of frames [start, end) whose times are estimated instead.
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

    Args:
        use_cache: take the index from the last time this film was opened, and keep it for the next.

    Raises:
        ClipUnreadable: the file will not do as film; the subclass and the sentence say why.
        Cancelled: out of `progress`.
    """
    path = Path(path)
    check_file(path)
    known_by = fingerprint(path)
    if use_cache:
        kept = index_cache.load(known_by)
        clip = _from_cache(path, known_by, kept) if kept is not None else None
        if clip is not None:
            return clip
    clip = _read(path, known_by, progress)
    if use_cache:
        index_cache.save(known_by, *_for_cache(clip))
    return clip


def _read(path: Path, known_by: str, progress: Progress) -> Clip:
    """The clip from its file: all packets met once, the first frames decoded."""
    with open_container(path) as container:
        stream = picture_stream(container, path)
        number, kind = stream.index, container.format.name
        time_base = exact(stream.time_base) or Fraction(1, 1000)
        rate = exact(stream.average_rate) or exact(stream.base_rate)
        codec = stream.codec_context.name
        pixel_aspect = exact(stream.sample_aspect_ratio) or Fraction(1)
        sound = _sound(container)
        _only(container, number)
        table = table_of_mp4(container, stream, path)
        stated = stream.frames
        lasts = Fraction(container.duration or 0, 1_000_000)
    if table is None:
        with open_container(path) as container:
            stream = picture_stream(container, path, number)
            _only(container, number)
            table = read_packets(_reporting(packets_of(container, stream), stated, progress))
    if len(table) == 0:
        raise ClipUnreadable(path, "it holds no picture data", "Copy it from the camera again.")
    order = find_order(table, partial(_decode_all, path, number), 1 / (rate or Fraction(25)) / time_base, progress)
    if order is None or order.first is None:
        raise MostlyLost(path, codec, 0, len(table))
    if order.refused > len(order.ordinal):
        raise MostlyLost(path, codec, len(order.ordinal), len(table))
    first = order.first
    turn = turn_of(first)
    width, height = (first.height, first.width) if turn.sideways else (first.width, first.height)
    if sound is not None and sound.start is not None:
        sound = replace(sound, start=sound.start - int(order.pts[0]) * time_base)
    last_duration = int(table.duration[order.ordinal[-1]])
    index = frame_index(order.pts, time_base, table.keyframe[order.ordinal], last_duration, rate)
    notes = (
        *order.notes,
        *_damage(table, stated if kind.startswith("mov") else 0),
        *_missing_end(kind, index, lasts),
    )
    return Clip(
        path=path,
        size_bytes=path.stat().st_size,
        fingerprint=known_by,
        container=kind,
        codec=codec,
        pixel_format=first.format.name,
        width=width,
        height=height,
        rotation=turn.degrees,
        pixel_aspect=1 / pixel_aspect if turn.sideways else pixel_aspect,
        index=index,
        times_exact=not order.inexact,
        notes=notes,
        sound=sound,
        inexact=tuple(order.inexact),
        turn=turn,
        stream=number,
        packets=table,
        order=order.ordinal,
        checks=order.checks,
    )


def _only(container: InputContainer, number: int) -> None:
    """Leave all other streams aside; where the container allows it, they are not even read."""
    from av.stream import Discard

    for other in container.streams:
        if other.index != number:
            other.discard = Discard.all


def _decode_all(path: Path, number: int, failed: list[int]) -> Iterator[tuple[int, VideoFrame]]:
    """Decode the film from its beginning, packets numbered as they come."""
    with open_container(path) as container:
        stream = picture_stream(container, path, number)
        stream.thread_type = "AUTO"
        yield from decode_numbered(stream, packets_of(container, stream), None, refused=failed.append)


def _damage(table: PacketTable, stated: int) -> tuple[str, ...]:
    """Sentences on what is damaged or missing as far as the packets show it; `stated` is the file's own count."""
    told = []
    if stated > len(table):
        told.append(f"The file lists {stated} frames, but only {len(table)} are there: its end is missing.")
    damaged = int(np.count_nonzero(table.corrupt))
    if damaged:
        pieces = "1 piece of the picture data is" if damaged == 1 else f"{damaged} pieces of the picture data are"
        told.append(f"{pieces} marked as damaged in the file (of {len(table)}).")
    return tuple(told)


def _missing_end(kind: str, index: FrameIndex, lasts: Fraction) -> tuple[str, ...]:
    """A sentence where the file states that it lasts clearly longer than its picture does; these kinds state it."""
    if not kind.startswith(("matroska", "flv", "asf", "avi")):
        return ()
    end = index.end_pts * index.time_base  # on the file's own clock, as its duration is counted
    if lasts - end <= max(Fraction(1), lasts / 50):
        return ()
    return (f"The file says that it lasts {clock(lasts)}, but its picture ends at {clock(end)}: the end is missing.",)


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


def _reporting(packets: Iterator[Packet[Any]], total: int, progress: Progress) -> Iterator[Packet[Any]]:
    done = 0
    for done, packet in enumerate(packets, start=1):
        yield packet
        if done % 4096 == 0:
            progress.advance(done, max(total, done))
    progress.advance(done, done)


_PLAIN = ("container", "codec", "pixel_format", "width", "height", "rotation", "times_exact", "stream")


def _for_cache(clip: Clip) -> tuple[index_cache.Arrays, dict[str, Any]]:
    index, sound = clip.index, clip.sound
    arrays: index_cache.Arrays = {"pts": index.pts, "keyframe": index.keyframe, "order": clip.order}
    arrays |= {f"packet_{column.name}": getattr(clip.packets, column.name) for column in fields(PacketTable)}
    if clip.checks is not None:
        arrays["checks"] = clip.checks
    facts = {name: getattr(clip, name) for name in _PLAIN}
    facts |= {
        "pixel_aspect": clip.pixel_aspect,
        "notes": clip.notes,
        "inexact": clip.inexact,
        "mirrored": clip.turn.mirrored,
        "time_base": index.time_base,
        "end_pts": index.end_pts,
        "even": index.even,
        "rate": index.rate,
        "sound": None if sound is None else asdict(sound),
    }
    return arrays, facts


def _from_cache(path: Path, known_by: str, kept: tuple[index_cache.Arrays, dict[str, Any]]) -> Clip | None:
    """The clip as it was kept; None where something is missing from it."""
    arrays, facts = kept
    try:
        rate, sound = facts["rate"], facts["sound"]
        if sound is not None:
            start = sound["start"]
            sound = SoundFacts(**{**sound, "start": None if start is None else Fraction(start)})
        index = FrameIndex(
            pts=arrays["pts"],
            time_base=Fraction(facts["time_base"]),
            keyframe=arrays["keyframe"],
            end_pts=facts["end_pts"],
            even=facts["even"],
            rate=None if rate is None else Fraction(rate),
        )
        return Clip(
            path=path,
            size_bytes=path.stat().st_size,
            fingerprint=known_by,
            pixel_aspect=Fraction(facts["pixel_aspect"]),
            index=index,
            notes=tuple(facts["notes"]),
            sound=sound,
            inexact=tuple((start, end) for start, end in facts["inexact"]),
            turn=Turn(facts["rotation"], facts["mirrored"]),
            packets=PacketTable(*(arrays[f"packet_{column.name}"] for column in fields(PacketTable))),
            order=arrays["order"],
            checks=arrays.get("checks"),
            **{name: facts[name] for name in _PLAIN},
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        return None
