"""How good the flags were, from the keeper's own calls: precision by parameters version, misses where film was
watched in full.

A flag is right where it was called confirmed or probable, an attempt where a palp tried and did not seat, and false
where something else moved her. "Not seen" is left out: nobody could judge it. Misses are counted only inside
stretches that a reviewer watched in full (`Reviewed`); elsewhere nobody knows what was missed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.meaning.calls import counting_calls, reader_of
from clipmark.book.model import ClipRecord, Decision, FlagRecord, SessionRecord
from clipmark.reading import roles, spans
from clipmark.reading.numbers.proportions import Share, wilson
from clipmark.reading.session.insertions import NEAR
from clipmark.timebase import Span

RIGHT = frozenset({Decision.CONFIRMED, Decision.PROBABLE})


@dataclass(frozen=True, slots=True)
class FlagQuality:
    """The flags of one parameters version.

    Attributes:
        right, attempts, false: called confirmed or probable; attempt; something else.
        not_seen, uncalled: could not be judged; nobody has decided.
        insertions: right of all that could be judged, with its interval.
        worth_a_look: right and attempts of all that could be judged.
        watched_in_full_s: seconds watched in full on clips with a pass of this version.
        hits, missed: insertions (called or marked) in those stretches that had a flag, and that had none.
        contradicted: marked there, and their flags called something else: neither a hit nor a miss.
        sessions: in how many sessions.
    """

    parameters: str
    right: int
    attempts: int
    false: int
    not_seen: int
    uncalled: int
    insertions: Share
    worth_a_look: Share
    watched_in_full_s: Fraction
    hits: int
    missed: int
    contradicted: int
    sessions: int

    @property
    def recall(self) -> Share:
        """Insertions that were flagged, of those that watching the film in full has found."""
        return wilson(self.hits, self.hits + self.missed)


def flag_quality(records: Sequence[SessionRecord]) -> tuple[FlagQuality, ...]:
    """One row a parameters version, sorted by name. Flags of replaced passes count too: they were called as well."""
    rows: dict[str, _Row] = {}
    for record in records:
        calls = counting_calls(record)
        for flag in (*record.flags, *record.older_flags):
            if flag.pass_id is not None and flag.flagged:
                row = rows.setdefault(flag.parameters, _Row())
                row.sessions.add(record.session.id)
                call = calls.get(flag.id)
                row.decisions.append(call.decision if call else None)
        _misses(record, rows)
    return tuple(_quality(name, rows[name]) for name in sorted(rows))


class _Row:
    def __init__(self) -> None:
        self.decisions: list[Decision | None] = []
        self.sessions: set[int] = set()
        self.looked = Fraction(0)
        self.hits = self.missed = self.contradicted = 0


def _misses(record: SessionRecord, rows: dict[str, _Row]) -> None:
    """Count hits and misses in the stretches watched in full, clip by clip, for the current pass of each clip.

    An insertion that was marked and has no flag is a miss; one that has a flag is a hit, called or not; one whose
    flags were all called something else is a contradiction and counts as neither.
    """
    calls, names = counting_calls(record), reader_of(record).names
    for clip in record.clips:
        looked = spans.union(_stretches(record, clip, names))
        version = next((p.parameters for p in record.passes if p.clip_id == clip.id and p.current), None)
        if not looked or version is None:
            continue
        row = rows.setdefault(version, _Row())
        row.sessions.add(record.session.id)
        row.looked += spans.total(looked)
        proposed = [f for f in record.flags if f.clip_id == clip.id and f.pass_id is not None and f.flagged]
        right = [f for f in proposed if (c := calls.get(f.id)) and c.decision in RIGHT]
        row.hits += sum(_inside(clip.on_clock(f.onset_pts), looked) for f in right)
        called_right = {i for i, c in calls.items() if c.decision in RIGHT}
        for at in _by_hand(record, clip, called_right, names):
            standing = [f for f in proposed if _stands_for(f, clip, at)]
            if not _inside(at, looked) or any(f.id in called_right for f in standing):
                continue  # outside, or counted with the flags above
            if not standing:
                row.missed += 1
            elif all((c := calls.get(f.id)) is not None and c.decision is Decision.OTHER for f in standing):
                row.contradicted += 1
            else:
                row.hits += 1


def _stretches(record: SessionRecord, clip: ClipRecord, names: Collection[str]) -> Iterable[Span]:
    for stretch in record.reviewed:
        if stretch.clip_id == clip.id and stretch.reviewer in names and stretch.end_pts > stretch.start_pts:
            yield Span(clip.on_clock(stretch.start_pts), clip.on_clock(stretch.end_pts))


def _by_hand(
    record: SessionRecord, clip: ClipRecord, calls_right: set[int], names: Collection[str]
) -> list[Fraction]:
    """Insertions that a person found: own flags called confirmed or probable, and marked insertions without one."""
    own = [f for f in record.flags if f.clip_id == clip.id and f.pass_id is None and f.id in calls_right]
    times = [clip.on_clock(f.onset_pts) for f in own]
    for mark in record.marks:
        if mark.clip_id == clip.id and mark.reviewer in names and mark.act in roles.INSERTION:
            at = clip.on_clock(mark.start_pts)
            if not any(abs(at - other) <= NEAR for other in times):
                times.append(at)
    return times


def _stands_for(flag: FlagRecord, clip: ClipRecord, at: Fraction) -> bool:
    """The insertion begins within a second of the pull from onset to full."""
    return clip.on_clock(flag.onset_pts) - NEAR <= at <= clip.on_clock(flag.full_pts) + NEAR


def _inside(at: Fraction, stretches: Sequence[Span]) -> bool:
    return any(at in span for span in stretches)


def _quality(name: str, row: _Row) -> FlagQuality:
    def number(*wanted: Decision | None) -> int:
        return sum(d in wanted for d in row.decisions)

    right, attempts, false = number(*RIGHT), number(Decision.ATTEMPT), number(Decision.OTHER)
    judged = right + attempts + false
    return FlagQuality(
        parameters=name,
        right=right,
        attempts=attempts,
        false=false,
        not_seen=number(Decision.NOT_SEEN),
        uncalled=number(None),
        insertions=wilson(right, judged),
        worth_a_look=wilson(right + attempts, judged),
        watched_in_full_s=row.looked,
        hits=row.hits,
        missed=row.missed,
        contradicted=row.contradicted,
        sessions=len(row.sessions),
    )
