"""The Pair page before the animals meet: what is known of the kind, cautions, loans, his other pairings, removing."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QLabel, QPushButton, QToolButton

from clipmark.book.model import Animal, LifeEvent, Loan, Session, Sex
from clipmark.window.main_window import MainWindow


@pytest.fixture
def page(window: MainWindow):
    window.show_page("pair")
    return window.pages["pair"]


def pair_of(page, species: str) -> int:
    book = page.workspace.book
    her = book.add_animal(Animal(0, "Nimue", Sex.FEMALE, species))
    him = book.add_animal(Animal(0, "Corin", Sex.MALE, species, owner="Bo"))
    session = book.add_session(Session(0, "Nimue × Corin", her.id, him.id, "2026-03-01", reviewer="Ada"))
    page.workspace.show_session(session.id)
    page.workspace.recordChanged.connect(page.refresh)  # as when the page is looked at
    page.refresh()
    return session.id


def told(card) -> str:
    """What stands on a card, when it is laid out."""
    QCoreApplication.processEvents()
    return "\n".join(part.text() for part in card.findChildren(QLabel) if not part.isHidden())


def press(card, name: str) -> None:
    QCoreApplication.processEvents()
    found = [b for kind in (QPushButton, QToolButton) for b in card.findChildren(kind) if b.accessibleName() == name]
    [wanted] = [b for b in found if not b.isHidden()]
    wanted.click()


def test_a_kind_is_seen_at_a_glance_with_its_sources(page) -> None:
    pair_of(page, "Caribena versicolor")
    said = told(page.kind)

    assert "What is known of Caribena versicolor" in said
    for title in ("Known", "Watch for", "Do not conclude"):
        assert title in said
    assert "Males have no hooks" in said
    assert "[MEM] (hobby), Caribena versicolor" in said
    assert "no pull is no evidence against an insertion" in said
    assert said.index("Males have no hooks") < said.index("Separate them")


def test_everything_that_is_known_unfolds(page) -> None:
    pair_of(page, "Brachypelma smithi")
    assert page.kind.whole.isHidden()
    page.kind.toggle()

    said = told(page.kind.whole)
    assert "From laying to eggs with legs: 20 days (about)" in said
    assert "From the pairing to the sac: 4 to 10 weeks" in said


def test_a_note_of_ones_own_goes_first_and_undo_takes_it_back(page) -> None:
    pair_of(page, "Brachypelma hamorii")
    form = page.kind.form
    form.what.setCurrentIndex(form.what.findData("pairing_to_sac"))
    form.low.setValue(70)
    form.high.setValue(90)
    form.note_it()

    [note] = page.workspace.book.species_notes()
    assert ("Brachypelma hamorii", 70, 90, "days") == (note.species, note.low, note.high, note.unit)
    assert "From the pairing to the sac: 70 to 90 days" in told(page.kind)
    page.workspace.undo()
    assert () == page.workspace.book.species_notes()
    assert "70 to 90 days" not in told(page.kind)


def test_an_empty_note_is_answered_in_a_sentence(page, qtbot) -> None:
    pair_of(page, "Brachypelma hamorii")
    with qtbot.waitSignal(page.workspace.message) as said:
        page.kind.form.note_it()

    assert "needs a range or words" in said.args[0]


def test_law_vet_cannibalism_few_cases_and_stop_rule_stand_before_the_pairing(page) -> None:
    pair_of(page, "Grammostola rosea")

    assert {"law", "veterinarian", "cannibalism", "few-cases", "separate"} <= set(page.cautions.titles)
    assert page.cautions.texts["law"].isHidden()
    page.cautions.titles["law"].click()
    assert not page.cautions.texts["law"].isHidden()
    assert "checklist.cites.org" in page.cautions.texts["law"].text()


def test_a_web_older_than_his_last_pairing_with_anybody_does_not_speak_for_him(page) -> None:
    pair_of(page, "Grammostola rosea")
    book, him = page.workspace.book, page.him.animal
    other = book.add_animal(Animal(0, "Vesper", Sex.FEMALE, "Grammostola rosea"))
    book.add_life_event(LifeEvent(0, him.id, "sperm web", "2026-02-10"))
    page.workspace.refresh()
    assert "✓  Sperm web noted" in told(page.hints)

    book.add_session(Session(0, "before", other.id, him.id, "2026-02-20"))
    page.workspace.refresh()
    assert "older than his last pairing (2026-02-20)" in told(page.hints)
    assert "He was last paired 9 days ago, on 2026-02-20 (with Vesper)." in told(page.hints)


def test_a_loan_is_noted_given_back_and_taken_out(page) -> None:
    pair_of(page, "Grammostola rosea")
    part, book = page.him.loans, page.workspace.book
    part.unfold()
    assert "Bo" == part.owner.text()
    part.borrower.setText("Ada")
    part.share.setText("half of the young")
    part.end.setDate(part.end.date().fromString("2026-05-01", "yyyy-MM-dd"))
    part.start.setDate(part.start.date().fromString("2026-02-01", "yyyy-MM-dd"))
    part.add()

    [loan] = book.loans()
    assert ("Bo", "Ada", "2026-02-01", "2026-05-01", "half of the young") == (
        loan.owner, loan.borrower, loan.start, loan.end, loan.share,
    )  # fmt: skip
    words = "Corin, of Bo, lent to Ada from 2026-02-01 to 2026-05-01; share of the young: half of the young"
    assert words in told(part)
    press(part, f"Given back: {words}")
    assert book.loans()[0].returned
    page.workspace.undo()
    assert not book.loans()[0].returned
    press(part, f"Take out: {words}")
    assert () == book.loans()
    page.workspace.undo()
    assert (loan,) == book.loans()


def test_a_loan_that_cannot_be_is_answered_in_a_sentence(page, qtbot) -> None:
    pair_of(page, "Grammostola rosea")
    part = page.him.loans
    part.start.setDate(part.start.date().fromString("2026-05-01", "yyyy-MM-dd"))
    part.end.setDate(part.end.date().fromString("2026-02-01", "yyyy-MM-dd"))
    with qtbot.waitSignal(page.workspace.message) as said:
        part.add()

    assert "cannot end" in said.args[0]
    assert () == page.workspace.book.loans()


def test_a_session_is_taken_out_and_undo_brings_it_back(page) -> None:
    number = pair_of(page, "Grammostola rosea")
    page.remove_session()

    assert page.workspace.record is None
    assert () == page.workspace.book.sessions()
    page.workspace.undo()
    assert [number] == [one.id for one in page.workspace.book.sessions()]


def test_an_animal_is_taken_out_of_session_and_book_in_one_step(page) -> None:
    pair_of(page, "Grammostola rosea")
    press(page.him, "He: remove")

    assert page.workspace.record.male is None
    assert ["Nimue"] == [a.name for a in page.workspace.book.animals()]
    page.workspace.undo()
    assert "Corin" == page.workspace.record.male.name


def test_an_animal_of_another_session_stays(page, qtbot) -> None:
    pair_of(page, "Grammostola rosea")
    page.workspace.book.add_session(Session(0, "again", page.her.animal.id, None, "2026-04-01"))
    with qtbot.waitSignal(page.workspace.message) as said:
        press(page.her, "She: remove")

    assert "in 1 more sessions and stays" in said.args[0]
    assert page.workspace.record.female is not None


def test_what_was_lent_is_kept_with_its_terms_for_the_proof_page(page) -> None:
    from clipmark.reading.advice.loans import terms

    assert "given back 2026-05-01" in terms(Loan(1, 1, "Bo", "Ada", "2026-02-01", returned="2026-05-01"), "Corin")
