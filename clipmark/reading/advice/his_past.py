"""A male's other pairings: when he was last put to anybody, whether he charged his palps since, whether he lives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from clipmark.book.model import SessionRecord
from clipmark.reading import roles
from clipmark.reading.cycles.life_dates import day

RECENT_DAYS = 30


@dataclass(frozen=True, slots=True)
class HisPast:
    """What his sessions say, up to a day.

    Attributes:
        pairings: days on which he was put to a female, sorted, the session at hand left out.
        females: whom, on each of these days; "" where she is not noted.
        killed: the day on which a killing by her is marked.
    """

    pairings: tuple[date, ...] = ()
    females: tuple[str, ...] = ()
    killed: date | None = None

    @property
    def last(self) -> date | None:
        """The day of his latest pairing."""
        return self.pairings[-1] if self.pairings else None

    def recent(self, today: date) -> int:
        """Pairings in the last thirty days."""
        return sum(d > today - timedelta(days=RECENT_DAYS) for d in self.pairings)


NO_PAST = HisPast()


def his_past(records: Iterable[SessionRecord], male_id: int | None, until: date, but: int = 0) -> HisPast:
    """The past of a male, with any female.

    Args:
        records: sessions, his and others.
        but: the session at hand, which is no past pairing (a killing in it counts all the same).
    """
    if male_id is None:
        return NO_PAST
    held, killed = [], []
    for record in {r.session.id: r for r in records}.values():
        on = day(record.session.date)
        if record.session.male_id != male_id or on is None or on > until:
            continue
        if record.session.id != but:
            held.append((on, record.session.id, record.female.name if record.female else ""))
        if any(mark.act in roles.KILL for mark in record.marks):
            killed.append(on)
    held.sort()
    return HisPast(tuple(d for d, _, _ in held), tuple(name for _, _, name in held), min(killed, default=None))
