"""A male's own rhythm (common practice, no source): his bouts of drumming over his sessions, beside other males.

A bout is a drumming that somebody marked on film. Rate and regularity come from what was heard or seen during the
mark, where the film was listened to or passed; without film they stay unknown. Medians over bouts, with the number of
bouts beside each.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import pairwise

from clipmark.book.model import Actor, SessionRecord
from clipmark.reading import roles
from clipmark.reading.cycles.life_dates import day
from clipmark.reading.figure import DASH, plural
from clipmark.reading.session.occurrences import occurrences

FEWEST_TREND = 6  # bouts of one session below which no change of tempo is told (proposal)


@dataclass(frozen=True, slots=True)
class Beat:
    """A rhythm that was found in sound or picture, seconds on the session clock; `source` is "heard" or "seen"."""

    start: float
    end: float
    rate_hz: float
    regularity: float
    source: str


@dataclass(frozen=True, slots=True)
class Bout:
    """One drumming of his. `rate_hz` and `regularity` (vector strength where it was heard, else the share of movement
    that the rate explains) are None where nothing was heard or seen in it."""

    session_id: int
    start: float
    length: float | None
    rate_hz: float | None
    regularity: float | None
    source: str


@dataclass(frozen=True, slots=True)
class SessionRhythm:
    """His bouts in one session.

    Attributes:
        per_minute: None below two bouts; between the first and the last.
        trend: how the tempo changed within the session, in words.
    """

    session_id: int
    on: date | None
    title: str
    bouts: tuple[Bout, ...]
    per_minute: float | None
    trend: str


@dataclass(frozen=True)
class MaleRhythm:
    """One male over his sessions; medians over his bouts with the number that they rest on, each worked out once."""

    animal_id: int
    name: str
    species: str
    sessions: tuple[SessionRhythm, ...]

    @cached_property
    def bouts(self) -> tuple[Bout, ...]:
        """His bouts in all his sessions."""
        return tuple(b for s in self.sessions for b in s.bouts)

    @cached_property
    def length(self) -> tuple[float | None, int]:
        """Median length of a bout in seconds, and of how many."""
        return _median(b.length for b in self.bouts)

    @cached_property
    def rate(self) -> tuple[float | None, int]:
        """Median rate in Hz, and of how many bouts."""
        return _median(b.rate_hz for b in self.bouts)

    @cached_property
    def vector_strength(self) -> tuple[float | None, int]:
        """Median vector strength (0 to 1) of the bouts that were heard, and of how many."""
        return _median(b.regularity for b in self.bouts if b.source == "heard")

    @cached_property
    def regularity(self) -> tuple[float | None, int]:
        """Median share of the movement that the rate explains (0 to 1), of the bouts that were seen, and how many."""
        return _median(b.regularity for b in self.bouts if b.source == "seen")

    @cached_property
    def text(self) -> str:
        """`12 bouts in 3 sessions; median length 4.2 s (12); 5.6 strikes a second (7), vector strength 0.91 (7)`."""
        if not self.bouts:
            return "no drumming of his is marked"
        parts = [
            f"{plural(len(self.bouts), 'bout')} in {plural(sum(bool(s.bouts) for s in self.sessions), 'session')}"
        ]
        parts.append(f"median length {_with_n(self.length, '.1f', ' s')}")
        rate, n = self.rate
        if rate is None:
            return "; ".join([*parts, "rate not known: no film of it was listened to"])
        firm = (("vector strength", self.vector_strength), ("regularity in the picture", self.regularity))
        even = "".join(f", {word} {_with_n(found, '.2f', '')}" for word, found in firm if found[1])
        return "; ".join([*parts, f"{rate:.1f} strikes a second ({n}){even}"])


def male_rhythms(
    records: Sequence[SessionRecord], beats: Mapping[int, Sequence[Beat]] | None = None
) -> tuple[MaleRhythm, ...]:
    """Every male of the records with his bouts, by name.

    Args:
        beats: what was heard and seen, by session.
    """
    males: dict[int, list[SessionRecord]] = {}
    for record in records:
        if record.male is not None:
            males.setdefault(record.male.id, []).append(record)
    read = []
    for animal_id, own in males.items():
        own = sorted(own, key=lambda r: (r.session.date, r.session.id))
        male = own[0].male
        assert male is not None
        sessions = tuple(_session(record, (beats or {}).get(record.session.id, ())) for record in own)
        read.append(MaleRhythm(animal_id, male.name, male.species, sessions))
    return tuple(sorted(read, key=lambda m: (m.name.casefold(), m.animal_id)))


def beside(him: MaleRhythm, others: Sequence[MaleRhythm]) -> str:
    """How he stands beside other males of his species, counts told, no verdict."""
    wanted = " ".join(him.species.split()).casefold()
    kin = [m for m in others if m.animal_id != him.animal_id and wanted and m.bouts
           and " ".join(m.species.split()).casefold() == wanted]  # fmt: skip
    if not wanted or not kin:
        return "No other male of his species has drumming marked in this book."
    mine, theirs = him.length[0], [m.length[0] for m in kin if m.length[0] is not None]
    said = f"Beside {plural(len(kin), 'other male')} of his species ({sum(len(m.bouts) for m in kin)} bouts)"
    parts = []
    if mine is not None and theirs:
        parts.append(f"bouts of {mine:.1f} s against {_range(theirs, '.1f')} s")
    rates = [m.rate[0] for m in kin if m.rate[0] is not None]
    if him.rate[0] is not None and rates:
        parts.append(f"{him.rate[0]:.1f} strikes a second against {_range(rates, '.1f')}")
    if not parts:
        return f"{said}: nothing to compare yet."
    few = " Few males: this says little." if len(kin) < 5 else ""
    return f"{said}: {'; '.join(parts)}.{few}"


def _session(record: SessionRecord, beats: Sequence[Beat]) -> SessionRhythm:
    his = [o for o in occurrences(record) if o.act in roles.DRUMMING and o.actor is Actor.HIM]
    bouts = []
    for o in his:
        start, end = float(o.start), float(o.span.end)
        beat = _beat(start, end, beats)
        bouts.append(
            Bout(
                record.session.id,
                start,
                None if o.open or not o.lasting else float(o.duration),
                beat.rate_hz if beat else None,
                beat.regularity if beat else None,
                beat.source if beat else "",
            )
        )
    span = bouts[-1].start - bouts[0].start if len(bouts) > 1 else 0.0
    return SessionRhythm(
        record.session.id,
        day(record.session.date),
        record.session.title,
        tuple(bouts),
        60 * (len(bouts) - 1) / span if span > 0 else None,
        _trend(bouts),
    )


def _beat(start: float, end: float, beats: Sequence[Beat]) -> Beat | None:
    """The rhythm that fills most of a bout, and at least a third of it or of itself; heard before seen."""
    shared = [(min(end, b.end) - max(start, b.start), b) for b in beats]
    fits = [(b.source == "heard", s, b) for s, b in shared if s > 0 and 3 * s >= min(end - start, b.end - b.start)]
    return max(fits, key=lambda fit: fit[:2])[2] if fits else None


def _trend(bouts: Sequence[Bout]) -> str:
    """Whether his tempo changed within the session, by the rate where it is known, else by the pauses."""
    rates = [(b.start, b.rate_hz) for b in bouts if b.rate_hz is not None]
    if len(rates) >= FEWEST_TREND:
        return _halves([r for _, r in rates], "strikes a second", "faster", "slower")
    pauses = [b.start - a.start for a, b in pairwise(bouts)]
    if len(pauses) >= FEWEST_TREND:
        return _halves(pauses, "s from bout to bout", "rarer", "closer together")
    return f"no change told: {plural(len(bouts), 'bout')}, too few"


def _halves(values: Sequence[float], unit: str, more: str, less: str) -> str:
    """First half against second half, with Kendall's tau over the order and its p-value (scipy)."""
    from scipy.stats import kendalltau

    half = len(values) // 2
    first, second = statistics.median(values[:half]), statistics.median(values[-half:])
    found = kendalltau(range(len(values)), values)
    way = more if second > first else less
    sure = f"tau {found.statistic:+.2f}, p = {max(float(found.pvalue), 0.001):.3f}, {len(values)} values"
    if not found.pvalue <= 0.05:
        way = "no clear change"
    return f"{first:.1f}, then {second:.1f} {unit}: {way} ({sure})"


def _median(values: Iterable[float | None]) -> tuple[float | None, int]:
    known = [v for v in values if v is not None]
    return (statistics.median(known) if known else None, len(known))


def _with_n(found: tuple[float | None, int], form: str, unit: str) -> str:
    value, n = found
    return DASH if value is None else f"{value:{form}}{unit} ({n})"


def _range(values: Sequence[float], form: str) -> str:
    low, high = min(values), max(values)
    return f"{low:{form}}" if low == high else f"{low:{form}} to {high:{form}}"
