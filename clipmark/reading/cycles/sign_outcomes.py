"""Which signs went with sacs, by species: the keeper's own calls, counted, and nothing said of why.

The unit is a female's cycle, as everywhere. Looked at are cycles that are settled (a sac, or a moult without one)
and in which at least one pull was called confirmed or probable with a sign stated: only there can a sign be missing.
Below five cycles only counts are told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import Decision, LifeEvent, SessionRecord, Sign
from clipmark.reading.cycles.cycle import Cycle, cycles, held
from clipmark.reading.cycles.life_dates import life_of
from clipmark.reading.figure import plural
from clipmark.reading.kinds.species import levels
from clipmark.reading.numbers.proportions import Share, wilson

GOOD = (Decision.CONFIRMED, Decision.PROBABLE)


@dataclass(frozen=True, slots=True)
class SignCount:
    """Of cycles whose good calls rest on a sign, how many had a sac, and of those whose calls do not."""

    sign: Sign
    with_it: Share
    without_it: Share

    @property
    def text(self) -> str:
        """The comparison in a sentence."""
        return f"{self.sign}: a sac in {self.with_it.text} with it, in {self.without_it.text} without it"


@dataclass(frozen=True, slots=True)
class SpeciesSigns:
    """One species: its settled cycles with stated signs, its females, and the count of each sign."""

    species: str
    cycles: int
    females: int
    signs: tuple[SignCount, ...]

    @property
    def note(self) -> str:
        """What must be said beside it."""
        said = f"{plural(self.cycles, 'cycle')} of {plural(self.females, 'female')}."
        if self.cycles < 5:
            return f"{said} Far too few to tell which sign to trust."
        best = f"the best of {len(self.signs)} signs looks good by chance"
        return f"{said} Cycles of one female are not independent; {best}."


def sign_outcomes(
    records: Sequence[SessionRecord],
    lives: Mapping[int, Sequence[LifeEvent]] | None = None,
    today: date | None = None,
) -> tuple[SpeciesSigns, ...]:
    """The keeper's calls against what came of them, a species at a time, those with most cycles first.

    Args:
        lives: dated events of females by animal id.
        today: nothing after this day is looked at; the present day where None.
    """
    now = today or date.today()
    hers: dict[int, list[SessionRecord]] = {}
    for record in records:
        if record.female is not None:
            hers.setdefault(record.female.id, []).append(record)
    found: dict[str, list[tuple[int, Cycle, frozenset[Sign]]]] = {}
    for female, own in hers.items():
        sessions = [s for s in held(own) if s.on <= now]
        for cycle in cycles(sessions, life_of((lives or {}).get(female, ()), now)):
            stated = _stated(cycle)
            if cycle.settled and stated:
                found.setdefault(_name(own[0]), []).append((female, cycle, stated))
    read = [_species(name, group) for name, group in found.items()]
    return tuple(sorted(read, key=lambda s: (-s.cycles, s.species)))


def _name(record: SessionRecord) -> str:
    """The species by its present name; "" where none is entered."""
    written = " ".join(record.female.species.split()) if record.female is not None else ""
    known = levels(written)[0] if written else None
    return known.name if known is not None and known.level == "species" else written


def _stated(cycle: Cycle) -> frozenset[Sign]:
    """The signs of the calls that count and are good."""
    used = {i for s in cycle.sessions for c in s.insertions.of(*GOOD) for i in c.calls}
    calls = (c for s in cycle.sessions for c in s.record.calls if c.id in used and c.decision in GOOD)
    return frozenset(sign for call in calls for sign in call.signs)


def _species(name: str, group: Sequence[tuple[int, Cycle, frozenset[Sign]]]) -> SpeciesSigns:
    def count(sign: Sign) -> SignCount:
        yes = [c.has_sac for _, c, stated in group if sign in stated]
        no = [c.has_sac for _, c, stated in group if sign not in stated]
        return SignCount(sign, wilson(sum(yes), len(yes)), wilson(sum(no), len(no)))

    return SpeciesSigns(name, len(group), len({f for f, _, _ in group}), tuple(count(sign) for sign in Sign))
