"""Insertions of a session: each candidate once, with the call that counts.

The rules:
- Which call counts for a flag, `book.meaning.calls` says.
- Flags of different cameras that overlap on the session clock are one candidate; its best-evidenced call counts
  (confirmed, probable, attempt, something else, not seen: in that order).
- A marked insertion and a flag are one candidate where the flag begins within one second of the mark's start, or
  inside the mark and was called confirmed or probable. The call counts. An insertion that is only marked counts as
  probable: seating was seen, a second sign was not noted (grades of TRADE 3.3).
- Insertions marked on different cameras that overlap are one, whatever palp they name.
- A marked insertion whose flag was called something else is a contradiction: it is shown and counted as such, and as
  nothing else.
- A marked attempt and a flag are one candidate where the flag begins inside it (or within one second) and was called
  attempt or not seen.
- A call of "not seen" does not take back what was marked: the pull could not be judged, the palp was seen.
- Flags that nobody called, and flags called "something else", are told apart and counted neither for nor against.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.meaning.calls import counting_calls, latest_calls
from clipmark.book.model import Call, ClipRecord, Decision, FlagRecord, SessionRecord, Sign
from clipmark.reading import roles
from clipmark.reading.figure import plural
from clipmark.reading.session.occurrences import Occurrence
from clipmark.timebase import Span

NEAR = Fraction(1)  # s between a seated palp and her abdomen's answer (TRADE 3.2, from memory)
WITHOUT_SIGNS = "without stated signs"
RANK = (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT, Decision.OTHER, Decision.NOT_SEEN)


@dataclass(frozen=True, slots=True)
class CandidateInsertion:
    """One candidate insertion on the session clock.

    Attributes:
        start: the mark's start, else the flag's onset.
        end: the mark's end, else the flag's release; None where neither was seen.
        decision: the call that counts; None where nobody called it.
        palp: "left", "right" or "" where it was not told (or told both ways).
        disputed: calls of different reviewers, or of two cameras, contradict each other.
        from_mark: its times are those of a marked insertion (else of the abdomen's pull).
        contradicted: it is marked as an insertion, and its flag was called something else: only the keeper can say
            which is right, so it counts as neither. `decision` is the call's.
        signs: what its call rests on; empty where the call states none (or there is no call).
    """

    start: Fraction
    end: Fraction | None
    decision: Decision | None
    palp: str
    disputed: bool
    from_mark: bool
    marks: tuple[int, ...]
    flags: tuple[int, ...]
    calls: tuple[int, ...]
    cause: str = ""
    contradicted: bool = False
    signs: tuple[Sign, ...] = ()

    @property
    def span(self) -> Span:
        """From its start to its end on the session clock."""
        return Span(self.start, self.start if self.end is None else max(self.start, self.end))


@dataclass(frozen=True, slots=True)
class Insertions:
    """All candidates of a session, sorted by time."""

    candidates: tuple[CandidateInsertion, ...]

    def of(self, *decisions: Decision | None) -> tuple[CandidateInsertion, ...]:
        """Those called so and not contradicted."""
        return tuple(c for c in self.candidates if c.decision in decisions and not c.contradicted)

    @property
    def contradicted(self) -> tuple[CandidateInsertion, ...]:
        """Marked as an insertion and called something else."""
        return tuple(c for c in self.candidates if c.contradicted)

    @property
    def unsigned(self) -> int:
        """Confirmed ones whose call states no signs."""
        return sum(not c.signs and bool(c.calls) for c in self.of(Decision.CONFIRMED))

    @property
    def confirmed(self) -> int:
        """How many were called confirmed."""
        return len(self.of(Decision.CONFIRMED))

    @property
    def probable(self) -> int:
        """How many were called probable."""
        return len(self.of(Decision.PROBABLE))

    @property
    def attempts(self) -> int:
        """How many were called an attempt."""
        return len(self.of(Decision.ATTEMPT))

    @property
    def judgeable(self) -> int:
        """Confirmed, probable and attempts together: what could be judged at all."""
        return self.confirmed + self.probable + self.attempts

    @property
    def not_visible(self) -> int:
        """How many could not be seen."""
        return len(self.of(Decision.NOT_SEEN))

    @property
    def other(self) -> int:
        """How many were something else."""
        return len(self.of(Decision.OTHER))

    @property
    def uncalled(self) -> int:
        """How many nobody has called yet."""
        return len(self.of(None))

    @property
    def disputed(self) -> int:
        """How many are called differently by two people."""
        return sum(c.disputed for c in self.candidates)

    @property
    def sentence(self) -> str:
        """`2 confirmed, 1 probable, 1 attempt, of 4 judgeable; 3 not visible`, and what is still open."""
        if not self.candidates:
            return "no candidate insertion was flagged or marked"
        parts = [
            f"{self.confirmed} confirmed, {self.probable} probable, {plural(self.attempts, 'attempt')}, "
            f"of {self.judgeable} judgeable; {self.not_visible} not visible"
        ]
        if self.uncalled:
            parts.append(f"{plural(self.uncalled, 'flag')} not yet called")
        if self.other:
            parts.append(f"{self.other} something else")
        if self.unsigned:
            parts.append(f"{self.unsigned} of the confirmed {WITHOUT_SIGNS}")
        if self.contradicted:
            parts.append(f"{len(self.contradicted)} contradicted (marked as an insertion, called something else)")
        return "; ".join(parts)


def insertions(record: SessionRecord, happened: Sequence[Occurrence], reviewer: str = "") -> Insertions:
    """Put flags, calls and marked insertions together (rules at the top of this module)."""
    clips = {clip.id: clip for clip in record.clips}
    calls = counting_calls(record, reviewer)
    flags = [
        _Seen(flag, clips[flag.clip_id], calls.get(flag.id))
        for flag in record.flags
        if flag.clip_id in clips and (flag.flagged or flag.id in calls or flag.pass_id is None)
    ]
    by_flag = latest_calls(record.calls)
    groups = [_Group([], list(seen)) for seen in _across_cameras(flags)]
    for occurrence in happened:
        if occurrence.act in roles.INSERTION or occurrence.act in roles.ATTEMPT:
            free = [g for g in groups if not g.marks and any(_belongs(occurrence, s) for s in g.seen)]
            same = [g for g in groups if any(_same_insertion(occurrence, other) for other in g.marks)]
            joined = [*free, *same]
            groups = [g for g in groups if g not in joined]
            marks = [o for g in same for o in g.marks]
            groups.append(_Group([*marks, occurrence], [s for g in joined for s in g.seen]))
    found = [_candidate(group, by_flag) for group in groups]
    # equal times have equal floats, so the exact ones are compared only where they must be
    return Insertions(tuple(sorted(found, key=lambda c: (float(c.start), c.start, c.span.end, c.flags, c.marks))))


class _Seen:
    """A flag on the session clock with the call that counts."""

    def __init__(self, flag: FlagRecord, clip: ClipRecord, call: Call | None):
        self.flag, self.call = flag, call
        self.start = clip.on_clock(flag.onset_pts)
        self.full = clip.on_clock(flag.full_pts)
        self.about = float(self.start)  # for a first look; what is near is then compared exactly
        self.release = None if flag.release_pts is None else clip.on_clock(flag.release_pts)

    @property
    def decision(self) -> Decision | None:
        return None if self.call is None else self.call.decision

    @property
    def reach(self) -> Fraction:
        """Where it ends as far as it was seen."""
        return max(self.full, self.release or self.full)


class _Group:
    """What is taken for one candidate: marked occurrences and flags."""

    def __init__(self, marks: list[Occurrence], seen: list[_Seen]):
        self.marks, self.seen = marks, seen

    @property
    def attempts(self) -> bool:
        """How many were called an attempt."""
        return any(o.act in roles.ATTEMPT for o in self.marks)


def _across_cameras(flags: Sequence[_Seen]) -> list[list[_Seen]]:
    groups: list[list[_Seen]] = []
    if len({s.flag.clip_id for s in flags}) < 2:
        return [[s] for s in flags]
    for new in sorted(flags, key=lambda s: (s.start, s.flag.id)):
        fitting = None
        for group in reversed(groups):
            other_camera = new.flag.clip_id not in {s.flag.clip_id for s in group}
            if other_camera and any(s.start <= new.start < s.reach for s in group):
                fitting = group
                break
        if fitting is None:
            groups.append([new])
        else:
            fitting.append(new)
    return groups


def _same_insertion(a: Occurrence, b: Occurrence) -> bool:
    """Two marked insertions of different cameras that overlap, though they may name different palps."""
    if a.act not in roles.INSERTION or b.act not in roles.INSERTION:
        return False
    return set(a.clips).isdisjoint(b.clips) and a.start < b.span.end and b.start < a.span.end


def _belongs(occurrence: Occurrence, seen: _Seen) -> bool:
    if not float(occurrence.start) - 1.5 <= seen.about <= float(occurrence.last_seen) + 1.5:
        return False
    at_its_start = abs(seen.start - occurrence.start) <= NEAR
    inside = occurrence.start <= seen.start < occurrence.span.end
    if occurrence.act in roles.ATTEMPT:
        return (at_its_start or inside) and seen.decision in (Decision.ATTEMPT, Decision.NOT_SEEN)
    if at_its_start:
        return seen.decision is not None
    return inside and seen.decision in (Decision.CONFIRMED, Decision.PROBABLE)


def _lone(seen: _Seen, by_flag: dict[int, dict[str, Call]]) -> CandidateInsertion:
    """A flag by itself, without a mark or another camera: the usual case, kept short."""
    call = seen.call
    said = {c.decision for c in by_flag.get(seen.flag.id, {}).values()}
    return CandidateInsertion(
        start=seen.start,
        end=seen.release,
        decision=None if call is None else call.decision,
        palp="" if call is None else call.palp,
        disputed=len(said) > 1,
        from_mark=False,
        marks=(),
        flags=(seen.flag.id,),
        calls=() if call is None else (call.id,),
        cause="" if call is None else call.cause,
        signs=() if call is None else tuple(dict.fromkeys(call.signs)),
    )


def _candidate(group: _Group, by_flag: dict[int, dict[str, Call]]) -> CandidateInsertion:
    if not group.marks and len(group.seen) == 1:
        return _lone(group.seen[0], by_flag)
    called = [s for s in group.seen if s.call is not None]
    best = min(called, key=lambda s: RANK.index(s.call.decision) if s.call else len(RANK), default=None)
    decision = best.decision if best else None
    if group.marks and decision in (None, Decision.NOT_SEEN):
        decision = Decision.ATTEMPT if group.attempts else Decision.PROBABLE
    contradicted = decision is Decision.OTHER and bool(group.marks) and not group.attempts
    sides = {s.call.palp for s in called if s.call and s.call.palp and s.decision is decision}
    sides |= {side for o in group.marks if (side := roles.palp(o.act))}
    said = {s.decision for s in called} | {
        c.decision for s in group.seen for c in by_flag.get(s.flag.id, {}).values()
    }
    first = min(group.seen, key=lambda s: s.start, default=None)
    if group.marks:
        start = min(o.start for o in group.marks)
        end = max((o.end for o in group.marks if o.end is not None), default=None)
    else:
        start = first.start if first else Fraction(0)
        end = max((s.release for s in group.seen if s.release is not None), default=None)
    return CandidateInsertion(
        start=start,
        end=end,
        decision=decision,
        palp=sides.pop() if len(sides) == 1 else "",
        disputed=len(said) > 1,
        from_mark=bool(group.marks),
        marks=tuple(m for o in group.marks for m in o.marks),
        flags=tuple(s.flag.id for s in group.seen),
        calls=tuple(s.call.id for s in called if s.call),
        cause=best.call.cause if best and best.call else "",
        contradicted=contradicted,
        signs=tuple(dict.fromkeys(s for c in called if c.call and c.decision is decision for s in c.call.signs)),
    )
