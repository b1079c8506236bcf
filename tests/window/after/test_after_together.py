"""The After page over many sessions, and the numbers of the outlook that a keeper may change."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import QCoreApplication, QDate, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtSvgWidgets import QSvgWidget
from PySide6.QtWidgets import QLabel

from clipmark.book.model import Animal, Outcome, Session, Sex
from clipmark.reading.advice.thresholds import names
from clipmark.settings import THRESHOLDS
from clipmark.window.main_window import MainWindow


def pairings(window: MainWindow, count: int) -> None:
    """Sessions of as many females, of which the first three laid a sac and the others moulted; the last on view."""
    book = window.workspace.book
    for number in range(count):
        her = book.add_animal(Animal(0, f"Female {number}", Sex.FEMALE, "Grammostola rosea"))
        session = book.add_session(Session(0, f"Pairing {number}", her.id, None, "2025-01-10"))
        kind = "laid" if number < 3 else "moulted"
        book.add_outcome(Outcome(0, session.id, kind, "2025-03-20"))
    window.workspace.show_session(session.id)


def texts(card) -> list[str]:
    QCoreApplication.processEvents()
    return [found.text() for found in card.findChildren(QLabel) if not found.isHidden()]


def read(window: MainWindow, qtbot):
    window.show_page("after")
    card = window.pages["after"].together
    qtbot.waitUntil(lambda: card.together is not None, timeout=10_000)
    return card


def test_below_five_cycles_only_counts_are_told(window, qtbot):
    pairings(window, 4)
    told = texts(read(window, qtbot))

    assert "Sessions with a date and a female: 4. Females: 4. Cycles between moults: 4." in told
    assert any("sac 3, moult without sac 1." in text for text in told)
    assert "⚠ With fewer than five cycles only counts are told." in told
    assert not any("%" in text for text in told)


def test_from_five_cycles_on_each_share_stands_with_its_number_and_warnings(window, qtbot):
    pairings(window, 6)
    told = texts(read(window, qtbot))

    assert any("6 cycles" in text for text in told)
    assert any(text.startswith("⚠ 3 cycles ended in a moult") for text in told)


def test_what_is_noted_on_the_page_comes_into_the_figures(window, qtbot):
    pairings(window, 4)
    card = read(window, qtbot)
    book = window.workspace.book
    (old,) = window.workspace.record.outcomes
    window.workspace.edit(book.remove_outcome, old.id)

    qtbot.waitUntil(lambda: any("waiting 1, sac 3." in text for text in texts(card)), timeout=10_000)


def test_entering_again_reads_nothing_anew_where_nothing_was_written(window, qtbot):
    pairings(window, 1)
    card = read(window, qtbot)
    before = card.together
    window.show_page("pair")
    window.show_page("after")
    qtbot.wait(50)

    assert [] == [task for task in window.workspace.tasks.tasks if task.title.startswith("Reading all")]
    assert before is card.together


@pytest.fixture
def card(window: MainWindow):
    pairings(window, 1)
    window.show_page("after")
    thresholds = window.pages["after"].thresholds
    thresholds.toggle()
    return thresholds


def test_every_number_has_words_a_field_and_its_source(card):
    assert set(names()) == set(card.fields)
    for name in names():
        assert name != card.fields[name].accessibleName()
        assert card.sources[name].text()
    assert "[MV741] (hobby)" == card.sources["moult_wait_days"].text()
    assert "the species' own" == card.fields["sac_first_days"].text()


def test_a_changed_number_is_kept_in_the_settings_and_changes_the_outlook(card, window):
    outlook = window.pages["after"].outlook
    window.workspace.edit(window.workspace.book.remove_outcome, window.workspace.record.outcomes[0].id)
    card.fields["sac_first_days"].setValue(60)
    card.fields["sac_last_days"].setValue(120)

    stored = json.loads(window.workspace.settings.path.read_text("utf-8"))
    assert {"sac_first_days": 60, "sac_last_days": 120} == stored["outlook.thresholds"]
    assert "your own" == card.sources["sac_first_days"].text()
    assert "13 numbers, 2 of them your own." == card.told.text()
    assert any("2025-03-11 to 2025-05-10" in text for text in texts(outlook))


def test_a_number_is_taken_back_alone_or_all_are(card, window):
    card.fields["cycle_months"].setValue(20)
    card.fields["usual_pairings"].setValue(3)
    card.resets["cycle_months"].click()
    assert 14 == card.fields["cycle_months"].value()
    assert {"usual_pairings": 3} == window.workspace.settings.get(THRESHOLDS)

    card.reset_all.click()
    assert {} == window.workspace.settings.get(THRESHOLDS)
    assert "[TZ] (hobby)" == card.sources["cycle_months"].text()
    assert card.reset_all.isHidden()


def test_the_default_typed_again_is_not_kept_as_the_keepers_own(card, window):
    card.fields["male_rest_days"].setValue(9)
    card.fields["male_rest_days"].setValue(7)

    assert {} == window.workspace.settings.get(THRESHOLDS)


def test_the_wheel_over_a_number_scrolls_the_page_and_changes_nothing(card, window):
    field = card.fields["cycle_months"]
    window.pages["after"].note.setFocus()
    at = QPointF(5, 5)
    turned = QWheelEvent(
        at, field.mapToGlobal(at), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QCoreApplication.sendEvent(field, turned)

    assert 14 == field.value()
    assert {} == window.workspace.settings.get(THRESHOLDS)


def test_the_day_of_asking_can_be_set_and_nothing_later_is_counted(window, qtbot):
    pairings(window, 6)
    card = read(window, qtbot)
    card.asked.setDate(QDate(2025, 2, 1))

    qtbot.waitUntil(lambda: "On 2025-02-01: waiting 6." in texts(card), timeout=10_000)


def test_from_five_cycles_on_the_comparisons_are_drawn_and_told_to_a_reader(window, qtbot):
    pairings(window, 6)
    card = read(window, qtbot)

    names = [one.accessibleName() for one in card.findChildren(QSvgWidget)]
    assert any(name.startswith("Waiting for the sac") for name in names)
    assert any(name.startswith("Sessions over her cycle") for name in names)


def test_the_page_asks_the_book_no_more_however_many_sessions_of_the_kind_there_are(window, qtbot):
    def questions(count: int) -> int:
        pairings(window, count)
        page, asked = window.pages["after"], []
        page.refresh()
        window.workspace.book._db.set_trace_callback(asked.append)
        page.outlook.show_record(window.workspace.record)
        window.workspace.book._db.set_trace_callback(None)
        return len(asked)

    window.show_page("after")
    assert questions(2) == questions(12)
