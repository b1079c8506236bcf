"""What each act did in a session: how often, how long, what share of the time, at what intervals (TRADE 5.2)."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from clipmark.book.model import Actor, SessionRecord
from clipmark.reading import roles, spans
from clipmark.reading.figure import DASH, Figure, plural, seconds_text, share_text
from clipmark.reading.session.bouts import Criterion, find_criterion, into_bouts
from clipmark.reading.session.observed import Observed
from clipmark.reading.session.occurrences import Occurrence


@dataclass(frozen=True, slots=True)
class ActReading:
    """The figures of one act by one actor.

    Attributes:
        count: how often it began; those that are in no rate are told apart.
        per_minute: beginnings in observed time, a minute of it; None where nothing was observed.
        duration: seconds that it filled, overlaps once; momentary acts have none.
        share: of the observed time.
        mean, longest: of the closed occurrences; None where there is none (blank, not 0).
        interval: median from onset to onset; None below two occurrences.
        gap: median from an end to the next start; None below two occurrences or for momentary acts.
        bouts: how many bouts, by the criterion that the gaps themselves give; None where they give none.
        criterion: that criterion, or why there is none.
        still_open: occurrences whose end was not marked; their length is "at least".
    """

    act: str
    label: str
    actor: Actor
    lasting: bool
    occurrences: tuple[Occurrence, ...]
    still_open: int
    count: Figure
    per_minute: Figure
    duration: Figure
    share: Figure
    mean: Figure
    longest: Figure
    interval: Figure
    gap: Figure
    bouts: Figure
    criterion: Criterion

    @property
    def figures(self) -> tuple[Figure, ...]:
        """All figures of the act, in the order of the sheet."""
        return (
            self.count,
            self.per_minute,
            self.duration,
            self.share,
            self.mean,
            self.longest,
            self.interval,
            self.gap,
            self.bouts,
        )


def by_act(record: SessionRecord, happened: Sequence[Occurrence], observed: Observed) -> tuple[ActReading, ...]:
    """One reading an act and actor, in the order of first appearance; the keeper's own acts are left out."""
    kinds: dict[tuple[str, Actor], list[Occurrence]] = {}
    for occurrence in happened:
        if occurrence.act not in roles.NO_BEHAVIOUR:
            kinds.setdefault((occurrence.act, occurrence.actor), []).append(occurrence)
    watched = observed.seconds
    return tuple(
        _read(roles.label(record, act), tuple(group), observed, watched) for (act, _), group in kinds.items()
    )


def intervals(group: Sequence[Occurrence]) -> list[Fraction]:
    """Onset to onset, seconds."""
    return [b.start - a.start for a, b in pairwise(group)]


def gaps(group: Sequence[Occurrence]) -> list[Fraction]:
    """From each end to the next start, seconds; none after an occurrence left open, nor where they overlap."""
    pairs = pairwise(group)
    return [b.start - a.last_seen for a, b in pairs if not a.open and b.start >= a.last_seen]


def _read(label: str, group: tuple[Occurrence, ...], observed: Observed, watched: Fraction) -> ActReading:
    first = group[0]
    key = f"act.{first.act}.{first.actor}"
    marks = tuple(m for o in group for m in o.marks)
    lasting = any(o.lasting for o in group)
    open_ones = [o for o in group if o.open]
    closed = [o.duration for o in group if o.lasting and not o.open]
    covered = spans.union(o.span for o in group) if lasting else ()
    filled = spans.length(covered)
    inside = spans.length(spans.overlap(observed.seen, covered)) if lasting else None
    at_least = filled if open_ones else None
    counted = [o for o in group if spans.holds(observed.seen, o.start)]
    per_minute = Fraction(60 * len(counted)) / watched if watched else None
    left_out = _left_out(group, observed)

    def figure(name: str, value: Fraction | int | None, unit: str, text: str, why: str, low: bool = False) -> Figure:
        return Figure(
            f"{key}.{name}",
            f"{label}: {_NAMES[name]}",
            value,
            unit,
            text,
            why,
            marks,
            (),
            (),
            at_least if low else None,
        )

    def seconds(name: str, value: Fraction | None, why: str) -> Figure:
        return figure(name, value, "s", seconds_text(value), why)

    least = "at least " if open_ones else ""
    apart, between = intervals(group), gaps(group) if lasting else []
    criterion = find_criterion([float(gap) for gap in (between if lasting else apart)])
    bouts = None if criterion.seconds is None else into_bouts(group, criterion.seconds)
    share = inside / watched if inside is not None and watched else None
    return ActReading(
        act=first.act,
        label=label,
        actor=first.actor,
        lasting=lasting,
        occurrences=group,
        still_open=len(open_ones),
        count=figure(
            "count",
            len(group),
            "count",
            str(len(group)),
            "How often it began; two cameras count once. What began out of view, before the introduction or when no "
            "film ran is in no rate.",
        ),
        per_minute=figure(
            "per_minute",
            per_minute,
            "1/min",
            (DASH if per_minute is None else f"{float(per_minute):.2f}") + left_out,
            f"Beginnings in observed time, {len(counted)} of {len(group)}, by its minutes.",
        ),
        duration=figure(
            "duration",
            filled if lasting else None,
            "s",
            least + seconds_text(filled) if lasting else DASH,
            "From start to end, added up; overlaps count once. An act still open runs to the film's end "
            "and is told as “at least”.",
            low=lasting,
        ),
        share=figure(
            "share",
            share,
            "share",
            least + share_text(share) if share is not None else DASH,
            "The part of its time that was in view, by the observed time.",
            low=False,
        ),
        mean=seconds(
            "mean",
            sum(closed, Fraction(0)) / len(closed) if closed else None,
            f"Mean of {plural(len(closed), 'closed occurrence')}; those left open are not in it.",
        ),
        longest=seconds("longest", max(closed) if closed else None, "The longest closed occurrence."),
        interval=seconds("interval", _median(apart), "Median time from one beginning to the next."),
        gap=seconds("gap", _median(between), "Median time from an end to the next start."),
        bouts=figure(
            "bouts",
            None if bouts is None else len(bouts),
            "count",
            f"{DASH} ({criterion.why})" if bouts is None else f"{len(bouts)} ({criterion.why})",
            "Runs of it with no gap longer than the bout criterion, which the gaps themselves give.",
        ),
        criterion=criterion,
    )


def _left_out(group: Sequence[Occurrence], observed: Observed) -> str:
    """` (5 not counted: out of view)`, ` (5 not counted: 3 out of view, 2 before the introduction)`, or nothing."""
    why: dict[str, int] = {}
    for o in group:
        if spans.holds(observed.seen, o.start):
            continue
        if o.start < observed.period.start:
            reason = "before the introduction"
        elif o.start >= observed.period.end:
            reason = "after the separation"
        elif spans.holds(observed.filmed, o.start):
            reason = "out of view"
        else:
            reason = "between a separation and the next introduction, or between films"
        why[reason] = why.get(reason, 0) + 1
    told = ", ".join(why if len(why) == 1 else [f"{number} {reason}" for reason, number in why.items()])
    return f" ({sum(why.values())} not counted: {told})" if why else ""


_NAMES = {
    "count": "times",
    "per_minute": "times a minute",
    "duration": "time filled",
    "share": "share of observed time",
    "mean": "mean length",
    "longest": "longest",
    "interval": "interval",
    "gap": "gap",
    "bouts": "bouts",
}


def _median(values: Sequence[Fraction]) -> Fraction | None:
    return statistics.median(values) if values else None
