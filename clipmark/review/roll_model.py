"""What stands on the log roll, and where: plain values and arrays, no Qt, so that it is tested without a screen.

Time runs down in seconds on the session clock (floats: they are only drawn). Three lanes stand beside each other:
his acts, the line (contact, flags, what the keeper did, what both do), her acts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from heapq import heappop, heappush
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from clipmark.book.meaning.calls import calls_by, latest_calls
from clipmark.book.model import Actor, Call, ClipRecord, Decision, FlagRecord, Mark, SessionRecord
from clipmark.motion.result import Floats, Trace


class Side(StrEnum):
    """A lane of the roll."""

    HIM = "him"
    LINE = "line"
    HER = "her"


@dataclass(frozen=True, slots=True)
class RollItem:
    """A mark or a flag as it stands on the roll.

    Attributes:
        kind: "mark" or "flag"; with `id` it names the thing in the book.
        start, end: seconds on the session clock; equal for a momentary act. Of a flag: onset and release (the full
            pull where no release was seen).
        full: seconds of the full pull; equal to `start` for marks.
        open: a lasting act that was not ended yet; `end` is then the end of the session.
        label: what is written beside it.
        decision: the call on a flag, None for marks and for flags not called yet.
        doubted: the flag carries doubts. weak: it lies below the flagging score.
        column: place beside the others of its lane that last at the same time, 0 nearest to the line.
    """

    kind: str
    id: int
    clip_id: int
    side: Side
    start: float
    end: float
    label: str
    code: str = ""
    actor: Actor = Actor.NOBODY
    lasting: bool = False
    open: bool = False
    full: float = 0.0
    score: float | None = None
    decision: Decision | None = None
    doubted: bool = False
    weak: bool = False
    column: int = 0

    @property
    def key(self) -> tuple[str, int]:
        """What an item is known by: its kind and number."""
        return self.kind, self.id


_order = attrgetter("start", "kind", "id")


@dataclass(frozen=True, slots=True, eq=False)
class Lane:
    """The items of one side sorted by start; `reach[i]` is the latest end among items 0..i, so that a bisect finds
    the first that can still be seen."""

    items: tuple[RollItem, ...]
    starts: Floats
    ends: Floats
    reach: Floats
    columns: NDArray[np.int64]

    @classmethod
    def of(cls, items: Iterable[RollItem]) -> Lane:
        """Items put in order of their start, with what looking them up needs."""
        ordered = tuple(sorted(items, key=_order))
        starts = np.array([item.start for item in ordered], dtype=np.float64)
        ends = np.array([item.end for item in ordered], dtype=np.float64)
        reach = np.maximum.accumulate(ends) if len(ends) else ends
        return cls(ordered, starts, ends, reach, np.array([item.column for item in ordered], dtype=np.int64))

    def between(self, start: float, end: float) -> range:
        """Positions among which all items lie that touch [start, end]; may hold a few that do not."""
        first = int(np.searchsorted(self.reach, start, side="left"))
        return range(first, int(np.searchsorted(self.starts, end, side="right")))


@dataclass(frozen=True, slots=True)
class Hatch:
    """A stretch that the motion pass could not watch, and why."""

    clip_id: int
    start: float
    end: float
    why: str


@dataclass(frozen=True, slots=True)
class ClipSpan:
    """Where a clip lies on the clock."""

    clip_id: int
    start: float
    end: float
    name: str


class Curve:
    """Values over time for drawing: `times` rise; NaN where nothing is known. Only the greatest value of a row of
    pixels is drawn, so coarser copies that keep the greatest value serve the far views."""

    COARSER = 8

    def __init__(self, times: Floats, values: Floats):
        self.times, self.values = times, values
        self._coarse: list[tuple[Floats, Floats]] = [(times, values)]
        while len(self._coarse[-1][0]) > 4_000:
            times, values = self._coarse[-1]
            edges = np.arange(0, len(times), self.COARSER)
            self._coarse.append((times[edges], np.fmax.reduceat(values, edges)))

    def rows(self, start: float, end: float, height: int) -> Floats:
        """Greatest value in each of `height` rows between two times; NaN in rows without a value.

        Where the samples lie further apart than the rows, the rows between two samples hold the value on the
        straight line between them, so that the curve stays closed when zoomed in.
        """
        high = np.full(max(height, 0), np.nan)
        if height <= 0 or not len(self.times) or end <= start:
            return high
        times, values = self._cut(start, end, height)
        row = (times - start) / (end - start) * height
        if len(times) < 2 * height:
            high[:] = np.interp(np.arange(height) + 0.5, row, values, left=np.nan, right=np.nan)
        inside = (row >= 0) & (row < height) & np.isfinite(values)
        where = row[inside].astype(np.int64)
        if len(where):
            edges = np.flatnonzero(np.diff(where, prepend=-1))
            here = where[edges]
            high[here] = np.fmax(high[here], np.maximum.reduceat(values[inside], edges))
        return high

    def _cut(self, start: float, end: float, height: int) -> tuple[Floats, Floats]:
        """The coarsest copy that still has two samples a row, cut to the stretch."""
        chosen = 0
        first, last = (int(n) for n in np.searchsorted(self.times, [start, end]))
        while chosen + 1 < len(self._coarse) and (last - first) / self.COARSER ** (chosen + 1) > 2 * height:
            chosen += 1
        times, values = self._coarse[chosen]
        first = max(int(np.searchsorted(times, start)) - 1, 0)
        last = min(int(np.searchsorted(times, end, side="right")) + 1, len(times))
        return times[first:last], values[first:last]


@dataclass(frozen=True, slots=True, eq=False)
class RollModel:
    """Everything that the roll draws, in seconds on the session clock."""

    start: float
    end: float
    lanes: dict[Side, Lane]
    hatches: tuple[Hatch, ...]
    clips: tuple[ClipSpan, ...]
    cuts: Floats
    pulls: tuple[Curve, ...] = ()
    by_key: dict[tuple[str, int], RollItem] = field(default_factory=dict)
    in_order: tuple[RollItem, ...] = ()

    def neighbour(self, at: float, step: int, key: tuple[str, int] | None = None) -> RollItem | None:
        """The next (+1) or previous (-1) item in order of time, from the selected one or else from a time."""
        if not self.in_order:
            return None
        if key in self.by_key:
            place = self.in_order.index(self.by_key[key]) + step
            return self.in_order[place] if 0 <= place < len(self.in_order) else None
        later = [item for item in self.in_order if item.start > at]
        earlier = [item for item in self.in_order if item.start < at]
        if step > 0:
            return later[0] if later else None
        return earlier[-1] if earlier else None


EMPTY = RollModel(0.0, 1.0, {side: Lane.of(()) for side in Side}, (), (), np.empty(0))

_SIDES = {Actor.HIM: Side.HIM, Actor.HER: Side.HER}


def pack(spans: Sequence[tuple[float, float]]) -> list[int]:
    """Columns for spans sorted by start, so that none overlaps another in its column; fewest columns, lowest first.

    Source: greedy interval colouring, common practice."""
    free: list[int] = []
    busy: list[tuple[float, int]] = []
    columns: list[int] = []
    used = 0
    for start, end in spans:
        while busy and busy[0][0] <= start:
            heappush(free, heappop(busy)[1])
        if free:
            column = heappop(free)
        else:
            column, used = used, used + 1
        columns.append(column)
        heappush(busy, (max(end, start + 1e-9), column))
    return columns


def shown_calls(calls: Sequence[Call], reviewer: str | None = None, others: bool = False) -> dict[int, Call]:
    """The call that is shown for each flag: the latest of this reviewer (of anybody for None); with `others`, where
    this reviewer has not called, the latest of anybody."""
    latest = latest_calls(calls)
    chosen = {flag: list(by.values())[-1] for flag, by in latest.items()} if others or reviewer is None else {}
    return chosen if reviewer is None else chosen | calls_by(calls, reviewer)


def build(
    record: SessionRecord,
    traces: dict[int, tuple[Trace, NDArray[np.int64]]] | None = None,
    reviewer: str | None = None,
    weak: bool = False,
    others: bool = False,
    before: RollModel | None = None,
) -> RollModel:
    """The roll of a session.

    Args:
        traces: for a clip's id its trace and the ticks of its frames, both of the same length.
        reviewer: whose calls are shown (a second reviewer works blind to the first); None shows the latest of all.
        weak: also show candidates below the flagging score.
        others: where the reviewer has not called, show another reviewer's call.
        before: the roll as it was: what did not change is taken from it, as thousands of items take their time.
    """
    clips = {clip.id: _Clock.of(clip) for clip in record.clips}
    spans = tuple(ClipSpan(clip.id, clips[clip.id].start, clips[clip.id].end, _name(clip)) for clip in record.clips)
    start = min((span.start for span in spans), default=0.0)
    end = max((span.end for span in spans), default=start + 1.0)
    calls = shown_calls(record.calls, reviewer, others)
    placed = _marks(record, clips, end, before.by_key if before is not None else {})
    for flag in record.flags:
        if flag.clip_id in clips and (flag.flagged or weak):
            placed[Side.LINE].append(_of_flag(flag, clips[flag.clip_id], calls.get(flag.id)))
    lanes = {side: Lane.of(items) for side, items in placed.items()}
    every = sorted((item for lane in lanes.values() for item in lane.items), key=_order)
    return RollModel(
        start=start,
        end=max(end, start + 1e-3),
        lanes=lanes,
        hatches=_hatches(record),
        clips=spans,
        cuts=np.array(sorted(_cuts(record)), dtype=np.float64),
        pulls=tuple(_pull_curve(record, clip_id, trace, pts) for clip_id, (trace, pts) in (traces or {}).items()),
        by_key={(item.kind, item.id): item for item in every},
        in_order=tuple(every),
    )


def _cuts(record: SessionRecord) -> list[float]:
    known = {clip.id: clip for clip in record.clips}
    return [
        float(known[shot.clip_id].on_clock(shot.start_pts))
        for shot in record.shots
        if shot.clip_id in known and shot.begins != "film"
    ]


def _hatches(record: SessionRecord) -> tuple[Hatch, ...]:
    owner = {made.id: made.clip_id for made in record.passes if made.current}
    found = []
    for span in record.spans:
        clip_id = owner.get(span.pass_id)
        if clip_id is not None and span.why:
            clip = record.clip(clip_id)
            found.append(
                Hatch(clip_id, float(clip.on_clock(span.start_pts)), float(clip.on_clock(span.end_pts)), span.why)
            )
    return tuple(sorted(found, key=lambda hatch: hatch.start))


@dataclass(frozen=True, slots=True)
class _Clock:
    """A clip's ticks as seconds on the session clock, in floats: for drawing only."""

    offset: float
    first_pts: int
    tick: float
    start: float
    end: float

    @classmethod
    def of(cls, clip: ClipRecord) -> _Clock:
        start, end = float(clip.offset), float(clip.on_clock(clip.end_pts))
        return cls(start, clip.first_pts, float(clip.time_base), start, end)

    def at(self, pts: int) -> float:
        return self.offset + (pts - self.first_pts) * self.tick


def _name(clip: ClipRecord) -> str:
    return clip.camera or clip.path.replace("\\", "/").rsplit("/", 1)[-1]


def _marks(
    record: SessionRecord, clips: dict[int, _Clock], session_end: float, before: dict[tuple[str, int], RollItem]
) -> dict[Side, list[RollItem]]:
    """All marks on their sides; lasting ones in columns, momentary ones on the line itself (column 0)."""
    labels = {act.code: act.label for act in record.acts}
    waiting: dict[Side, list[tuple[float, float, int, Mark]]] = {side: [] for side in Side}
    for mark in record.marks:
        clip = clips.get(mark.clip_id)
        if clip is None:
            continue
        start = clip.at(mark.start_pts)
        if mark.end_pts is not None:
            end = clip.at(mark.end_pts)
        elif mark.lasting:
            end = max(min(session_end, clip.end), start)
        else:
            end = start
        waiting[_SIDES.get(mark.actor, Side.LINE)].append((start, end, mark.id, mark))
    placed: dict[Side, list[RollItem]] = {side: [] for side in Side}
    for side, found in waiting.items():
        found.sort()  # no two have the same id: marks themselves are never compared
        columns = iter(pack([(start, end) for start, end, _, mark in found if mark.lasting]))
        for start, end, number, mark in found:
            column, label = next(columns) if mark.lasting else 0, labels.get(mark.act, mark.act)
            old = before.get(("mark", number))
            if old is None or not _same(old, mark, side, start, end, column, label):
                old = RollItem(
                    kind="mark", id=number, clip_id=mark.clip_id, side=side, start=start, end=end, full=start,
                    label=label, code=mark.act, actor=mark.actor, lasting=mark.lasting, open=mark.open, column=column,
                )  # fmt: skip
            placed[side].append(old)
    return placed


def _same(old: RollItem, mark: Mark, side: Side, start: float, end: float, column: int, label: str) -> bool:
    """Whether an item shows a mark as it is now."""
    stands = old.start == start and old.end == end and old.column == column and old.side is side
    is_it = old.code == mark.act and old.label == label and old.clip_id == mark.clip_id
    return stands and is_it and (old.actor, old.lasting, old.open) == (mark.actor, mark.lasting, mark.open)


def _of_flag(flag: FlagRecord, clip: _Clock, call: Call | None) -> RollItem:
    start, full = clip.at(flag.onset_pts), clip.at(flag.full_pts)
    end = clip.at(flag.release_pts) if flag.release_pts is not None else full
    return RollItem(
        kind="flag",
        id=flag.id,
        clip_id=flag.clip_id,
        side=Side.LINE,
        start=start,
        end=max(end, full, start),
        full=full,
        label="",
        actor=Actor.HER,
        lasting=True,
        score=flag.score,
        decision=call.decision if call else None,
        doubted=bool(flag.doubts),
        weak=not flag.flagged,
    )


def _pull_curve(record: SessionRecord, clip_id: int, trace: Trace, pts: NDArray[np.int64]) -> Curve:
    clip = record.clip(clip_id)
    times = np.asarray(float(clip.offset) + (pts - clip.first_pts) * float(clip.time_base), dtype=np.float64)
    count = min(len(times), len(trace.pull))
    return Curve(times[:count], np.abs(trace.pull[:count]))


def snapped(times: Floats, at: float) -> float:
    """The frame time nearest to `at`; `at` itself where there are no frames."""
    if not len(times):
        return at
    place = int(np.searchsorted(times, at))
    near = times[max(place - 1, 0) : place + 1]
    return float(near[int(np.argmin(np.abs(near - at)))])


def exact_seconds(at: float) -> Fraction:
    """A drawn time as an exact number to the microsecond, to be turned into ticks of a clip at once."""
    return Fraction(round(at * 1_000_000), 1_000_000)
