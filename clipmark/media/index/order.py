"""In which order a film's packets are shown, and when: from the stored times where they hold, else from decoding."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from clipmark.media.index.packets import NONE, Bools, Ints, PacketTable, check_sum
from clipmark.progress import SILENT, Progress

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

Decoded = Iterator[tuple[int, "VideoFrame"]]
Decode = Callable[[list[int]], Decoded]  # takes the list for the ordinals of packets that are refused

PROBE = 64  # frames decoded to see whether they come out as the stored times say,
_PROBE_PIXELS = PROBE * 1920 * 1088  # no more than so many pixels of them together,
_PROBE_LEAST = 24  # but so many frames of any film: longer than frames lean forward (16 at most in H.264 and HEVC)


@dataclass(slots=True)
class Order:
    """What is shown: for each frame its packet's ordinal and its tick.

    Attributes:
        ordinal: (n,) packet of frame 0, 1, 2 ...
        pts: (n,) ticks, never falling.
        inexact: spans of frames [start, end) whose times are not the file's own.
        notes: sentences for the keeper.
        first: first frame as decoded (size, turn, pixel format); None where none was decoded.
        refused: packets that did not decode, of those that were tried.
        checks: (n,) `check_sum` of each frame where the order was learned from decoding, else None.
    """

    ordinal: Ints
    pts: Ints
    inexact: list[tuple[int, int]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    first: VideoFrame | None = None
    refused: int = 0
    checks: Ints | None = None


def find_order(
    table: PacketTable, decode: Decode, tick_of_frame: Fraction, progress: Progress = SILENT
) -> Order | None:
    """The order of showing; decodes the first frames to check it, and the whole film where it does not hold.

    Args:
        decode: starts decoding from the beginning, packets numbered by their ordinal.
        tick_of_frame: ticks of one frame at the stated rate, used where the file states no times.
    Returns:
        None where nothing could be decoded.
    """
    notes: list[str] = []
    stored = _stored_order(table, notes)
    got: list[int] = []
    failed: list[int] = []
    first: VideoFrame | None = None
    enough = PROBE
    for packet, frame in islice(decode(failed), PROBE):
        if first is None:
            first, enough = frame, _enough(frame)
        got.append(packet)
        if len(got) >= enough:
            break
    if np.all(table.pts != NONE) and _bears_out(stored, got, enough, bool(failed)):
        failed = []
        ordinal, trigger, checks = stored, stored, None
    else:
        failed = []
        ordinal, trigger, checks = _learn(decode(failed), len(table), progress)
    if len(ordinal) == 0:
        return None
    order = _with_times(table, ordinal, trigger, tick_of_frame)
    order.notes[:0] = notes
    order.first, order.refused, order.checks = first, len(failed), checks
    if failed:
        order.notes.append(
            _told(len(failed), "could not be decoded and is left out.", "could not be decoded and are left out.")
        )
    return order


def _enough(frame: VideoFrame) -> int:
    """How many frames of a film are decoded to check its order: fewer of large ones, which take long."""
    return max(min(PROBE, _PROBE_PIXELS // (frame.width * frame.height)), _PROBE_LEAST)


def _bears_out(stored: Ints, got: list[int], enough: int, refused: bool) -> bool:
    """Whether the frames that came out first are those that the stored times put first; where the decoder refused
    some packets, gaps do not speak against it, unless most frames are missing."""
    if got == stored[: len(got)].tolist():
        return len(got) == min(len(stored), enough) or (refused and len(got) > 0)
    if not refused:
        return False
    place = {int(ordinal): number for number, ordinal in enumerate(stored[: 2 * enough])}
    places = [place.get(ordinal, -1) for ordinal in got]
    return -1 not in places and all(np.diff(places) > 0) and places[-1] < 2 * len(got)


def _learn(decoded: Decoded, count: int, progress: Progress) -> tuple[Ints, Ints, Ints]:
    """Decode the film once: for each frame its packet, the packet that brought it out (NONE: the film's end did), and
    a check sum."""
    rows = []
    for number, frame in decoded:
        rows.append((number, NONE if frame.dts is None else frame.dts, check_sum(frame)))
        if len(rows) % 100 == 0:
            progress.advance(len(rows), max(count, len(rows)))
    ordinal, trigger, checks = np.array(rows, np.int64).reshape(-1, 3).T.copy()
    return ordinal, trigger, checks


def _stored_order(table: PacketTable, notes: list[str]) -> Ints:
    """Packets sorted by (clock segment, pts), without those that are never shown."""
    shown = ~table.discard & (table.pts != NONE)
    segment = table.segments()
    if table.keyframe.any():
        key = int(np.argmax(table.keyframe))
        if key:
            # Packets before the first keyframe, and those after it that are shown before it and lean on them.
            shown[:key] = False
            shown &= ~((table.pts < table.pts[key]) & (segment == segment[key]))
            lost = int(np.count_nonzero(~table.discard & (table.pts != NONE)) - np.count_nonzero(shown))
            notes.append(f"The film starts in the middle of a group of frames; the first {lost} cannot be shown.")
    order = np.lexsort((np.arange(len(table)), table.pts, segment))
    return order[shown[order]]


def _with_times(table: PacketTable, ordinal: Ints, trigger: Ints, tick_of_frame: Fraction) -> Order:
    """Ticks for each shown packet, rising through clock resets, counted from the rate where none are stored."""
    dts = np.where(trigger == NONE, NONE, table.dts[np.clip(trigger, 0, len(table) - 1)])
    pts, known = _best_times(table.pts[ordinal], dts)
    order = Order(ordinal, pts)
    if not known.any():
        order.pts = np.array([round(i * tick_of_frame) for i in range(len(ordinal))], np.int64)
        order.inexact.append((0, len(ordinal)))
        order.notes.append("This file states no times; they are counted from its frame rate and are not exact.")
        return order
    _fill_unknown(order, known, tick_of_frame)
    _carry_over_resets(order, table.segments()[ordinal], tick_of_frame)
    _never_fall(order)
    return order


def _best_times(pts: Ints, dts: Ints) -> tuple[Ints, Bools]:
    """Each frame's pts, or dts where that is not stated; the other way about where pts run backwards more often.

    Source: common practice of players for files whose times lie (AVI with B-frames).
    """
    preferred, other = (pts, dts) if _steps_back(pts) <= _steps_back(dts) else (dts, pts)
    best = np.where(preferred != NONE, preferred, other)
    return best, best != NONE


def _steps_back(ticks: Ints) -> int:
    return int(np.count_nonzero(np.diff(ticks[ticks != NONE]) < 0))


def _fill_unknown(order: Order, known: Bools, tick_of_frame: Fraction) -> None:
    """Times between known ones for frames that state none."""
    if known.all():
        return
    at = np.flatnonzero(known)
    missing = np.flatnonzero(~known)
    filled = np.interp(missing, at, order.pts[at])
    filled = np.where(missing < at[0], order.pts[at[0]] + (missing - at[0]) * float(tick_of_frame), filled)
    filled = np.where(missing > at[-1], order.pts[at[-1]] + (missing - at[-1]) * float(tick_of_frame), filled)
    order.pts[missing] = np.round(filled).astype(np.int64)
    order.inexact.extend(runs(missing))
    order.notes.append(
        _told(len(missing), "states no time; it is estimated", "state no time; theirs are estimated") + ", not exact."
    )


def _carry_over_resets(order: Order, segment: Ints, tick_of_frame: Fraction) -> None:
    """Where the file's clock was set back, go on from the frame before."""
    for start in np.flatnonzero(np.diff(segment)) + 1:
        shift = int(order.pts[start - 1]) + max(round(tick_of_frame), 1) - int(order.pts[start])
        order.pts[start:] += shift
        order.inexact.append((int(start), len(order.pts)))
        order.notes.append(
            f"The film's clock restarts at frame {start}; times from there on are estimated, not exact."
        )


def _never_fall(order: Order) -> None:
    """Frames that claim to be earlier than the one shown before them share its time."""
    risen = np.maximum.accumulate(order.pts)
    wrong = np.flatnonzero(risen != order.pts)
    if len(wrong):
        order.pts = risen
        order.inexact.extend(runs(wrong))
        order.notes.append(
            _told(len(wrong), "states", "state") + " a time before that of the frame shown before; not exact."
        )


def runs(numbers: Ints) -> list[tuple[int, int]]:
    """[start, end) of each run of consecutive numbers."""
    if len(numbers) == 0:
        return []
    parts = np.split(numbers, np.flatnonzero(np.diff(numbers) > 1) + 1)
    return [(int(part[0]), int(part[-1]) + 1) for part in parts]


def _told(count: int, one: str, many: str) -> str:
    return f"1 frame {one}" if count == 1 else f"{count} frames {many}"
