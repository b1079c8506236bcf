"""One female between two moults: which sessions belong together, and what came of them.

Stored sperm goes with the old skin, so a moult parts what came before from what comes after. A sac also ends a cycle
for the sessions that are held after it. Where several sessions lie in one cycle, time to the sac runs from the first
one with a confirmed insertion (from the first session where none was confirmed), and that is said (TRADE 6.3).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import Outcome, SessionRecord
from clipmark.reading.cycles.life_dates import Life, day
from clipmark.reading.session.ending import Ending, how_it_ended
from clipmark.reading.session.insertions import Insertions, insertions
from clipmark.reading.session.occurrences import Occurrence, occurrences

SAC = frozenset({"laid", "pulled", "lost", "eggs", "eggs with legs", "larvae", "nymphs", "infertile", "eaten"})
DEVELOPED = frozenset({"eggs with legs", "larvae", "nymphs"})
MOULTED = "moulted"


@dataclass(frozen=True, slots=True)
class Held:
    """One dated session: its record, what happened in it (once each), its insertions and how it ended."""

    record: SessionRecord
    on: date
    happened: tuple[Occurrence, ...]
    insertions: Insertions
    ending: Ending

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What came of it, as it was noted."""
        return self.record.outcomes


def held(records: Iterable[SessionRecord]) -> tuple[Held, ...]:
    """The dated sessions in order of date; those without a date are left out."""
    dated = [(on, r) for r in records if (on := day(r.session.date)) is not None]
    dated.sort(key=lambda pair: (pair[0], pair[1].session.id))
    return tuple(_held(record, on) for on, record in dated)


def _held(record: SessionRecord, on: date) -> Held:
    happened = occurrences(record)
    return Held(record, on, happened, insertions(record, happened), how_it_ended(happened))


@dataclass(frozen=True, slots=True)
class Cycle:
    """Sessions of one female between two moults.

    Attributes:
        sessions: in order, at least one.
        start: the day from which time to the sac runs; start_said: in words what it is.
        laid: the day of the sac, None where none came or its day is not noted; has_sac: one came.
        sac_by: the first day on which anything is noted of the sac.
        developed: young developed in it (eggs with legs or later were noted).
        moulted: the day of the moult that ended the cycle before a sac; None where there was none (or it has no day).
        has_moulted: such a moult is noted, with or without a day.
    """

    sessions: tuple[Held, ...]
    start: date
    start_said: str
    laid: date | None
    sac_by: date | None
    has_sac: bool
    developed: bool
    moulted: date | None
    has_moulted: bool

    @property
    def confirmed(self) -> int:
        """Confirmed insertions of all its sessions."""
        return sum(s.insertions.confirmed for s in self.sessions)

    @property
    def probable(self) -> int:
        """Probable insertions of all its sessions."""
        return sum(s.insertions.probable for s in self.sessions)

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What came of it, as it was noted."""
        return tuple(o for s in self.sessions for o in s.outcomes)

    @property
    def settled(self) -> bool:
        """It is known whether a sac came: one did, or a moult ended the wait."""
        return self.has_sac or self.has_moulted


def cycles(sessions: Sequence[Held], life: Life) -> tuple[Cycle, ...]:
    """Put one female's sessions into cycles.

    Args:
        sessions: hers, in order of date.
        life: her moults.
    """
    groups: list[list[Held]] = []
    for session in sessions:
        if groups and not _parted(groups[-1], session, life):
            groups[-1].append(session)
        else:
            groups.append([session])
    return tuple(_cycle(tuple(group), life) for group in groups)


def _parted(group: Sequence[Held], session: Held, life: Life) -> bool:
    first = group[0].on
    ends = list(life.moults)
    ends += [d for s in group for o in s.outcomes if o.kind in SAC | {MOULTED} and (d := day(o.date)) is not None]
    return any(first <= d <= session.on for d in ends)


def _cycle(group: tuple[Held, ...], life: Life) -> Cycle:
    sure = [s for s in group if s.insertions.confirmed]
    start = (sure or list(group))[0].on
    outcomes = [o for s in group for o in s.outcomes]
    sacs = [o for o in outcomes if o.kind in SAC]
    laid = min((d for o in sacs if o.kind == "laid" and (d := day(o.date)) is not None), default=None)
    sac_by = min((d for o in sacs if (d := day(o.date)) is not None), default=None)
    moult_notes = [day(o.date) for o in outcomes if o.kind == MOULTED]
    moults = [d for d in (life.moult_from(start), *moult_notes) if d is not None and d >= start]
    moult = min(moults, default=None)
    moult_first = moult is not None and (not sacs or (sac_by is not None and moult < sac_by))
    has_moulted = moult_first or (bool(moult_notes) and not sacs)
    has_sac = bool(sacs) and not moult_first  # a sac after a moult cannot come from the sperm before it
    return Cycle(
        sessions=group,
        start=start,
        start_said=_said(len(group), bool(sure)),
        laid=laid if has_sac else None,
        sac_by=sac_by if has_sac else None,
        has_sac=has_sac,
        developed=has_sac and any(living(o) for o in outcomes),
        moulted=moult if moult_first else None,
        has_moulted=has_moulted,
    )


def _said(sessions: int, sure: bool) -> str:
    if sure:
        return "the pairing" if sessions == 1 else "the first pairing with a confirmed insertion"
    return "the pairing" if sessions == 1 else "the first pairing"


def living(outcome: Outcome) -> bool:
    """Whether young had developed by it; where none of them were counted (0), they had not."""
    counted = [number for stage, number in outcome.counts if stage in DEVELOPED]
    return any(counted) if counted else outcome.kind in DEVELOPED
