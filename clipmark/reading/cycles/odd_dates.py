"""Dates and counts that cannot be as they are written: told in a sentence, and left out of what they would spoil."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from itertools import pairwise

from clipmark.book.model import LifeEvent, Loan, Outcome, SessionRecord
from clipmark.reading.cycles.life_dates import day
from clipmark.reading.figure import plural

_Odd = Callable[[str, int], None]
_EGG_STAGES = ("eggs", "eggs with legs", "larvae", "nymphs")


def odd_dates(
    records: Sequence[SessionRecord],
    lives: Mapping[int, Sequence[LifeEvent]],
    asked: date,
    loans: Iterable[Loan] = (),
) -> list[str]:
    """A sentence for each kind of contradiction, with the sessions (or animals) it is found in.

    Args:
        lives: dated events by animal id. asked: the day of asking, after which a date lies in the future.
    """
    found: dict[str, list[int]] = {}

    def odd(sentence: str, number: int) -> None:
        found.setdefault(sentence, []).append(number)

    for record in records:
        _session(record, lives, asked, odd)
    for animal, events in lives.items():
        deaths = {e.date for e in events if e.kind == "died"}
        if len(deaths) > 1:
            odd("Two days of death are noted; the first counts (animal {0}).", animal)
    for loan in loans:
        start, end = day(loan.start), day(loan.end)
        if start and end and end < start:
            odd("A loan ends before it starts (animal {0}).", loan.animal_id)
    return [sentence.format(_listed(numbers)) for sentence, numbers in found.items()]


def _session(record: SessionRecord, lives: Mapping[int, Sequence[LifeEvent]], asked: date, odd: _Odd) -> None:
    number, held = record.session.id, day(record.session.date)
    days = [(o, on) for o in record.outcomes if (on := day(o.date)) is not None]
    if held is not None and any(on < held for _, on in days):
        odd("An outcome is dated before its pairing and left out (session {0}).", number)
    if any(on > asked for _, on in days):
        odd("An outcome is dated after the day of asking and left out (session {0}).", number)
    for sac in {o.sac for o in record.outcomes}:
        _counts([o for o in record.outcomes if o.sac == sac], number, odd)
    if record.female is None or held is None:
        return
    gone = [on for e in lives.get(record.female.id, ()) if e.kind == "died" and (on := day(e.date)) is not None]
    if gone and held > min(gone):
        odd("A pairing is dated after her death (session {0}).", number)
    if gone and any(o.kind == "laid" and on > min(gone) for o, on in days):
        odd("A sac is dated after her death (session {0}).", number)


def _counts(outcomes: Sequence[Outcome], number: int, odd: _Odd) -> None:
    """What is counted of one sac, stage by stage; of several counts of a stage the last."""
    counts: dict[str, int] = {}
    for outcome in sorted(outcomes, key=lambda o: (o.date, o.id)):
        counts |= dict(outcome.counts)
    stages = [(stage, counts[stage]) for stage in _EGG_STAGES if stage in counts]
    for (early, before), (late, after) in pairwise(stages):
        if after > before:
            odd(f"More {late} than {early} are counted (session {{0}}).", number)
    if "eggs" in counts and counts.get("good eggs", 0) + counts.get("bad eggs", 0) > counts["eggs"]:
        odd("Good and bad eggs are more than the eggs together (session {0}).", number)


def _listed(numbers: Sequence[int]) -> str:
    shown = ", ".join(map(str, sorted(set(numbers))[:5]))
    more = len(set(numbers)) - 5
    return shown if more <= 0 else f"{shown} and {plural(more, 'other')}"
