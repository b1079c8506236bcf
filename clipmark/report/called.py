"""Flags as the sheet numbers them, each with the calls that count."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.meaning.calls import counting_calls, latest_calls
from clipmark.book.model import Call, Decision, FlagRecord, SessionRecord
from clipmark.reading.session.insertions import WITHOUT_SIGNS
from clipmark.report.pictures.shapes import UNCALLED
from clipmark.report.text import one_line


@dataclass(frozen=True, slots=True)
class NumberedFlag:
    """A flag with its number on the sheet (from 1, in order of the session clock).

    Attributes:
        onset, full, release: seconds on the session clock.
        call: the call that counts (`book.meaning.calls`); None while nobody has called it.
        calls: the latest call of each reviewer, oldest first.
    """

    number: int
    flag: FlagRecord
    onset: Fraction
    full: Fraction
    release: Fraction | None
    call: Call | None
    calls: tuple[Call, ...]

    @property
    def shape(self) -> str:
        """Which shape stands for it: a `Decision` value or `UNCALLED`."""
        return self.call.decision.value if self.call else UNCALLED

    @property
    def said(self) -> str:
        """The call in a few words."""
        if self.call is None:
            return UNCALLED
        cause = one_line(self.call.cause, 80)
        return f"{self.call.decision.value} ({cause})" if cause else said_of(self.call)


def said_of(call: Call) -> str:
    """The decision as it is printed: a confirmed one whose signs are not stated says so."""
    return f"{call.decision.value}, {WITHOUT_SIGNS}" if unsigned(call) else call.decision.value


def unsigned(call: Call) -> bool:
    """Whether it confirms without stating on what."""
    return call.decision is Decision.CONFIRMED and not call.signs


def numbered_flags(record: SessionRecord, reviewer: str = "") -> tuple[NumberedFlag, ...]:
    """What the sheet shows: proposed flags, the keeper's own, and weaker candidates that somebody has called.

    Args:
        reviewer: whose calls count, as in `book.meaning.calls.reader_of`; the numbers are the same for everybody.
    """
    calls, counting = latest_calls(record.calls), counting_calls(record, reviewer)
    clips = {clip.id: clip for clip in record.clips}
    shown = [f for f in record.flags if f.clip_id in clips and (f.flagged or f.by or f.id in calls)]
    placed = sorted(((clips[f.clip_id].on_clock(f.onset_pts), f.id, f) for f in shown), key=lambda p: p[:2])
    return tuple(
        NumberedFlag(
            number=number,
            flag=flag,
            onset=onset,
            full=clips[flag.clip_id].on_clock(flag.full_pts),
            release=None if flag.release_pts is None else clips[flag.clip_id].on_clock(flag.release_pts),
            call=counting.get(flag.id),
            calls=tuple(calls.get(flag.id, {}).values()),
        )
        for number, (onset, _, flag) in enumerate(placed, start=1)
    )
