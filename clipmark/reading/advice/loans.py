"""Breeding loans that end: what a keeper is reminded of, worked out from the loans themselves, so never stale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import Animal, Loan
from clipmark.reading.cycles.life_dates import day


@dataclass(frozen=True, slots=True)
class LoanEnd:
    """The last day of a loan whose animal is still out. `overdue`: that day has passed."""

    loan: Loan
    animal: str
    on: date
    overdue: bool
    text: str


def loan_ends(loans: Iterable[Loan], animals: Sequence[Animal], today: date) -> tuple[LoanEnd, ...]:
    """Every loan with a last day whose animal was not given back, by that day."""
    names = {a.id: a.name for a in animals}
    found = []
    for loan in loans:
        on = day(loan.end)
        if on is None or loan.returned:
            continue
        name, to = names.get(loan.animal_id, "an animal"), loan.owner or "its owner"
        late = on < today
        text = f"The loan of {name} ends: back to {to}."
        if late:
            text = f"The loan of {name} ended on {on}: back to {to}, or note that it was given back."
        found.append(LoanEnd(loan, name, on, late, text))
    return tuple(sorted(found, key=lambda end: (end.on, end.loan.id)))


def terms(loan: Loan, name: str) -> str:
    """A loan in one line: `Tarn, of Bo, lent to Ada from 2026-02-20 to 2026-05-01; half of the young`."""
    said = f"{name}, of {loan.owner or 'its owner'}, lent to {loan.borrower or 'the keeper'}"
    said += f" from {loan.start}" if loan.start else ""
    said += f" to {loan.end}" if loan.end else ""
    parts = [said]
    parts += [f"share of the young: {loan.share}"] if loan.share.strip() else []
    parts += [f"terms: {loan.terms}"] if loan.terms.strip() else []
    parts += [f"given back {loan.returned}"] if loan.returned else []
    return "; ".join(parts)
