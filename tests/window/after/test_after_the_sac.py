"""The After page after a sac: stages, conditions, a second sac, ends of loans, and the keeper's own calls by kind."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QLabel

from clipmark.book.model import Animal, Loan, Outcome, Session, Sex
from clipmark.window.main_window import MainWindow


@pytest.fixture
def page(window: MainWindow):
    book = window.workspace.book
    her = book.add_animal(Animal(0, "Nimue", Sex.FEMALE, "Ceratogyrus darlingi"))
    him = book.add_animal(Animal(0, "Corin", Sex.MALE, "Ceratogyrus darlingi"))
    session = book.add_session(Session(0, "Nimue × Corin", her.id, him.id, "2026-03-01"))
    window.workspace.show_session(session.id)
    window.show_page("after")
    return window.pages["after"]


def told(card) -> str:
    QCoreApplication.processEvents()
    return "\n".join(part.text() for part in card.findChildren(QLabel) if part.isVisible())


def note(page, kind: str, day: str, sac: int = 1) -> None:
    page.workspace.edit(
        page.workspace.book.add_outcome, Outcome(0, page.workspace.record.session.id, kind, day, (), "", sac)
    )


def test_a_fixed_sac_warns_before_any_day_for_pulling(page) -> None:
    note(page, "laid", "2026-05-02")

    said = told(page.outlook)
    assert "fixed to its place" in said
    assert said.index("fixed to its place") < said.index("When to pull the sac")
    assert "[VS] (hobby), Ceratogyrus" in said


def test_stages_stand_with_their_days_and_where_no_source_is_the_keeper_is_asked(page) -> None:
    assert page.sacs.isHidden()
    note(page, "laid", "2026-05-02")
    note(page, "eggs with legs", "2026-05-28")

    said = told(page.sacs)
    assert "2026-05-28, day 26" in said
    assert "No source says when" in said
    assert "from memory, no source" in said
    assert "How it is kept is not noted" in said


def test_conditions_and_which_sac_are_kept_and_shown(page) -> None:
    page.kind.setCurrentIndex(page.kind.findData("laid"))
    page.sac.setValue(2)
    page.kept.setCurrentIndex(page.kept.findData("by hand"))
    page.warmth.setValue(26.5)
    page.damp.setValue(75)
    page.add_outcome()

    [outcome] = page.workspace.record.outcomes
    assert (2, 26.5, 75.0, "by hand") == (outcome.sac, outcome.temperature_c, outcome.humidity_pct, outcome.kept)
    assert "by hand, 26.5 °C, 75 % humidity" in told(page.sacs)
    assert "Sac 2" in told(page.sacs)
    page.workspace.undo()
    assert () == page.workspace.record.outcomes


def test_what_is_not_told_of_a_sac_is_not_kept_as_a_number(page) -> None:
    page.add_outcome()

    [outcome] = page.workspace.record.outcomes
    assert (1, None, None, "") == (outcome.sac, outcome.temperature_c, outcome.humidity_pct, outcome.kept)


def test_the_end_of_a_loan_stands_among_the_dates(page) -> None:
    book, him = page.workspace.book, page.workspace.record.male
    book.add_loan(Loan(0, him.id, "Bo", "Ada", "2020-01-01", "2020-03-01"))
    page.workspace.refresh()

    assert "The loan of Corin ended on 2020-03-01: back to Bo" in told(page)
    assert page.export.isEnabled()


def test_reasons_are_not_added_up(page) -> None:
    assert "Nothing is added up" in told(page.outlook)


def test_the_keepers_own_calls_and_his_rhythm_are_read_beside_the_window(page, qtbot) -> None:
    qtbot.waitUntil(lambda: page.habits.habits is not None, timeout=10_000)

    said = told(page.habits)
    assert "Which signs went with sacs in Ceratogyrus darlingi" in said
    assert "No settled cycle of this kind" in said
    assert "No drumming of his is marked" in said
