"""What acts have to do with each other: which one ends which, which cannot be at once, which needs another.

Pure functions over marks. A closing is carried out when the act is marked; everything else is a hint to the keeper
and never a lock, since films have gaps and animals have not read the rules.
Source: the sets and closings proposed in docs/trade-facts.md, acts table.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from clipmark.book.meaning.acts import CLASP, INSERTIONS, KNOCK_DOWN, RELEASE, SEPARATED, WITHDRAWAL
from clipmark.book.model import ClipRecord, Mark

# act -> the acts that it ends
CLOSINGS: dict[str, frozenset[str]] = {
    RELEASE: INSERTIONS | {CLASP},
    WITHDRAWAL: INSERTIONS,
    SEPARATED: INSERTIONS | {CLASP, KNOCK_DOWN},
}
# sets of acts of which at most one goes on at a time
EXCLUSIVE: tuple[frozenset[str], ...] = (INSERTIONS,)
# act -> it is expected to lie inside one of these
INSIDE: dict[str, frozenset[str]] = dict.fromkeys(INSERTIONS, frozenset({CLASP, KNOCK_DOWN}))


def enders(act: str) -> frozenset[str]:
    """The acts that end this one: those that close it, and those that cannot go on beside it."""
    closing = frozenset(one for one, ended in CLOSINGS.items() if act in ended)
    return closing.union(*(group for group in EXCLUSIVE if act in group))


def outside(act: str, going_on: Collection[str], marked: Collection[str]) -> bool:
    """Whether an act lies outside what it is expected to lie in. Where nothing of that kind is marked in the whole
    session, nothing is missing: males without hooks hold no clasp, and a keeper may mark insertions only."""
    needed = INSIDE.get(act, frozenset())
    return not needed.isdisjoint(marked) and needed.isdisjoint(going_on)


def ended_by(mark: Mark, clip: ClipRecord, marks: Iterable[Mark], clips: Sequence[ClipRecord]) -> list[Mark]:
    """The open marks of the same reviewer that a new mark ends, each closed at the new mark's beginning.

    Args:
        clip: the new mark's clip. clips: all clips of the session; a mark in another camera's clip is closed at the
            same time on the session clock.
    """
    at = clip.on_clock(mark.start_pts)
    by_id = {one.id: one for one in clips}
    closed = []
    for other in marks:
        its_clip = by_id.get(other.clip_id)
        if not other.open or mark.act not in enders(other.act) or other.reviewer != mark.reviewer or its_clip is None:
            continue
        if other.id and other.id == mark.id:
            continue
        end = mark.start_pts if other.clip_id == mark.clip_id else its_clip.pts_at(at)
        if end >= other.start_pts:
            closed.append(replace(other, end_pts=end))
    return closed


def hints(mark: Mark, clip: ClipRecord, marks: Iterable[Mark], clips: Sequence[ClipRecord]) -> tuple[str, ...]:
    """Sentences on what is unusual about a mark among the others of its reviewer; empty where nothing is."""
    others = [one for one in marks if one.reviewer == mark.reviewer and not (mark.id and one.id == mark.id)]
    by_id = {one.id: one for one in clips}
    at = clip.on_clock(mark.start_pts)
    going_on = {one.act for one in others if one.clip_id in by_id and _covers(one, by_id[one.clip_id], at)}
    found = []
    if outside(mark.act, going_on, {one.act for one in others}):
        names = " or ".join(sorted(INSIDE[mark.act]))
        found.append(f"“{mark.act}” is marked outside a {names}. Is the beginning of one missing?")
    for group in EXCLUSIVE:
        if mark.act in group and (clash := (group & going_on)):
            found.append(f"“{mark.act}” begins while “{min(clash)}” goes on; only one can be true at a time.")
    if mark.act == RELEASE and CLASP not in {one.act for one in others}:
        found.append("A release is marked, but no clasp before it.")
    return tuple(found)


def _covers(mark: Mark, clip: ClipRecord, at: Fraction) -> bool:
    """Whether a lasting mark goes on at a session time; an open one goes on to the film's end."""
    if not mark.lasting:
        return False
    end = mark.end_pts if mark.end_pts is not None else clip.end_pts
    return clip.on_clock(mark.start_pts) <= at < clip.on_clock(end)
