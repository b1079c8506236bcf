"""The After page: outcome, outlook, reminders."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QCoreApplication, QDate
from PySide6.QtWidgets import QCheckBox, QLabel, QPushButton

from clipmark.book.model import Animal, LifeEvent, Session, Sex
from clipmark.window.main_window import MainWindow


@pytest.fixture
def page(window: MainWindow):
    book = window.workspace.book
    her = book.add_animal(Animal(0, "Mora", Sex.FEMALE, "Grammostola rosea"))
    book.add_life_event(LifeEvent(0, her.id, "moult", "2026-01-02"))
    week_ago = QDate.currentDate().addDays(-7).toString("yyyy-MM-dd")
    session = book.add_session(Session(0, "First try", her.id, None, week_ago))
    window.workspace.show_session(session.id)
    window.show_page("after")
    return window.pages["after"]


def shown(widget, kind) -> list:
    """Children of a kind that are on view, once the layout has settled."""
    QCoreApplication.processEvents()
    return [found for found in widget.findChildren(kind) if found.isVisible()]


def texts(widget) -> list[str]:
    return [found.text() for found in shown(widget, QLabel)]


def test_a_sac_with_its_counts_is_kept(page) -> None:
    page.kind.setCurrentIndex(page.kind.findData("eggs with legs"))
    page.counts["good eggs"].setValue(214)
    page.counts["dead"].setValue(3)
    page.note.setText("pulled in the evening")
    page.add_outcome()

    outcome = page.workspace.record.outcomes[0]
    assert "eggs with legs" == outcome.kind
    assert (("good eggs", 214), ("dead", 3)) == outcome.counts
    assert any("214 good eggs" in text and "pulled in the evening" in text for text in texts(page))


def test_what_was_not_counted_is_not_kept_as_none(page) -> None:
    page.add_outcome()

    assert () == page.workspace.record.outcomes[0].counts


def test_the_first_window_for_a_sac_is_four_to_ten_weeks_after_the_pairing(page) -> None:
    paired = QDate.fromString(page.workspace.record.session.date, "yyyy-MM-dd")
    first, last = (paired.addDays(7 * weeks).toString("yyyy-MM-dd") for weeks in (4, 10))  # TRADE 4.7, [SA]

    assert any(f"{first} to {last}" in text for text in texts(page.outlook))
    assert any("[SA]" in text for text in texts(page.outlook))


def test_a_date_of_the_outlook_becomes_a_reminder_once(page, qtbot) -> None:
    take = shown(page.outlook, QPushButton)[0]
    take.click()
    take = shown(page.outlook, QPushButton)[0]
    with qtbot.waitSignal(page.workspace.message) as told:
        take.click()

    assert 1 == len(page.workspace.record.reminders)
    assert "there already" in told.args[0]


def test_a_reminder_that_is_ticked_is_done(page) -> None:
    page.add_reminder("2026-12-01", "look for a sac")
    tick = next(t for t in shown(page, QCheckBox) if "look for a sac" in t.text())

    tick.click()

    assert page.workspace.record.reminders[0].done


def test_open_reminders_go_into_a_calendar_file(page, tmp_path) -> None:
    import icalendar

    page.add_reminder("2026-12-01", "look for a sac")
    page.write_calendar(tmp_path / "dates.ics")

    events = list(icalendar.Calendar.from_ical((tmp_path / "dates.ics").read_bytes()).walk("VEVENT"))
    days = {event.decoded("dtstart").isoformat(): str(event["summary"]) for event in events}
    assert {page.workspace.record.session.date, "2026-12-01"} == set(days)  # the pairing itself, and the reminder
    assert "look for a sac" in days["2026-12-01"]


def test_an_empty_reminder_is_asked_for_in_words(page, qtbot) -> None:
    with qtbot.waitSignal(page.workspace.message) as told:
        page.add.click()

    assert "Write what you want to be reminded of" in told.args[0]


def test_no_text_on_the_page_promises_anything_about_the_eggs(page) -> None:
    page.add_outcome()

    assert not any("fertilised" in text or "fertilized" in text for text in texts(page))
