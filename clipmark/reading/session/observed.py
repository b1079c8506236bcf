"""What of a session could be seen: film time, out of view, and what the motion pass watched."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.reading import roles, spans
from clipmark.reading.session.occurrences import Occurrence, occurrences
from clipmark.timebase import Span


@dataclass(frozen=True, slots=True)
class Unwatched:
    """A stretch of one clip, on the session clock, that the motion pass could not follow, and why."""

    clip_id: int
    span: Span
    why: str


@dataclass(frozen=True, slots=True)
class Observed:
    """What of the session's time was filmed and visible, all on the session clock.

    Attributes:
        start: the introduction (or what stands for it), from which latencies run.
        start_said: in words what `start` is.
        introduced: the mark(s) of the introduction; empty where none was made.
        period: from `start` to the separation, or to the end of the film.
        separated: when they were separated, if that is marked.
        filmed: the film inside the period, several cameras counted once; between a separation and the next
            introduction they were not together, and that is left out.
        seen: `filmed` without what was out of view of every running camera.
        watched: `seen` that the motion pass could follow on at least one camera.
        unwatched: the stretches that it could not follow, clip by clip.
        scanned: a motion pass was made on at least one clip.
    """

    start: Fraction
    start_said: str
    introduced: tuple[int, ...]
    period: Span
    separated: Fraction | None
    filmed: tuple[Span, ...]
    seen: tuple[Span, ...]
    watched: tuple[Span, ...]
    unwatched: tuple[Unwatched, ...]
    scanned: bool

    @property
    def seconds(self) -> Fraction:
        """Observed time: the denominator of every rate and share."""
        return spans.length(self.seen)

    def seen_between(self, start: Fraction, end: Fraction) -> Fraction:
        """Seconds of [start, end) that were filmed and in view."""
        parts = (min(s.end, end) - max(s.start, start) for s in self.seen if s.start < end and start < s.end)
        return sum(parts, Fraction(0))


@dataclass(frozen=True, slots=True)
class Watchable:
    """What happened in a session and what of it could be seen, without the figures that follow."""

    occurrences: tuple[Occurrence, ...]
    observed: Observed


def watchable(record: SessionRecord, reviewer: str = "") -> Watchable:
    """Of one session, by one person's marks."""
    happened = occurrences(record, reviewer)
    return Watchable(happened, observe(record, happened))


def clip_span(clip: ClipRecord) -> Span:
    """The clip on the session clock."""
    return Span(clip.offset, clip.on_clock(max(clip.end_pts, clip.first_pts)))


def observe(record: SessionRecord, happened: Sequence[Occurrence]) -> Observed:
    """Work out what could be seen. Out of view is taken clip by clip: what one camera misses another may show."""
    film = spans.union(clip_span(c) for c in record.clips)
    first = film[0].start if film else Fraction(0)
    last = film[-1].end if film else Fraction(0)
    entered = [o for o in happened if o.act in roles.INTRODUCED]
    start, said = (entered[0].start, "the introduction") if entered else (Fraction(0), "the clock's zero")
    if len(entered) > 1:
        said = f"the first of {len(entered)} introductions"
    parted = [o for o in happened if o.act in roles.SEPARATED and o.start >= start]
    end = parted[-1].start if parted else max(last, start)
    period = Span(start, end)
    together = spans.without([period], _apart(entered, parted))
    filmed = spans.overlap(film, together)
    seen = spans.overlap(_in_view(record, happened), together)
    watched, unwatched = _watched(record)
    return Observed(
        start=start,
        start_said=said if entered or first <= 0 else f"{said} (the film begins later)",
        introduced=entered[0].marks if entered else (),
        period=period,
        separated=parted[-1].start if parted else None,
        filmed=filmed,
        seen=seen,
        watched=spans.overlap(watched, seen),
        unwatched=unwatched,
        scanned=bool(record.passes),
    )


def _apart(entered: Sequence[Occurrence], parted: Sequence[Occurrence]) -> list[Span]:
    begins = sorted(o.start for o in entered)
    after = ((o.start, bisect_right(begins, o.start)) for o in parted)
    return [Span(start, begins[place]) for start, place in after if place < len(begins)]


def _in_view(record: SessionRecord, happened: Sequence[Occurrence]) -> tuple[Span, ...]:
    counted = {m for o in happened if o.act in roles.OUT_OF_VIEW for m in o.marks}
    visible: list[Span] = []
    for clip in record.clips:
        whole = clip_span(clip)
        hidden = [
            Span(clip.on_clock(m.start_pts), max(clip.on_clock(m.start_pts), _end(m.end_pts, clip)))
            for m in record.marks
            if m.clip_id == clip.id and m.id in counted
        ]
        visible.extend(spans.without([whole], hidden))
    return spans.union(visible)


def _end(end_pts: int | None, clip: ClipRecord) -> Fraction:
    return clip.on_clock(clip.end_pts if end_pts is None else end_pts)


def _watched(record: SessionRecord) -> tuple[tuple[Span, ...], tuple[Unwatched, ...]]:
    clips = {clip.id: clip for clip in record.clips}
    clip_of = {p.id: clips[p.clip_id] for p in record.passes if p.current and p.clip_id in clips}
    good: list[Span] = []
    bad: list[Unwatched] = []
    for stretch in record.spans:
        clip = clip_of.get(stretch.pass_id)
        if clip is None:
            continue
        span = Span(clip.on_clock(stretch.start_pts), clip.on_clock(max(stretch.end_pts, stretch.start_pts)))
        if stretch.why:
            bad.append(Unwatched(clip.id, span, stretch.why))
        else:
            good.append(span)
    return spans.union(good), tuple(sorted(bad, key=lambda u: (u.span.start, u.span.end)))
