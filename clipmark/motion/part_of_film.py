"""A stretch of a film as a film of its own, and its pass put into the pass of the whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, replace
from typing import TypeVar

from clipmark.motion.film import Film
from clipmark.motion.result import Box, Flag, Floats, FrameSpan, ScanResult, Trace, in_ticks
from clipmark.motion.texture import Grey

T = TypeVar("T")


class PartOfFilm:
    """Frames [start, stop) of a film, counted from 0 again.

    Attributes:
        times: seconds of its frames from its own first.
        width, height: as the film's.
    """

    def __init__(self, film: Film, start: int, stop: int):
        self.times: Floats = film.times[start:stop] - film.times[start]
        self.width, self.height = film.width, film.height
        self._film, self._start, self._stop = film, start, stop

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        """Frames of [start, stop), as a film gives them."""
        stop = len(self.times) if stop is None else min(stop, len(self.times))
        for number, picture in self._film.frames(self._start + start, self._start + stop):
            yield number - self._start, picture

    def boxes(self, boxes: Sequence[Box]) -> list[Box]:
        """The outlines that lie in the stretch, on its own frames."""
        inside = (box for box in boxes if self._start <= box.frame < self._stop)
        return [replace(box, frame=box.frame - self._start) for box in inside]


def joined(whole: ScanResult, part: ScanResult, start: int, stop: int) -> ScanResult:
    """The pass of a whole film with what it says of frames [start, stop) taken from a pass over these alone.

    Args:
        part: its frames are counted from `start`.
    """

    def outside(frame: int) -> bool:
        return not start <= frame < stop

    shots = [
        replace(one, start=one.start + start, end=one.end + start, whole=one.whole + start) for one in part.shots
    ]
    first = next((one for one in whole.shots if one.start == start), None)
    if first is not None and shots:
        shots[0] = replace(shots[0], begins=first.begins)
    outlines = [replace(one, frame=one.frame + start) for one in part.outlines]
    told = [replace(one, start=one.start + start) for one in part.sensitivity]
    flags = [_moved(one, start) for one in part.flags]
    merged = replace(
        whole,
        shots=_by(lambda one: one.start, (one for one in whole.shots if outside(one.start)), shots),
        trace=_trace(whole.trace, part.trace, start, stop),
        flags=_by(lambda one: one.onset, (one for one in whole.flags if outside(one.onset)), flags),
        watched=_spans(whole.watched, part.watched, start, stop),
        unwatched=_spans(whole.unwatched, part.unwatched, start, stop),
        outlines=_by(lambda one: one.frame, (one for one in whole.outlines if outside(one.frame)), outlines),
        sensitivity=_by(lambda one: one.start, (one for one in whole.sensitivity if outside(one.start)), told),
        frames_per_s=part.frames_per_s,
        decode_share=part.decode_share,
    )  # fmt: skip
    return in_ticks(merged, whole.ticks)


def _by(key, *found: Iterable[T]) -> tuple[T, ...]:  # type: ignore[no-untyped-def]
    return tuple(sorted((one for some in found for one in some), key=key))


def _moved(flag: Flag, start: int) -> Flag:
    release = None if flag.release is None else flag.release + start
    return replace(flag, onset=flag.onset + start, full=flag.full + start, release=release)


def _trace(whole: Trace, part: Trace, start: int, stop: int) -> Trace:
    columns: dict[str, Floats] = {}
    for field in fields(Trace):
        column = getattr(whole, field.name).copy()
        column[start:stop] = getattr(part, field.name)
        columns[field.name] = column
    return Trace(**columns)


def _spans(whole: Sequence[FrameSpan], part: Sequence[FrameSpan], start: int, stop: int) -> tuple[FrameSpan, ...]:
    """Spans of the whole outside [start, stop), those of the part inside; what meets with one cause is one."""
    cut = [replace(one, end=min(one.end, start)) for one in whole] + [
        replace(one, start=max(one.start, stop)) for one in whole
    ]
    cut += [replace(one, start=one.start + start, end=one.end + start) for one in part]
    found: list[FrameSpan] = []
    for one in sorted((span for span in cut if span.end > span.start), key=lambda span: span.start):
        if found and found[-1].end == one.start and (found[-1].why, found[-1].cause) == (one.why, one.cause):
            found[-1] = replace(found[-1], end=one.end)
        else:
            found.append(one)
    return tuple(found)
