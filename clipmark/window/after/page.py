"""The After page: what came of the pairing, what comes next, and on which days to look."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QSpinBox,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from clipmark import settings as declared
from clipmark.book.model import Outcome, Reminder, SessionRecord
from clipmark.reading.advice.loans import LoanEnd
from clipmark.window.after.habits_card import HabitsCard
from clipmark.window.after.outlook_card import OutlookCard
from clipmark.window.after.sacs_card import SacsCard
from clipmark.window.after.thresholds_card import ThresholdsCard
from clipmark.window.after.together_card import TogetherCard
from clipmark.window.shared.day_field import DayField
from clipmark.window.shared.parts import Card, Empty, Later, button, clear, label, row, scrolled
from clipmark.window.workspace import Workspace

KINDS = (
    "laid",
    "pulled",
    "eggs",
    "eggs with legs",
    "larvae",
    "nymphs",
    "infertile",
    "eaten",
    "moulted",
    "lost",
    "none yet",
)
STAGES = ("good eggs", "bad eggs", "eggs with legs", "larvae", "nymphs", "dead")


class AfterPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self._lay_out()
        workspace.recordChanged.connect(self._changed)
        self.refresh()

    # putting together

    def _lay_out(self) -> None:
        self.empty = Empty(
            self.tr("No session is on view. Begin one on the Pair page; what came of it is kept here."),
            self.tr("Go to the Pair page"),
            lambda: self.workspace.show_page("pair"),
        )
        self.outlook = OutlookCard(self.workspace)
        self.outlook.dateWanted.connect(self.add_reminder)
        inner = QWidget()
        columns = QHBoxLayout(inner)
        columns.setContentsMargins(0, 0, 0, 0)
        self.together, self.thresholds = TogetherCard(self.workspace), ThresholdsCard(self.workspace)
        self.thresholds.changed.connect(self.refresh)
        self.sacs, self.habits = SacsCard(), HabitsCard(self.workspace)
        left = (self._outcome(), self.sacs, self._dates(), self.habits, self.together)
        for cards in (left, (self.outlook, self.thresholds)):
            column = QVBoxLayout()
            for card in cards:
                column.addWidget(card)
            column.addStretch(1)
            columns.addLayout(column, 1)
        self._read_again = Later(self, self.together.read, 1000)
        self.stack = QStackedWidget()
        self.stack.addWidget(self.empty)
        self.stack.addWidget(scrolled(inner))
        QVBoxLayout(self).addWidget(self.stack)

    def _outcome(self) -> Card:
        card = Card(self.tr("What came of it"))
        self.known = QVBoxLayout()
        card.body.addLayout(self.known)
        self.kind = QComboBox()
        self.kind.setAccessibleName(self.tr("What happened"))
        for kind, words in zip(KINDS, self._kind_words(), strict=True):
            self.kind.addItem(words, kind)
        self.day = self._day_field(self.tr("On which day"))
        card.body.addLayout(row(self.kind, self.day, 1))
        self.counts: dict[str, QSpinBox] = {}
        grid = QGridLayout()
        for number, (stage, words) in enumerate(zip(STAGES, self._stage_words(), strict=True)):
            spin = QSpinBox()
            spin.setRange(-1, 99_999)
            spin.setValue(-1)
            spin.setSpecialValueText(self.tr("not counted"))
            spin.setAccessibleName(self.tr("Count: {0}").format(words))
            self.counts[stage] = spin
            grid.addWidget(label(words, wrap=False), number // 2, 2 * (number % 2))
            grid.addWidget(spin, number // 2, 2 * (number % 2) + 1)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        card.body.addLayout(grid)
        card.body.addLayout(self._conditions())
        self.note = QLineEdit()
        self.note.setPlaceholderText(self.tr("note"))
        self.note.setAccessibleName(self.tr("Note on what came of it"))
        self.keep = button(self.tr("Note it"), self.add_outcome, self.tr("Keep this in the book"))
        card.body.addLayout(row(self.note, self.keep))
        return card

    def _conditions(self) -> QHBoxLayout:
        """Which sac it is, and how it is kept."""
        self.sac = QSpinBox()
        self.sac.setRange(1, 20)
        self.sac.setPrefix(self.tr("sac "))
        self.sac.setAccessibleName(self.tr("Which sac of this pairing"))
        self.kept = QComboBox()
        self.kept.setAccessibleName(self.tr("Who incubates it"))
        for kept, words in (("", self.tr("kept: not told")), ("with her", self.tr("with her")),
                            ("by hand", self.tr("by hand"))):  # fmt: skip
            self.kept.addItem(words, kept)
        self.warmth = _measure(-20, 60, " °C", self.tr("°C not noted"), self.tr("Temperature of the sac"))
        self.damp = _measure(0, 100, " %", self.tr("humidity not noted"), self.tr("Humidity of the sac"))
        return row(self.sac, self.kept, self.warmth, self.damp)

    def _kind_words(self) -> tuple[str, ...]:
        return (
            self.tr("sac laid"), self.tr("sac taken from her"), self.tr("eggs found"),
            self.tr("eggs with legs"), self.tr("larvae"), self.tr("nymphs"),
            self.tr("sac infertile"), self.tr("sac eaten"), self.tr("she moulted"), self.tr("sac lost"),
            self.tr("nothing yet"),
        )  # fmt: skip

    def _stage_words(self) -> tuple[str, ...]:
        return (
            self.tr("good eggs"), self.tr("bad eggs"), self.tr("eggs with legs"), self.tr("larvae"),
            self.tr("nymphs"), self.tr("dead"),
        )  # fmt: skip

    def _dates(self) -> Card:
        card = Card(self.tr("Dates and reminders"))
        self.export = button(
            self.tr("To a calendar…"), self.choose_calendar, self.tr("Write the open reminders as an .ics file")
        )
        card.head.addWidget(self.export)
        self.reminders = QVBoxLayout()
        card.body.addLayout(self.reminders)
        self.reminder_day = self._day_field(self.tr("Remind on"))
        self.reminder_text = QLineEdit()
        self.reminder_text.setPlaceholderText(self.tr("such as: look for a sac"))
        self.reminder_text.setAccessibleName(self.tr("What to be reminded of"))
        self.reminder_text.returnPressed.connect(self._add_typed)
        self.add = button(self.tr("Add"), self._add_typed, name=self.tr("Add the reminder"))
        card.body.addLayout(row(self.reminder_day, self.reminder_text, self.add))
        return card

    # showing

    def entered(self) -> None:
        self.refresh()
        self.together.read()

    def _changed(self) -> None:
        if self.isVisible() or self.workspace.record is None:
            self.refresh()
        if self.isVisible():
            self._read_again.wish()

    def refresh(self) -> None:
        """Show the present state of the session."""
        record = self.workspace.record
        self.stack.setCurrentIndex(0 if record is None else 1)
        if record is None:
            return
        self._fill_outcomes(record)
        self._fill_reminders(record)
        self.outlook.show_record(record)
        self.sacs.show_sacs(self.outlook.seen.sacs if self.outlook.seen is not None else ())
        self.habits.show_record(record)

    def _fill_outcomes(self, record: SessionRecord) -> None:
        clear(self.known)
        words = dict(zip(KINDS, self._kind_words(), strict=True))
        stages = dict(zip(STAGES, self._stage_words(), strict=True))
        for outcome in sorted(record.outcomes, key=lambda one: (one.date, one.id)):
            counted = ", ".join(f"{number} {stages.get(stage, stage)}" for stage, number in outcome.counts)
            which = self.tr("sac {0}").format(outcome.sac) if outcome.sac > 1 else ""
            parts = (outcome.date, words.get(outcome.kind, outcome.kind), which, counted, outcome.note)
            text = "   ".join(part for part in parts if part)
            line = row(label(text), self._off(text, partial(self._drop_outcome, outcome.id)))
            line.setStretch(0, 1)
            self.known.addLayout(line)
        if not record.outcomes:
            self.known.addWidget(
                label(
                    self.tr("Nothing noted yet. Note a sac, a moult or “nothing yet” as soon as you know."),
                    "faint",
                )
            )

    def _fill_reminders(self, record: SessionRecord) -> None:
        clear(self.reminders)
        for reminder in sorted(record.reminders, key=lambda one: (one.done, one.date, one.id)):
            tick = QCheckBox(f"{reminder.date}   {reminder.text}")
            tick.setChecked(reminder.done)
            tick.setToolTip(self.tr("Tick it when it is done"))
            tick.toggled.connect(lambda on, one=reminder: self._set_done(one, on))
            off = self._off(reminder.text, partial(self._drop_reminder, reminder.id))
            self.reminders.addLayout(row(tick, 1, off))
        ends = self._loan_ends(record)
        for end in ends:
            self.reminders.addWidget(label(f"{end.on}   {end.text}", "wrong" if end.overdue else ""))
        if not record.reminders and not ends:
            self.reminders.addWidget(
                label(self.tr("No reminders yet. Take dates over from the outlook, or add your own below."), "faint")
            )
        self.export.setEnabled(any(not one.done for one in record.reminders) or bool(ends))

    def _loan_ends(self, record: SessionRecord) -> tuple[LoanEnd, ...]:
        """The ends of running loans of the two animals."""
        from clipmark.reading.advice.loans import loan_ends

        animals = [a for a in (record.female, record.male) if a is not None]
        loans = [loan for a in animals for loan in self.workspace.guard(self.workspace.book.loans, a.id) or ()]
        return loan_ends(loans, animals, date.today())

    def _off(self, what: str, do: Callable[[], None]) -> QToolButton:
        off = QToolButton()
        off.setText("×")
        off.setAutoRaise(True)
        off.setToolTip(self.tr("Take this off; undo brings it back"))
        off.setAccessibleName(self.tr("Take off: {0}").format(what))
        off.clicked.connect(lambda _=False: do())
        return off

    # what the keeper does

    def add_outcome(self) -> None:
        """Keep what is entered."""
        record = self.workspace.record
        if record is None:
            return
        counts = tuple((stage, spin.value()) for stage, spin in self.counts.items() if spin.value() >= 0)
        note = self.note.text().strip()
        made = Outcome(0, record.session.id, str(self.kind.currentData()), self.day.iso, counts, note,
                       self.sac.value(), _value(self.warmth), _value(self.damp),
                       str(self.kept.currentData()))  # fmt: skip
        if self.workspace.edit(self.workspace.book.add_outcome, made) is not None:
            for spin in self.counts.values():
                spin.setValue(-1)
            self.note.clear()
            self.workspace.say(self.tr("Noted: {0}, {1}.").format(self.kind.currentText(), made.date), "done")

    def _drop_outcome(self, outcome_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_outcome, outcome_id)

    def _add_typed(self) -> None:
        text = self.reminder_text.text().strip()
        if not text:
            self.workspace.say(self.tr("Write what you want to be reminded of, then add it."), "wrong")
            self.reminder_text.setFocus()
            return
        self.add_reminder(self.reminder_day.iso, text)
        self.reminder_text.clear()

    def add_reminder(self, day: str, text: str) -> None:
        record = self.workspace.record
        if record is None:
            return
        if any(one.date == day and one.text == text for one in record.reminders):
            self.workspace.say(self.tr("That reminder is there already."), "note")
            return
        self.workspace.edit(self.workspace.book.add_reminder, Reminder(0, record.session.id, day, text))

    def _set_done(self, reminder: Reminder, done: bool) -> None:
        self.workspace.edit(self.workspace.book.change_reminder, replace(reminder, done=done))

    def _drop_reminder(self, reminder_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_reminder, reminder_id)

    def choose_calendar(self) -> None:
        suggested = declared.data_dir() / "reminders.ics"
        name, _ = QFileDialog.getSaveFileName(self, self.tr("Reminders"), str(suggested), "iCalendar (*.ics)")
        if name:
            self.write_calendar(Path(name))

    def write_calendar(self, path: Path) -> None:
        """Write the open reminders for a calendar program."""
        from clipmark.report.exports.calendar_file import write_calendar

        record = self.workspace.record
        if record is None:
            return
        if self.workspace.guard(write_calendar, record, path, self._loan_ends(record)) is not None:
            self.workspace.say(self.tr("The reminders were written: {0}").format(path), "done")

    def _day_field(self, name: str) -> DayField:
        field = DayField(name, date.today())
        field.refused.connect(lambda text: self.workspace.say(text, "wrong"))
        return field

    def handlers(self) -> dict[str, Callable[[], object]]:
        return {"after.note": self.add_outcome, "after.calendar": self.choose_calendar}


def _measure(least: float, most: float, unit: str, unset: str, name: str) -> QDoubleSpinBox:
    """A number that may be left out: its lowest value reads as such."""
    spin = QDoubleSpinBox()
    spin.setRange(least - 1, most)
    spin.setDecimals(1)
    spin.setSuffix(unit)
    spin.setSpecialValueText(unset)
    spin.setAccessibleName(name)
    spin.setProperty("least", least)
    spin.setValue(spin.minimum())
    return spin


def _value(spin: QDoubleSpinBox) -> float | None:
    return None if spin.value() < float(spin.property("least")) else round(spin.value(), 1)
