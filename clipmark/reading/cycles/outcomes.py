"""Over many sessions: what came of the pairings, against what film had shown.

The unit is a female's cycle between two moults, not a session: several pairings in one cycle lead to one sac at most.
Below five cases only counts are told. Nothing here says why: it says how often one thing went with another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.calls import counting_calls
from clipmark.book.model import Decision, LifeEvent, SessionRecord, Sign
from clipmark.reading import roles
from clipmark.reading.cycles.cycle import Cycle, Held, cycles, held
from clipmark.reading.cycles.life_dates import Life, day, life_of
from clipmark.reading.figure import plural
from clipmark.reading.numbers.proportions import FEWEST, Difference, Exact, Share, fisher, newcombe, wilson
from clipmark.reading.numbers.survival import Curve, Incidence, LogRank, cumulative_incidence, kaplan_meier, logrank
from clipmark.reading.session.ending import EndKind

SAC, MOULT, WAITING = "sac", "moult", ""


@dataclass(frozen=True, slots=True)
class Case:
    """One cycle of one female.

    Attributes:
        end: "sac", "moult", or "" while she waits (or nothing more is known).
        days: from the cycle's start to that end, or to the last entry about her; None where a sac has no date.
        young: young developed (True), a sac or moult without young (False), or not known (None).
        shown: what film showed, names of `FILM_SIGNS` that hold.
    """

    female_id: int
    female: str
    species: str
    cycle: Cycle
    end: str
    days: int | None
    young: bool | None
    shown: frozenset[str]


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
        cases: one a cycle, in order of start.
        ends: how many cycles ended in which way.
        sac, young: the comparison by “confirmed insertion”; signs: every sign, by whether a sac came.
        waiting: Kaplan-Meier of days to the sac, moults taken as censored (it overstates); by_sign: the same with and
            without a confirmed insertion; test: their log-rank. None below five cases with a known time.
        incidence: how many had a sac, and how many a moult, by when: the two compete. None below five.
        survival: nymphs of good eggs, over the sacs for which both were counted.
        notes: what must be said beside it.
    """

    cases: tuple[Case, ...]
    sessions: int
    females: int
    ends: dict[str, int]
    sac: Comparison
    young: Comparison
    signs: tuple[Comparison, ...]
    waiting: Curve | None
    by_sign: dict[str, Curve]
    test: LogRank | None
    incidence: Incidence | None
    survival: Share
    notes: tuple[str, ...]


CONFIRMED_SIGN = "confirmed insertion"


def _calls_with(sign: Sign) -> Callable[[Held], bool]:
    def has(session: Held) -> bool:
        calls = counting_calls(session.record).values()
        good = (Decision.CONFIRMED, Decision.PROBABLE)
        return any(c.decision in good and sign in c.signs for c in calls)

    return has


def _act(codes: frozenset[str]) -> Callable[[Held], bool]:
    return lambda session: any(o.act in codes for o in session.happened)


def _ended(kind: EndKind) -> Callable[[Held], bool]:
    return lambda session: session.ending.kind is kind


# What film may show, by name: each says whether one session shows it; a cycle shows what any of its sessions shows.
FILM_SIGNS: dict[str, Callable[[Held], bool]] = {
    CONFIRMED_SIGN: lambda s: s.insertions.confirmed >= 1,
    "two or more confirmed in one session": lambda s: s.insertions.confirmed >= 2,
    "confirmed or probable insertion": lambda s: s.insertions.confirmed + s.insertions.probable >= 1,
    **{str(sign): _calls_with(sign) for sign in Sign},
    "he drummed": _act(roles.DRUMMING),
    "she answered": _act(roles.ANSWER),
    "both cleaned or one did": _act(roles.CLEANING),
    "calm end": _ended(EndKind.CALM),
    "lunge at the end": _ended(EndKind.LUNGE),
}


def outcomes(
    records: Sequence[SessionRecord],
    lives: Mapping[int, Sequence[LifeEvent]] | None = None,
    today: date | None = None,
) -> Outcomes:
    """Read many sessions together.

    Args:
        lives: dated events of females by animal id.
        today: nothing after this day is looked at; the present day where None.
    """
    now = today or date.today()
    notes: list[str] = []
    found, used = _cases(records, lives or {}, now, notes)
    settled = [c for c in found if c.end]
    known_young = [c for c in found if c.young is not None]
    curve, by_sign, test, incidence = _times([c for c in found if c.days is not None])
    females = len({c.female_id for c in found})
    notes.extend(_cautions(found, females))
    return Outcomes(
        cases=tuple(found),
        sessions=used,
        females=females,
        ends=dict(Counter(c.end or "still waiting" for c in found)),
        sac=_compare(settled, CONFIRMED_SIGN, "a sac", lambda c: c.end == SAC),
        young=_compare(known_young, CONFIRMED_SIGN, "young", lambda c: bool(c.young)),
        signs=tuple(_compare(settled, sign, "a sac", lambda c: c.end == SAC) for sign in FILM_SIGNS),
        waiting=curve,
        by_sign=by_sign,
        test=test,
        incidence=incidence,
        survival=_survival(found, notes),
        notes=tuple(notes),
    )


def _cases(
    records: Sequence[SessionRecord], lives: Mapping[int, Sequence[LifeEvent]], now: date, notes: list[str]
) -> tuple[list[Case], int]:
    hers: dict[int, list[SessionRecord]] = {}
    nameless = 0
    for record in records:
        if record.female is None:
            nameless += 1
        else:
            hers.setdefault(record.female.id, []).append(record)
    found: list[Case] = []
    used = dated = 0
    for female_id, own in hers.items():
        sessions = [s for s in held(own) if s.on <= now]
        dated += len(own) - len(sessions)
        used += len(sessions)
        events = [e for e in lives.get(female_id, ()) if (d := day(e.date)) is not None and d <= now]
        life = life_of(events, now)
        found.extend(_case(cycle, life, events, now) for cycle in cycles(sessions, life))
    if nameless:
        notes.append(f"{plural(nameless, 'session')} without a female left out.")
    if dated:
        notes.append(f"{plural(dated, 'session')} without a date, or with one still to come, left out.")
    return sorted(found, key=lambda c: (c.cycle.start, c.female_id)), used


def _case(cycle: Cycle, life: Life, events: Sequence[LifeEvent], now: date) -> Case:
    female = cycle.sessions[0].record.female
    assert female is not None
    end = SAC if cycle.has_sac else MOULT if cycle.has_moulted else WAITING
    when = {SAC: cycle.laid, MOULT: cycle.moulted}.get(end) if end else _last_entry(cycle, life, events, now)
    kinds = {o.kind for o in cycle.outcomes}
    nothing = end == MOULT or (end == SAC and bool(kinds & {"infertile", "eaten"}))
    return Case(
        female_id=female.id,
        female=female.name,
        species=female.species,
        cycle=cycle,
        end=end,
        days=None if when is None or when < cycle.start else (when - cycle.start).days,
        young=True if cycle.developed else False if nothing else None,
        shown=frozenset(name for name, holds in FILM_SIGNS.items() if any(holds(s) for s in cycle.sessions)),
    )


def _last_entry(cycle: Cycle, life: Life, events: Sequence[LifeEvent], now: date) -> date:
    """The last day on which the book says anything about her: she is known to have waited till then."""
    days = [s.on for s in cycle.sessions] + [d for o in cycle.outcomes if (d := day(o.date)) is not None and d <= now]
    days += [d for e in events if (d := day(e.date)) is not None and d >= cycle.start]
    last = max(days)
    return min(last, life.gone) if life.gone and life.gone >= cycle.start else last


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


def _times(
    cases: Sequence[Case],
) -> tuple[Curve | None, dict[str, Curve], LogRank | None, Incidence | None]:
    if len(cases) < FEWEST:
        return None, {}, None, None

    def waits(some: Sequence[Case]) -> tuple[list[float], list[bool]]:
        return [float(c.days or 0) for c in some], [c.end == SAC for c in some]

    groups = {
        "with": [c for c in cases if CONFIRMED_SIGN in c.shown],
        "without": [c for c in cases if CONFIRMED_SIGN not in c.shown],
    }
    enough = {name: waits(group) for name, group in groups.items() if len(group) >= FEWEST}
    return (
        kaplan_meier(*waits(cases)),
        {name: kaplan_meier(*group) for name, group in enough.items()},
        logrank(list(enough.values())) if len(enough) == 2 else None,
        cumulative_incidence(waits(cases)[0], [c.end for c in cases]),
    )


def _survival(cases: Sequence[Case], notes: list[str]) -> Share:
    eggs = nymphs = wrong = 0
    for case in cases:
        counts = Counter[str]()
        for outcome in case.cycle.outcomes:
            for stage, number in outcome.counts:
                counts[stage] = max(counts[stage], number)
        laid, young = counts["good eggs"] or counts["eggs"], counts["nymphs"]
        if laid and young <= laid and any(o.kind == "nymphs" or young for o in case.cycle.outcomes):
            eggs, nymphs = eggs + laid, nymphs + young
        elif young > laid > 0:
            wrong += 1
    if wrong:
        notes.append(f"{plural(wrong, 'sac')} with more nymphs than eggs left out of the survival.")
    return wilson(nymphs, eggs)


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
        said.append(f"{plural(waiting, 'cycle')} still waiting: in the times, but in no comparison of signs.")
    undated = sum(c.end == SAC and c.days is None for c in cases)
    if undated:
        said.append(f"{plural(undated, 'sac')} without a day of laying left out of the times.")
    return said
