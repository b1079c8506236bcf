"""In what state a female's cycle is on a day: each session is in exactly one of six.

A cycle waits from its first session on. A sac ends the wait, and so do a moult without one, her death, and giving her
away; a sac can be lost (or eaten) later on. What happens to her after a sac changes nothing in what became of the
pairing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from enum import StrEnum

from clipmark.reading.cycles.cycle import Cycle
from clipmark.reading.cycles.life_dates import Life, day

LOSSES = frozenset({"lost", "eaten"})


class State(StrEnum):
    WAITING = "waiting"
    SAC = "sac"
    MOULT = "moult without sac"
    DIED = "died"
    LOST = "lost"
    AWAY = "given away"


Changes = tuple[tuple[date, State], ...]


def changes(cycle: Cycle, life: Life, asked: date) -> Changes:
    """The states of a cycle in order, each with the day from which it holds, up to the day of asking.

    A sac, a loss or a moult that is noted without a day holds from the day of asking.
    """
    found: list[tuple[date, State]] = [(cycle.sessions[0].on, State.WAITING)]
    if life.gone is not None and not _settled_by(cycle, life.gone):
        # a pairing dated after her death is a slip that is told; nobody waits for her
        found.append((max(life.gone, cycle.sessions[0].on), State.DIED if life.gone_how == "died" else State.AWAY))
    if cycle.has_sac:
        laid = cycle.laid or cycle.sac_by or asked
        found.append((laid, State.SAC))
        lost = [day(o.date) or asked for o in cycle.outcomes if o.kind in LOSSES]
        if lost:
            found.append((max(min(lost), laid), State.LOST))
    elif cycle.has_moulted:
        found.append((cycle.moulted or asked, State.MOULT))
    order = list(State)
    kept = [found[0], *sorted(found[1:], key=lambda c: (c[0], order.index(c[1])))]
    return tuple(change for change in kept if change[0] <= asked)


def _settled_by(cycle: Cycle, on: date) -> bool:
    """Whether a sac or a moult had ended the wait by then."""
    by = cycle.laid or cycle.sac_by if cycle.has_sac else cycle.moulted
    return by is not None and by <= on


def state_on(held: Sequence[tuple[date, State]], on: date) -> State | None:
    """The state on a day; None before the first session."""
    return next((state for since, state in reversed(held) if since <= on), None)
