"""After the sac: what was noted of each sac of a pairing, and when each stage may come, with its source.

A stage that no source times is not timed: it is asked for as the keeper's own note. Where the keeper's own sacs of
the species have reached a stage, their days stand first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import Outcome, SessionRecord, SpeciesNote
from clipmark.reading.cycles.life_dates import day
from clipmark.reading.figure import plural
from clipmark.reading.kinds.species import DateWindow, Known, facts, known, warnings, windows

ENDED = ("infertile", "eaten", "lost")


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the young. `kind` is that of the outcome which notes it; `figure` names the figure that times it;
    `look` says how to know it, `source` from where."""

    kind: str
    title: str
    figure: str
    look: str
    source: str


STAGES = (
    Stage("eggs", "Eggs", "", "Round, without legs.", "[BSE] (hobby)"),
    Stage("eggs with legs", "Eggs with legs (prelarva)", "egg_to_prelarva",
          "Legs can be seen; it barely moves and lives on its yolk.", "[MV743] [BI] [BSE] (hobby)"),
    Stage("larvae", "Larva", "egg_to_larva", "Pale, few hairs, claws; walks a little. Many English keepers say first "
          "instar (from memory).", "[BSE] [VS] (hobby)"),
    Stage("nymphs", "First nymph", "sac_to_first_nymphs", "Free, with a dark spot on the abdomen; feeds. English "
          "keepers say second instar or spiderling (from memory).", "[DO12] (paper) for the spot"),
)  # fmt: skip
TAKEN = Stage("pulled", "Sac taken from her", "sac_pulled_after", "", "")
OUT = Stage("out", "Young come out by themselves", "sac_to_emergence", "", "")


@dataclass(frozen=True, slots=True)
class StageView:
    """One stage of one sac.

    Attributes:
        on: the day noted for it; None while it is not noted.
        after_days: days from laying to that day, where both are known.
        counts: what was counted, as (stage, number).
        expected: when it may come, the particular first; empty where it is noted or nothing times it.
        asks: what the keeper is asked to note where no source says anything.
    """

    stage: Stage
    on: date | None
    after_days: int | None
    counts: tuple[tuple[str, int], ...]
    expected: tuple[DateWindow, ...]
    asks: str


@dataclass(frozen=True, slots=True)
class SacView:
    """One sac of a pairing.

    Attributes:
        number: 1 for the first.
        laid: the day; None where it is not noted.
        ended: "infertile", "eaten" or "lost"; "" while it is not over.
        conditions: how it was kept, as noted, a sentence each.
        stages: in order.
        warnings: special cases of the kind (text, source), such as a fixed sac.
        contradictions: what in the notes cannot be, a sentence each.
    """

    number: int
    laid: date | None
    ended: str
    conditions: tuple[str, ...]
    stages: tuple[StageView, ...]
    warnings: tuple[tuple[str, str], ...]
    contradictions: tuple[str, ...]


def sacs(
    record: SessionRecord,
    species: str,
    own: Sequence[SpeciesNote] = (),
    others: Sequence[SessionRecord] = (),
    taken: Known | None = None,
) -> tuple[SacView, ...]:
    """Every sac that is noted for a pairing, in order.

    Args:
        others: further sessions, for the days that the keeper's own sacs of this species took.
        taken: the keeper's own window for taking the sac, before all others.
    """
    numbers = sorted({o.sac for o in record.outcomes if o.kind not in ("moulted", "none yet")})
    warned = tuple((f.text, f.cited) for f in warnings(species, "sac", own))
    before = _own_days(species, [record, *others])
    return tuple(
        _sac(number, [o for o in record.outcomes if o.sac == number], species, own, before, warned, taken)
        for number in numbers
    )


def fixed(species: str, own: Sequence[SpeciesNote] = ()) -> bool:
    """Whether the kind fixes its sac to the place."""
    return any(f.about == "fixed sac" for f in facts(species, own))


def _sac(
    number: int,
    noted: Sequence[Outcome],
    species: str,
    own: Sequence[SpeciesNote],
    before: dict[str, list[tuple[int, int]]],
    warned: tuple[tuple[str, str], ...],
    taken: Known | None,
) -> SacView:
    laid = min((d for o in noted if o.kind == "laid" and (d := day(o.date)) is not None), default=None)
    ended = next((o.kind for o in noted if o.kind in ENDED), "")
    out_of_her_care = any(o.kept == "by hand" or o.kind == TAKEN.kind for o in noted)
    views = []
    for stage in (*STAGES[:2], TAKEN, *STAGES[2:], OUT):
        mine = [o for o in noted if o.kind == stage.kind]
        on = min((d for o in mine if (d := day(o.date)) is not None), default=None)
        counts = tuple(c for o in mine for c in o.counts)
        figures: list[Known] = []
        due = laid is not None and not mine and not ended and not (out_of_her_care and stage in (TAKEN, OUT))
        if due and stage.figure:
            figures = [*([taken] if taken is not None and stage is TAKEN else []),
                       *_from_own_sacs(stage, before, number), *known(species, stage.figure, own)]  # fmt: skip
        expected = windows(laid, figures) if laid is not None else ()
        asks = ""
        if stage.figure and due and not expected:
            asks = "No source says when. Note the day when you see it; your own sacs then say it next time."
        after = (on - laid).days if on is not None and laid is not None else None
        views.append(StageView(stage, on, after, counts, expected, asks))
    views = [v for v in views if v.stage is not OUT or v.expected]
    return SacView(
        number, laid, ended, tuple(_conditions(noted)), tuple(views), warned, tuple(_contradictions(noted, laid))
    )


def _from_own_sacs(stage: Stage, before: dict[str, list[tuple[int, int]]], number: int) -> Iterable[Known]:
    days = sorted(d for d, _ in before.get(stage.kind, ()))
    if days:
        note = f"{plural(len(days), 'sac')} of your own"
        yield Known(stage.figure, days[0], days[-1], "days", "", "own", "noted", note, note, "own")


def _own_days(species: str, records: Sequence[SessionRecord]) -> dict[str, list[tuple[int, int]]]:
    """Days from laying to each stage in the keeper's own sacs of a species, with the session's id."""
    found: dict[str, list[tuple[int, int]]] = {}
    wanted = " ".join(species.split()).casefold()
    for record in {r.session.id: r for r in records}.values():
        female = record.female
        if female is None or not wanted or " ".join(female.species.split()).casefold() != wanted:
            continue
        for number in {o.sac for o in record.outcomes}:
            mine = [o for o in record.outcomes if o.sac == number]
            laid = min((d for o in mine if o.kind == "laid" and (d := day(o.date)) is not None), default=None)
            for outcome in mine:
                on = day(outcome.date)
                if laid is not None and on is not None and on > laid and outcome.kind != "laid":
                    found.setdefault(outcome.kind, []).append(((on - laid).days, record.session.id))
    return found


def _conditions(noted: Sequence[Outcome]) -> Iterable[str]:
    for o in sorted(noted, key=lambda o: (o.date, o.id)):
        parts = [o.kept] if o.kept else []
        parts += [f"{o.temperature_c:g} °C"] if o.temperature_c is not None else []
        parts += [f"{o.humidity_pct:g} % humidity"] if o.humidity_pct is not None else []
        if parts:
            yield f"{', '.join(parts)}{f' (noted {o.date})' if o.date else ''}"


def _contradictions(noted: Sequence[Outcome], laid: date | None) -> Iterable[str]:
    most = max((n for o in noted for stage, n in o.counts if stage in ("eggs", "good eggs")), default=0)
    for o in noted:
        on = day(o.date)
        if laid is not None and on is not None and on < laid:
            yield f"“{o.kind}” is noted for {on}, before the sac was laid ({laid})."
        for stage, number in o.counts:
            if most and stage in ("eggs with legs", "larvae", "nymphs") and number > most:
                yield f"{number} {stage} are noted, but only {most} eggs: one of the two is miscounted."
