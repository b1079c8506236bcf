"""Over many sessions: what came of the pairings, against what film had shown.

The unit is a female's cycle between two moults, not a session: several pairings in one cycle lead to one sac at most.
Below five cases only counts are told. Nothing here says why: it says how often one thing went with another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import LifeEvent, Loan, SessionRecord
from clipmark.reading.cycles.cases import MOULT, SAC, Case, cases_of
from clipmark.reading.cycles.film_signs import CONFIRMED_SIGN, FILM_SIGNS
from clipmark.reading.cycles.nymphs import Nymphs, nymphs_of
from clipmark.reading.cycles.odd_dates import odd_dates
from clipmark.reading.cycles.states import State
from clipmark.reading.cycles.waits import Waits, waits_of
from clipmark.reading.figure import plural
from clipmark.reading.numbers.proportions import FEWEST, Difference, Exact, Share, fisher, newcombe, wilson
from clipmark.reading.numbers.survival import Curve, Incidence


@dataclass(frozen=True, slots=True)
class Comparison:
    """How often something came where film showed a sign, and where it did not.

    Attributes:
        sign, came: what was shown; what came of it ("a sac", "young").
        with_it, without_it: shares with their intervals.
        difference, exact: Newcombe's interval and Fisher's test; None where a group has fewer than five cases.
    """

    sign: str
    came: str
    with_it: Share
    without_it: Share
    difference: Difference | None
    exact: Exact | None

    @property
    def text(self) -> str:
        """The comparison in a sentence, with its interval where there are enough."""
        said = f"{self.came}: {self.with_it.text} with “{self.sign}”, {self.without_it.text} without"
        if self.difference is None or self.exact is None:
            return said
        d = self.difference
        return (
            f"{said}; difference {100 * d.value:+.0f} points ({100 * d.low:+.0f} to {100 * d.high:+.0f}), "
            f"p = {self.exact.p:.3f}"
        )


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """The reading across sessions.

    Attributes:
        asked: the day of asking; nothing after it is looked at, and open cases are censored on it.
        cases: one a cycle, in order of start.
        ends: how many cycles are in which state on that day, names of `State`.
        session_states: the state of each session, by its id.
        sac, young: the comparison by “confirmed insertion”; signs: every sign, by whether a sac came.
        waits: times to the sac, None below five cases with a known time.
        nymphs: nymphs of the eggs of each sac.
        notes: what must be said beside it.
    """

    asked: date
    cases: tuple[Case, ...]
    sessions: int
    females: int
    ends: dict[str, int]
    session_states: dict[int, State]
    sac: Comparison
    young: Comparison
    signs: tuple[Comparison, ...]
    waits: Waits | None
    nymphs: Nymphs
    notes: tuple[str, ...]

    @property
    def waiting(self) -> Curve | None:
        """The curve of waiting for the sac, as far as it is told."""
        return None if self.waits is None else self.waits.curve

    @property
    def incidence(self) -> Incidence | None:
        """The shares that compete, as far as they are told."""
        return None if self.waits is None else self.waits.incidence


def outcomes(
    records: Sequence[SessionRecord],
    lives: Mapping[int, Sequence[LifeEvent]] | None = None,
    today: date | None = None,
    loans: Sequence[Loan] = (),
) -> Outcomes:
    """Read many sessions together.

    Args:
        lives: dated events of females by animal id.
        today: the day of asking; the present day where None.
        loans: looked through for dates that contradict each other.
    """
    asked = today or date.today()
    notes: list[str] = []
    found, used = cases_of(records, lives or {}, asked, notes)
    notes.extend(odd_dates(records, lives or {}, asked, loans))
    settled = [c for c in found if c.end]
    known_young = [c for c in found if c.young is not None]
    females = len({c.female_id for c in found})
    notes.extend(_cautions(found, females))
    return Outcomes(
        asked=asked,
        cases=tuple(found),
        sessions=used,
        females=females,
        ends={str(state): number for state in State if (number := sum(c.state is state for c in found))},
        session_states={s.record.session.id: c.state for c in found for s in c.cycle.sessions},
        sac=_compare(settled, CONFIRMED_SIGN, "a sac", lambda c: c.end == SAC),
        young=_compare(known_young, CONFIRMED_SIGN, "young", lambda c: bool(c.young)),
        signs=tuple(_compare(settled, sign, "a sac", lambda c: c.end == SAC) for sign in FILM_SIGNS),
        waits=waits_of([c for c in found if c.days is not None]),
        nymphs=nymphs_of(found, notes),
        notes=tuple(notes),
    )


def _compare(cases: Sequence[Case], sign: str, came: str, holds: Callable[[Case], bool]) -> Comparison:
    yes = [c for c in cases if sign in c.shown]
    no = [c for c in cases if sign not in c.shown]
    a, b = sum(map(holds, yes)), sum(map(holds, no))
    with_it, without_it = wilson(a, len(yes)), wilson(b, len(no))
    enough = min(len(yes), len(no)) >= FEWEST
    return Comparison(
        sign=sign,
        came=came,
        with_it=with_it,
        without_it=without_it,
        difference=newcombe(with_it, without_it) if enough else None,
        exact=fisher([[a, len(yes) - a], [b, len(no) - b]]) if enough else None,
    )


def _cautions(cases: Sequence[Case], females: int) -> list[str]:
    said = []
    several = [n for n in Counter(c.female_id for c in cases).values() if n > 1]
    if several:
        said.append(
            f"{plural(len(several), 'female')} of {females} stand for {sum(several)} of {len(cases)} cycles: cycles "
            "of one female are not independent, and the intervals are too narrow for that."
        )
    joined = sum(len(c.cycle.sessions) > 1 for c in cases)
    if joined:
        said.append(
            f"{plural(joined, 'cycle')} of several pairings: each counts once, from its first pairing with a "
            "confirmed insertion (the first pairing where none is confirmed)."
        )
    if len(cases) < FEWEST:
        said.append("With fewer than five cycles only counts are told.")
    elif len(FILM_SIGNS) > 1:
        said.append(f"{len(FILM_SIGNS)} signs are compared: by chance alone one in twenty looks striking.")
    moults = sum(c.end == MOULT for c in cases)
    if moults:
        said.append(
            f"{plural(moults, 'cycle')} ended in a moult: the curve that takes moults as still waiting overstates "
            "the chance of a sac, so the shares that compete are shown beside it."
        )
    waiting = sum(not c.end for c in cases)
    if waiting:
        said.append(
            f"{plural(waiting, 'cycle')} without a sac or a moult yet (waiting, died or given away): in the times, "
            "but in no comparison of signs."
        )
    undated = sum(c.end == SAC and c.days is None for c in cases)
    if undated:
        said.append(f"{plural(undated, 'sac')} without a day of laying left out of the times.")
    return said
