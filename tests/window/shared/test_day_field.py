"""A day is typed, taken from a calendar, or left out."""

from datetime import date

import pytest
from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from clipmark.window.shared.day_field import DayField


@pytest.fixture
def field(qtbot) -> DayField:
    """The field between two others, shown."""
    outer = QWidget()
    line = QHBoxLayout(outer)
    made = DayField("Date", empty="date not noted")
    for part in (QLineEdit(), made, QLineEdit()):
        line.addWidget(part)
    qtbot.addWidget(outer)
    outer.show()
    made.outer = outer
    return made


def typed(field: DayField, qtbot, text: str) -> None:
    field.edit.setFocus()
    field.edit.selectAll()
    qtbot.keyClicks(field.edit, text)
    qtbot.keyClick(field.edit, Qt.Key.Key_Tab)


def test_a_typed_day_is_taken_and_shown_by_the_standard(field, qtbot):
    with qtbot.waitSignal(field.dayChanged):
        typed(field, qtbot, "27.3.2026")

    assert date(2026, 3, 27) == field.day
    assert "2026-03-27" == field.edit.text()


def test_what_is_no_day_is_said_and_tab_goes_on(field, qtbot):
    with qtbot.waitSignal(field.refused) as said:
        typed(field, qtbot, "date not noted20261120")

    assert "is no day" in said.args[0]
    assert not field.edit.hasFocus()
    assert None is field.day


def test_the_calendar_of_an_empty_field_opens_today(field):
    field.show_calendar()
    assert QDate.currentDate() == field.calendar.selectedDate()
    field.calendar.clicked.emit(QDate(2026, 3, 27))

    assert "2026-03-27" == field.iso


def test_a_day_can_be_taken_off_again(field, qtbot):
    field.enter(date(2026, 3, 27))
    field.edit.setFocus()
    field.edit.clear()
    qtbot.keyClick(field.edit, Qt.Key.Key_Tab)

    assert None is field.day
