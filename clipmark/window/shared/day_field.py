"""A day that is typed or taken from a calendar. It may be empty, and Tab always leaves it."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import QDate, QLocale, Signal
from PySide6.QtWidgets import QCalendarWidget, QHBoxLayout, QLineEdit, QMenu, QToolButton, QWidget, QWidgetAction

from clipmark.review.days import DayUnreadable, order_of, parse_day
from clipmark.window.shared.parts import set_role


class DayField(QWidget):
    """Shown by the international standard (2026-03-27); typed so, or in the order of the system.

    Signals:
        dayChanged(): another day was entered, or none any more.
        refused(str): what was typed is no day; the sentence says how to type one. The day before is kept.
    """

    dayChanged = Signal()
    refused = Signal(str)

    def __init__(self, name: str, day: date | None = None, empty: str = ""):
        super().__init__()
        self._day = day
        self.edit = QLineEdit()
        self.edit.setAccessibleName(name)
        self.edit.setPlaceholderText(empty or self.tr("such as {0}").format("2026-03-27"))
        self.edit.setMinimumWidth(self.edit.fontMetrics().horizontalAdvance("0000-00-00") + 28)
        self.edit.editingFinished.connect(self._typed)
        self.open = QToolButton()
        self.open.setText("▾")
        self.open.setAccessibleName(self.tr("{0}: calendar").format(name))
        self.open.setToolTip(self.tr("Choose from a calendar"))
        self.open.clicked.connect(self.show_calendar)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2)
        line.addWidget(self.edit, 1)
        line.addWidget(self.open)
        self.setFocusProxy(self.edit)
        self._show()

    @property
    def day(self) -> date | None:
        """The day that is entered; None: none."""
        return self._day

    def set_day(self, day: date | None) -> None:
        """Show a day; what is being typed is left alone where it is the same day."""
        if day != self._day or not self.edit.hasFocus():
            self._day = day
            self._show()

    @property
    def iso(self) -> str:
        """The day as 2026-03-27; empty for none."""
        return self._day.isoformat() if self._day is not None else ""

    def enter(self, day: date | None) -> None:
        """Enter a day, as a keeper would."""
        changed, self._day = day != self._day, day
        self._show()
        if changed:
            self.dayChanged.emit()

    def show_calendar(self) -> None:
        """A calendar under the field, at the day entered or today."""
        menu = QMenu(self)
        calendar = QCalendarWidget(menu)
        today = QDate.currentDate()
        shown = self._day
        calendar.setSelectedDate(QDate(shown.year, shown.month, shown.day) if shown is not None else today)

        def choose(day: QDate) -> None:
            self.enter(date(day.year(), day.month(), day.day()))
            menu.close()

        for chosen in (calendar.clicked, calendar.activated):
            chosen.connect(choose)
        action = QWidgetAction(menu)
        action.setDefaultWidget(calendar)
        menu.addAction(action)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(self.mapToGlobal(self.rect().bottomLeft()))
        calendar.setFocus()
        self.calendar = calendar

    def _typed(self) -> None:
        order = order_of(QLocale().dateFormat(QLocale.FormatType.ShortFormat))
        try:
            found = parse_day(self.edit.text(), order)
        except DayUnreadable as error:
            set_role(self.edit, "wrong")
            self.refused.emit(str(error))
            return
        self.enter(found)

    def _show(self) -> None:
        set_role(self.edit, "")
        self.edit.setText(self.iso)
