"""Two reviewers of one session side by side: each one's insertions, and how far they agree. No figure mixes them."""

from __future__ import annotations

from itertools import combinations

from clipmark.book.meaning.calls import people
from clipmark.book.model import SessionRecord
from clipmark.reading.figure import plural
from clipmark.reading.numbers.kappa import Kappa
from clipmark.reading.session.agreement import compare
from clipmark.reading.session.measures import read
from clipmark.report.text import one_line


def side_by_side(record: SessionRecord, first: str) -> tuple[tuple[str, str], ...]:
    """(name, insertions) of each reviewer, `first` first, then (both names, agreement) of each pair; empty where
    fewer than two people marked or called."""
    names = sorted(people(record), key=lambda name: (name != first, name))
    if len(names) < 2:
        return ()
    told = [(one_line(name, 80), read(record, name).insertions.sentence) for name in names]
    for a, b in combinations(names, 2):
        told.append((f"{one_line(a, 60)} and {one_line(b, 60)}", _agreement(record, a, b)))
    return tuple(told)


def _agreement(record: SessionRecord, a: str, b: str) -> str:
    found = compare(record, a, b)
    said = []
    if found.both_called:
        calls = f"both called {plural(found.both_called, 'pull')} and agree on {found.same_call}"
        said.append(f"{calls} ({_kappa(found.calls, 'weighted kappa')})")
    paired, alone = sum(x.matched for x in found.acts), sum(x.only_a + x.only_b for x in found.acts)
    if paired or alone:
        said.append(f"{paired} acts are marked by both, {alone} by one of them ({_kappa(found.events, 'kappa')})")
    return "; ".join(said) or "nothing that both have looked at"


def _kappa(value: Kappa | None, name: str) -> str:
    if value is None or value.value is None:
        return f"no {name}"
    if value.low is None or value.high is None:
        return f"{name} {value.value:.2f}"
    return f"{name} {value.value:.2f}, {value.low:.2f} to {value.high:.2f}"
