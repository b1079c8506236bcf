"""Proof of pairing: one printed page for the owner of a borrowed animal. Who was put to whom, when, on what terms,
what the film shows and what it cannot show, the film's fingerprint, and lines to sign."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.atomic_files import atomic_file
from clipmark.book.model import Animal, Decision, Loan, SessionRecord
from clipmark.progress import SILENT, Progress
from clipmark.reading.kinds import notices
from clipmark.reading.kinds.notices import Notice
from clipmark.report.sheets.content import Card, Sheet
from clipmark.report.sheets.sheet import filled, sheet_of
from clipmark.report.sheets.story import day
from clipmark.report.text import isolated, legible, one_line

if TYPE_CHECKING:
    from clipmark.book.store import Book

BEST = (Decision.CONFIRMED.value, Decision.PROBABLE.value, Decision.ATTEMPT.value)
MOST_STILLS = 3


@dataclass(frozen=True, slots=True)
class Proof:
    """What stands on the page beside what the sheet says.

    Attributes:
        animals: (role, what is known of the animal) each.
        loans: a sentence for each loan that was running on the day.
        shown: the best-called pulls, strongest first, whose full pull is shown.
        prints: (film's name, its fingerprint) each.
    """

    sheet: Sheet
    day: str
    animals: tuple[tuple[str, str], ...]
    loans: tuple[str, ...]
    shown: tuple[Card, ...]
    prints: tuple[tuple[str, str], ...]
    notices: tuple[Notice, ...]


def proof(record: SessionRecord, loans: tuple[Loan, ...], sheet: Sheet) -> Proof:
    """Put the page together from a session, the loans of its animals, and its sheet."""
    names = {a.id: one_line(a.name, 80) for a in (record.female, record.male) if a is not None}
    running = [loan for loan in loans if _running(loan, record.session.date)]
    called = sorted((c for c in sheet.cards if c.shape in BEST), key=lambda c: BEST.index(c.shape))
    return Proof(
        sheet=sheet,
        day=day(record.session.date) or "a day that is not noted",
        animals=tuple(
            (role, _known(animal)) for role, animal in (("Female", record.female), ("Male", record.male)) if animal
        ),
        loans=tuple(_loan(loan, names.get(loan.animal_id, "the animal")) for loan in running),
        shown=tuple(called[:MOST_STILLS]),
        prints=tuple((film.name, clip.fingerprint) for film, clip in zip(sheet.films, record.clips, strict=True)),
        notices=(notices.SEEN_ONLY, notices.STANDING),
    )


def _running(loan: Loan, on: str) -> bool:
    """Whether the loan holds on a day (ISO dates sort as text); one without dates, or a day not noted, counts."""
    return not on or ((not loan.start or loan.start <= on) and (not loan.end or on <= loan.end))


def _known(animal: Animal) -> str:
    parts = [isolated(one_line(animal.name, 80)) or "without a name", one_line(animal.species, 80)]
    parts += [f"born {one_line(animal.born, 40)}" if animal.born.strip() else "", one_line(animal.origin, 120)]
    parts.append(f"owner: {isolated(one_line(animal.owner, 80))}" if animal.owner.strip() else "")
    return ", ".join(part for part in parts if part)


def _loan(loan: Loan, name: str) -> str:
    owner, borrower = one_line(loan.owner, 80) or "its owner", one_line(loan.borrower, 80) or "the keeper"
    since = f" since {day(loan.start)}" if loan.start else ""
    until = f" until {day(loan.end)}" if loan.end else ""
    said = f"{isolated(name)} belongs to {isolated(owner)} and is lent to {isolated(borrower)}{since}{until}."
    if loan.terms.strip():
        said += f" Terms: {legible(loan.terms).strip().rstrip('.')}."
    if loan.share.strip():
        said += f" Share of the young: {legible(loan.share).strip().rstrip('.')}."
    return said


def write_proof(book: Book, session_id: int, out: Path, progress: Progress = SILENT) -> Path:
    """Write the proof of one pairing as HTML, whole or not at all; errors as `write_sheet`."""
    record = book.session(session_id)
    loans = tuple(loan for a in (record.female, record.male) if a is not None for loan in book.loans(a.id))
    page = filled("proof.html.jinja", proof=proof(record, loans, sheet_of(book, record, progress)))
    with atomic_file(Path(out), newline="\n") as file:
        file.write(page)
    return Path(out)
