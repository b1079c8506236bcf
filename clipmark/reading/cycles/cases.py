"""Cases for statistics across sessions: one a cycle of a female, with how and when it ended, as of a day of asking.

An open case is censored on the day of asking, or on the day of her death or sale: she is known to have waited till
then, and nothing is known of her after it. What is dated after the day of asking is not looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from clipmark.book.model import LifeEvent, SessionRecord
from clipmark.reading.cycles.cycle import DEVELOPED, Cycle, cycles, held
from clipmark.reading.cycles.film_signs import FILM_SIGNS
from clipmark.reading.cycles.life_dates import Life, day, life_of
from clipmark.reading.cycles.states import Changes, State, changes
from clipmark.reading.figure import plural

SAC, MOULT, OPEN = "sac", "moult", ""


@dataclass(frozen=True, slots=True)
class Case:
    """One cycle of one female.

    Attributes:
        end: "sac", "moult", or "" where neither has come by the day of asking.
        state: the state on that day; changes: all its states, each with the day from which it holds.
        days: from the cycle's start to the end, else to the day of asking, her death or her sale; None where a sac
            has no day of laying, or dates contradict each other.
        young: young developed (True), a sac or moult without young (False), or not known (None).
        shown: what film showed, names of `FILM_SIGNS` that hold.
    """

    female_id: int
    female: str
    species: str
    cycle: Cycle
    end: str
    state: State
    changes: Changes
    days: int | None
    young: bool | None
    shown: frozenset[str]


def cases_of(
    records: Sequence[SessionRecord], lives: Mapping[int, Sequence[LifeEvent]], asked: date, notes: list[str]
) -> tuple[list[Case], int]:
    """All cases in order of start, and how many sessions they rest on; what was left out is added to `notes`."""
    hers: dict[int, list[SessionRecord]] = {}
    nameless = 0
    for record in records:
        if record.female is None:
            nameless += 1
        else:
            hers.setdefault(record.female.id, []).append(_as_of(record, asked))
    found: list[Case] = []
    used = dated = 0
    for female_id, own in hers.items():
        sessions = [s for s in held(own) if s.on <= asked]
        dated += len(own) - len(sessions)
        used += len(sessions)
        life = life_of(lives.get(female_id, ()), asked)
        found.extend(_case(cycle, life, asked) for cycle in cycles(sessions, life))
    if nameless:
        notes.append(f"{plural(nameless, 'session')} without a female left out.")
    if dated:
        notes.append(f"{plural(dated, 'session')} without a date, or with one still to come, left out.")
    return sorted(found, key=lambda c: (c.cycle.start, c.female_id)), used


def _as_of(record: SessionRecord, asked: date) -> SessionRecord:
    """The record without outcomes that are dated after the day of asking, or before its session."""
    held_on = day(record.session.date)
    kept = tuple(
        o
        for o in record.outcomes
        if (on := day(o.date)) is None or (on <= asked and (held_on is None or on >= held_on))
    )
    return record if len(kept) == len(record.outcomes) else replace(record, outcomes=kept)


def _case(cycle: Cycle, life: Life, asked: date) -> Case:
    female = cycle.sessions[0].record.female
    assert female is not None
    end = SAC if cycle.has_sac else MOULT if cycle.has_moulted else OPEN
    when = {SAC: cycle.laid, MOULT: cycle.moulted}.get(end) if end else _last_known(cycle, life, asked)
    kinds = {o.kind for o in cycle.outcomes}
    none = any(stage in DEVELOPED and number == 0 for o in cycle.outcomes for stage, number in o.counts)
    nothing = end == MOULT or (end == SAC and (none or bool(kinds & {"infertile", "eaten"})))
    held_states = changes(cycle, life, asked)
    return Case(
        female_id=female.id,
        female=female.name,
        species=female.species,
        cycle=cycle,
        end=end,
        state=held_states[-1][1],
        changes=held_states,
        days=None if when is None or when < cycle.start else (when - cycle.start).days,
        young=True if cycle.developed else False if nothing else None,
        shown=frozenset(name for name, holds in FILM_SIGNS.items() if any(holds(s) for s in cycle.sessions)),
    )


def _last_known(cycle: Cycle, life: Life, asked: date) -> date | None:
    """The day up to which she is known to have waited."""
    if life.gone is None:
        return asked
    return min(asked, life.gone) if life.gone >= cycle.start else None  # held after her death: dates contradict
