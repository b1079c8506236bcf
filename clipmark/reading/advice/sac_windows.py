"""When a sac may come, for every cycle that still waits: one calendar over many females."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from clipmark.book.model import LifeEvent, SpeciesNote
from clipmark.reading.advice.outlook import outlook
from clipmark.reading.cycles.outcomes import Outcomes
from clipmark.reading.cycles.states import State

MOST = 40  # cycles; a calendar of more is read by nobody


def sac_windows(
    read: Outcomes, lives: Mapping[int, Sequence[LifeEvent]], own: Sequence[SpeciesNote] = ()
) -> list[tuple[int, date, date]]:
    """(session, first day, last day) of the leading window of each waiting cycle, of the latest `MOST` cycles."""
    found = []
    for case in read.cases[-MOST:]:
        if case.state is not State.WAITING:
            continue
        *others, last = [s.record for s in case.cycle.sessions]
        view = outlook(last, lives.get(case.female_id, ()), (), others, read.asked, own=own)
        if view.sac:
            found.append((last.session.id, view.sac[0].first, view.sac[0].last))
    return found
