"""The sessions against which one session is held: those of females of her species, as far back as is useful."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from clipmark.book.model import Animal, LifeEvent, SessionRecord, Sex

if TYPE_CHECKING:
    from clipmark.book.store import Book
    from clipmark.reading.cycles.outcomes import Outcomes

MOST_OF_KIND = 400  # sessions, the latest, so that a large book does not keep a sheet waiting


@dataclass(frozen=True, slots=True)
class HerKind:
    """The latest dated sessions of females of her species, all of hers among them, and what their lives hold."""

    species: str
    records: tuple[SessionRecord, ...]
    lives: Mapping[int, tuple[LifeEvent, ...]]

    def together(self) -> Outcomes:
        """What these sessions say together, as of today."""
        from clipmark.reading.cycles.outcomes import outcomes

        return outcomes(self.records, self.lives)


def of_her_kind(book: Book, her: Animal) -> HerKind:
    """Look them up; without a species these are her own sessions only."""
    wanted = " ".join(her.species.split()).casefold()
    kin = {a.id for a in book.animals(Sex.FEMALE) if wanted and " ".join(a.species.split()).casefold() == wanted}
    found = [s for one in kin | {her.id} for s in book.sessions_of(one) if s.date]
    latest = sorted(found, key=lambda s: (s.date, s.id))[-MOST_OF_KIND:]
    ids = {s.id for s in latest} | {s.id for s in found if s.female_id == her.id}
    records = tuple(book.records(sorted(ids)))
    females = {r.female.id for r in records if r.female is not None}
    return HerKind(her.species.strip(), records, {female: book.life(female) for female in sorted(females)})
