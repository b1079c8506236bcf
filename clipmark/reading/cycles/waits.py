"""How long until the sac, over many cycles: curves with their intervals, and nothing told where few are at risk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clipmark.reading.cycles.cases import SAC, Case
from clipmark.reading.cycles.film_signs import CONFIRMED_SIGN
from clipmark.reading.cycles.states import State
from clipmark.reading.numbers.proportions import FEWEST
from clipmark.reading.numbers.survival import (
    Curve,
    Incidence,
    LogRank,
    cumulative_incidence,
    kaplan_meier,
    last_with,
    logrank,
)

DIED = "died"


@dataclass(frozen=True, slots=True, eq=False)
class Waits:
    """Times to the sac in days.

    Attributes:
        told_to: the last day on which at least five cycles were at risk; curves end there.
        curve: Kaplan-Meier of days to the sac; who has none is censored on the day of asking, or on the day of her
            moult, death or sale. Taking moults so overstates the chance of a sac: hence `incidence`.
        by_sign: the same "with" and "without" a confirmed insertion, groups of at least five; test: their log-rank.
        incidence: how many had a sac, a moult, or had died, by when: the three compete. A sale is censored.
        durations: of all cases, for numbers at risk.
    """

    told_to: float
    curve: Curve
    by_sign: dict[str, Curve]
    test: LogRank | None
    incidence: Incidence
    durations: tuple[float, ...]

    def at_risk(self, day: float) -> int:
        """How many were still waiting just before a day."""
        return sum(wait >= day for wait in self.durations)


def waits_of(cases: Sequence[Case]) -> Waits | None:
    """The times of cases with a known one; None below five."""
    if len(cases) < FEWEST:
        return None
    durations, came = _times(cases)
    told_to = last_with(durations, FEWEST)
    assert told_to is not None
    groups = [[c for c in cases if (CONFIRMED_SIGN in c.shown) is wanted] for wanted in (True, False)]
    enough = {
        name: _times(group) for name, group in zip(("with", "without"), groups, strict=True) if len(group) >= FEWEST
    }
    return Waits(
        told_to=told_to,
        curve=kaplan_meier(durations, came).until(FEWEST),
        by_sign={name: kaplan_meier(*times).until(FEWEST) for name, times in enough.items()},
        test=logrank(list(enough.values())) if len(enough) == 2 else None,
        incidence=cumulative_incidence(durations, [_way(c) for c in cases]).until(FEWEST),
        durations=tuple(durations),
    )


def _times(cases: Sequence[Case]) -> tuple[list[float], list[bool]]:
    return [float(c.days or 0) for c in cases], [c.end == SAC for c in cases]


def _way(case: Case) -> str:
    """How the wait ended, "" where it goes on or was lost from sight."""
    return case.end or (DIED if case.state is State.DIED else "")
