"""What happened, once each: one person's marks on several cameras put together on the session clock.

The rule: marks of the same act by the same actor are one occurrence where they come from different cameras (clips)
and, for lasting acts, overlap on the session clock; for momentary acts, lie within half a second of each other, one
to one. It begins with the earliest and ends with the latest of its marks. Two marks on one clip are always two
occurrences: the keeper meant two.

An act left open ends with the first act after its start that closes it (`book.meaning.rules`): an insertion with a
withdrawal, a clasp with a release, both with the separation.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from clipmark.book.meaning.calls import reader_of
from clipmark.book.meaning.rules import enders
from clipmark.book.model import Actor, ClipRecord, Mark, SessionRecord
from clipmark.reading import roles
from clipmark.timebase import Span

SAME_MOMENT = Fraction(1, 2)  # s; proposal: cameras and hands differ by less, separate acts of one kind by more


@dataclass(frozen=True, slots=True)
class Occurrence:
    """An act that happened once, in exact seconds of the session clock.

    Attributes:
        end: None for momentary acts and for lasting ones whose end was not marked.
        last_seen: end of the film that shows it, for acts left open; equals `end` (or `start`) otherwise.
        open: lasting, and no mark of it was closed: its length is censored.
        marks, clips, reviewers: where it comes from.
    """

    act: str
    actor: Actor
    lasting: bool
    start: Fraction
    end: Fraction | None
    last_seen: Fraction
    open: bool
    marks: tuple[int, ...]
    clips: tuple[int, ...]
    reviewers: tuple[str, ...]
    note: str = ""

    @property
    def span(self) -> Span:
        """From start to end; to the end of its film where it was left open; empty for momentary acts."""
        return Span(self.start, max(self.start, self.last_seen))

    @property
    def duration(self) -> Fraction:
        """Seconds for which it was seen to last."""
        return max(Fraction(0), self.last_seen - self.start)


def occurrences(
    record: SessionRecord, reviewer: str = "", by: Collection[str] | None = None
) -> tuple[Occurrence, ...]:
    """All acts of a session sorted by time, each once (see the rule above).

    Args:
        reviewer: whose marks, as `book.meaning.calls.reader_of` says.
        by: only the marks of these people, the empty name among them if it is meant; None: as `reviewer` says.
    """
    people = by if by is not None else reader_of(record, reviewer).names
    framing = people if by is not None else framers(record, reviewer)
    clips = {clip.id: clip for clip in record.clips}
    kinds: dict[tuple[str, Actor, bool], list[_Placed]] = {}
    for mark in record.marks:
        clip = clips.get(mark.clip_id)
        if clip is None or mark.reviewer not in (framing if mark.act in roles.NO_BEHAVIOUR else people):
            continue
        kinds.setdefault((mark.act, mark.actor, mark.lasting), []).append(_placed(mark, clip))
    found = [_one(group) for placed in kinds.values() for group in _groups(placed)]
    return tuple(sorted(_closed(found), key=lambda o: (float(o.start), o.start, o.last_seen, o.marks)))


def framers(record: SessionRecord, reviewer: str = "") -> Collection[str]:
    """Under which names the introduction, the separation and what was out of view count: the person's own; those of
    the session's own reading where the person marked none of them."""
    names = reader_of(record, reviewer).names
    marked = any(m.reviewer in names and m.act in roles.NO_BEHAVIOUR for m in record.marks)
    return names if marked else reader_of(record).names


def _closed(found: Sequence[Occurrence]) -> list[Occurrence]:
    """Open acts end with the first act that ends them (`book.meaning.rules`)."""
    whole = []
    for act in found:
        if act.open and (closing := enders(act.act)):
            ends = [o.start for o in found if o.act in closing and act.start < o.start <= act.last_seen]
            if ends:
                act = replace(act, end=min(ends), last_seen=min(ends), open=False)
        whole.append(act)
    return whole


@dataclass(frozen=True, slots=True)
class _Placed:
    mark: Mark
    start: Fraction
    end: Fraction | None
    last_seen: Fraction

    @property
    def camera(self) -> int:
        return self.mark.clip_id


def _placed(mark: Mark, clip: ClipRecord) -> _Placed:
    start = clip.on_clock(mark.start_pts)
    if not mark.lasting:
        return _Placed(mark, start, None, start)
    end = None if mark.end_pts is None else clip.on_clock(mark.end_pts)
    return _Placed(mark, start, end, max(start, clip.on_clock(clip.end_pts)) if end is None else end)


def _groups(placed: Iterable[_Placed]) -> list[list[_Placed]]:
    # equal times have equal floats, so the exact ones are compared only where they must be
    each = list(placed)
    if all(p.camera == each[0].camera for p in each):
        return [[p] for p in each]  # two marks on one clip are two occurrences: nothing to put together
    ordered = sorted(each, key=lambda p: (float(p.start), p.start, p.mark.id))
    return _lasting_groups(ordered) if ordered[0].mark.lasting else _momentary_groups(ordered)


def _momentary_groups(ordered: Sequence[_Placed]) -> list[list[_Placed]]:
    groups: list[list[_Placed]] = []
    for new in ordered:
        fitting = None
        for group in reversed(groups):
            if new.start - group[0].start > SAME_MOMENT:
                break
            if new.camera not in {p.camera for p in group}:
                fitting = group  # the oldest that still takes it: two cameras with two strikes each pair up in order
        if fitting is None:
            groups.append([new])
        else:
            fitting.append(new)
    return groups


def _lasting_groups(ordered: Sequence[_Placed]) -> list[list[_Placed]]:
    done: list[list[_Placed]] = []
    running: list[list[_Placed]] = []  # only these can still overlap what comes
    for new in ordered:
        still = [g for g in running if any(_reach(p) > new.start for p in g)]
        done.extend(g for g in running if g not in still)
        linked = [g for g in still if any(p.camera != new.camera and _reach(p) > new.start for p in g)]
        merged = [p for g in linked for p in g] + [new]  # the new mark may bridge groups that were apart
        running = [g for g in still if g not in linked] + [merged]
    return done + running


def _reach(placed: _Placed) -> Fraction:
    """How far a mark reaches out for its like: one left open only half a second, or it would swallow all that
    another camera shows later."""
    return placed.start + SAME_MOMENT if placed.end is None else placed.end


def _one(group: Sequence[_Placed]) -> Occurrence:
    first = group[0].mark
    if len(group) == 1:  # the usual case, kept short: a book may hold tens of thousands
        one = group[0]
        return Occurrence(
            act=first.act,
            actor=first.actor,
            lasting=first.lasting,
            start=one.start,
            end=one.end,
            last_seen=one.last_seen,
            open=first.open,
            marks=(first.id,),
            clips=(first.clip_id,),
            reviewers=(first.reviewer,),
            note=first.note,
        )
    ends = [p.end for p in group if p.end is not None]
    return Occurrence(
        act=first.act,
        actor=first.actor,
        lasting=first.lasting,
        start=min(p.start for p in group),
        end=max(ends) if ends else None,
        last_seen=max(ends) if ends else max(p.last_seen for p in group),
        open=first.lasting and not ends,
        marks=tuple(p.mark.id for p in group),
        clips=tuple(dict.fromkeys(p.mark.clip_id for p in group)),
        reviewers=tuple(dict.fromkeys(p.mark.reviewer for p in group)),
        note="; ".join(dict.fromkeys(p.mark.note for p in group if p.mark.note)),
    )
