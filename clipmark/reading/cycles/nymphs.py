"""Nymphs of the eggs, sac by sac: eggs of one sac share their fate, so the sac is the unit and none are pooled."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from clipmark.book.model import Outcome
from clipmark.reading.cycles.cases import Case
from clipmark.reading.figure import plural
from clipmark.reading.numbers.proportions import FEWEST

GOOD, EGGS = "good eggs", "eggs"


@dataclass(frozen=True, slots=True)
class SacCount:
    """One sac for which eggs and nymphs were counted; `of` is "good eggs" or "eggs"."""

    female_id: int
    session_id: int
    sac: int
    of: str
    eggs: int
    nymphs: int

    @property
    def share(self) -> float:
        """Nymphs by eggs."""
        return self.nymphs / self.eggs


@dataclass(frozen=True, slots=True)
class Nymphs:
    """All sacs for which both were counted. Good eggs (sorted out from bad ones) and eggs as they were laid are told
    apart: a share of the one is no share of the other."""

    sacs: tuple[SacCount, ...]

    def of(self, what: str) -> tuple[SacCount, ...]:
        """The counts of one stage."""
        return tuple(s for s in self.sacs if s.of == what)

    def text(self, what: str) -> str:
        """`10 of 500; 480 of 500` below five sacs, `median 61 % of 7 sacs of 6 females (2 to 96 %)` from five on; the
        median is over females, each with the median of her sacs."""
        found = self.of(what)
        if len(found) < FEWEST:
            return "; ".join(f"{s.nymphs} of {s.eggs}" for s in found)
        shares = [100 * s.share for s in found]
        females = {s.female_id for s in found}
        rests_on = f"{plural(len(found), 'sac')} of {plural(len(females), 'female')}"
        return f"median {100 * self.median(what):.0f} % of {rests_on} ({min(shares):.0f} to {max(shares):.0f} %)"

    def median(self, what: str) -> float:
        """Median over females of the median share of their sacs, 0 to 1.

        Raises:
            ValueError: there is no such sac.
        """
        hers: dict[int, list[float]] = {}
        for s in self.of(what):
            hers.setdefault(s.female_id, []).append(s.share)
        if not hers:
            raise ValueError(f"no sac with {what} counted")
        return statistics.median(statistics.median(shares) for shares in hers.values())

    @property
    def told(self) -> list[str]:
        """A sentence for each kind of count that there is."""
        return [f"Nymphs of {what}: {self.text(what)}." for what in (GOOD, EGGS) if self.of(what)]


def nymphs_of(cases: Sequence[Case], notes: list[str]) -> Nymphs:
    """The sacs of all cases; those whose counts contradict each other are left out and told in `notes`."""
    found, wrong = [], 0
    for case in cases:
        for session in case.cycle.sessions:
            for sac, outcomes in _by_sac(session.outcomes).items():
                counts = _most(outcomes)
                what = GOOD if counts[GOOD] else EGGS
                if not counts[what] or not (counts["nymphs"] or any(o.kind == "nymphs" for o in outcomes)):
                    continue
                if counts["nymphs"] > counts[what]:
                    wrong += 1
                    continue
                one = SacCount(case.female_id, session.record.session.id, sac, what, counts[what], counts["nymphs"])
                found.append(one)
    if wrong:
        notes.append(f"{plural(wrong, 'sac')} with more nymphs than eggs: the counts contradict, so it is left out.")
    return Nymphs(tuple(found))


def _by_sac(outcomes: Iterable[Outcome]) -> dict[int, list[Outcome]]:
    by: dict[int, list[Outcome]] = {}
    for outcome in outcomes:
        by.setdefault(outcome.sac, []).append(outcome)
    return by


def _most(outcomes: Iterable[Outcome]) -> Counter[str]:
    counts = Counter[str]()
    for outcome in outcomes:
        for stage, number in outcome.counts:
            counts[stage] = max(counts[stage], number)
    return counts
