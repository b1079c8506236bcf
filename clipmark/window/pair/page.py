"""The Pair page: who, when, which film, and whether they seem ready."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from PySide6.QtWidgets import (
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from clipmark.book.meaning.checks import check_time_of_day
from clipmark.book.model import Animal, Session, Sex
from clipmark.errors import ClipmarkError
from clipmark.window.pair.align_panel import AlignPanel
from clipmark.window.pair.animal_card import AnimalCard
from clipmark.window.pair.cautions_card import CautionsCard
from clipmark.window.pair.clips_card import ClipsCard
from clipmark.window.pair.hints_card import HintsCard
from clipmark.window.pair.kind_card import KindCard
from clipmark.window.shared.day_field import DayField
from clipmark.window.shared.parts import Card, button, row, scrolled
from clipmark.window.workspace import Workspace


class PairPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self._filling = False
        self._lay_out()
        self._stale = True
        workspace.recordChanged.connect(self._changed)
        self.refresh()

    # putting together

    def _lay_out(self) -> None:
        tr = self.tr
        self.occasion = self._occasion()
        her_dates = (
            ("moult", tr("moulted")), ("fed", tr("fed")), ("cooling began", tr("cooling began")),
            ("cooling ended", tr("cooling ended")), ("died", tr("died")), ("sold", tr("sold or given away")),
        )  # fmt: skip
        his_dates = (
            ("matured", tr("maturing moult")), ("sperm web", tr("sperm web seen")), ("fed", tr("fed")),
            ("died", tr("died")), ("sold", tr("sold or given away")),
        )  # fmt: skip
        self.her = AnimalCard(self.workspace, Sex.FEMALE, tr("She"), her_dates)
        self.him = AnimalCard(self.workspace, Sex.MALE, tr("He"), his_dates)
        for card, field in ((self.her, "female_id"), (self.him, "male_id")):
            card.chosen.connect(lambda id, field=field: self._set(**{field: id}))
            card.entered.connect(lambda animal, field=field: self._add_animal(animal, field))
            card.removed.connect(lambda id, field=field: self._remove_animal(id, field))
        self.clips = ClipsCard(self.workspace)
        self.hints, self.kind, self.cautions = HintsCard(self.workspace), KindCard(self.workspace), CautionsCard()
        self.align = AlignPanel(self.workspace)
        inner = QWidget()
        columns = QHBoxLayout(inner)
        columns.setContentsMargins(0, 0, 0, 0)
        for cards in ((self.occasion, self.her, self.him, self.cautions), (self.clips, self.kind, self.hints)):
            column = QVBoxLayout()
            for one in cards:
                column.addWidget(one)
            column.addStretch(1)
            columns.addLayout(column, 1)
        self.stack = QStackedWidget()
        self.stack.addWidget(scrolled(inner))
        self.stack.addWidget(self.align)
        QVBoxLayout(self).addWidget(self.stack)
        self.clips.alignWanted.connect(self.show_align)
        self.align.closed.connect(self.hide_align)

    def _occasion(self) -> Card:
        card = Card(self.tr("Session"))
        self.sessions = button(
            self.tr("All sessions"), lambda: self.workspace.show_page("start"), self.tr("Open another session")
        )
        card.head.addWidget(self.sessions)
        card.head.addWidget(button(self.tr("New session"), self.new_session, self.tr("Begin another pairing")))
        self.remove_button = button(
            self.tr("Remove"), self.remove_session, self.tr("Take this session out of the book; undo brings it back")
        )
        card.head.addWidget(self.remove_button)
        self.title = QLineEdit()
        self.title.setPlaceholderText(self.tr("such as “Mora × Iron, second try”"))
        self.day = DayField(self.tr("Date"), empty=self.tr("date not noted"))
        self.day.refused.connect(lambda text: self.workspace.say(text, "wrong"))
        self.day.dayChanged.connect(self._day_chosen)
        self.place, self.reviewer, self.note = QLineEdit(), QLineEdit(), QLineEdit()
        self.reviewer.setPlaceholderText(self.tr("whose marks and calls these are"))
        self.time = QLineEdit()
        self.time.setPlaceholderText(self.tr("such as 21:10"))
        self.time.setMaximumWidth(110)
        self.time.setAccessibleName(self.tr("Time of day"))
        self.time.setToolTip(self.tr("Local time at which it began; the first film may tell it"))
        self.time.editingFinished.connect(self._time_typed)
        self.warmth = self._number(-20, 60, " °C", self.tr("temperature not noted"))
        self.damp = self._number(0, 100, " %", self.tr("humidity not noted"))
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in (
            (self.tr("Title"), self.title), (self.tr("Place"), self.place), (self.tr("Reviewer"), self.reviewer),
            (self.tr("Note"), self.note),
        ):  # fmt: skip
            field.setAccessibleName(words)
            field.editingFinished.connect(self._keep)
        for words, spin in (
            (self.tr("Temperature"), self.warmth), (self.tr("Humidity"), self.damp)
        ):  # fmt: skip
            spin.setAccessibleName(words)
            spin.editingFinished.connect(self._keep)
        form.addRow(self.tr("Title"), self.title)
        form.addRow(self.tr("Date"), row(self.day, self.time))
        form.addRow(self.tr("Conditions"), row(self.warmth, self.damp))
        form.addRow(self.tr("Place"), self.place)
        form.addRow(self.tr("Reviewer"), self.reviewer)
        form.addRow(self.tr("Note"), self.note)
        card.body.addLayout(form)
        return card

    def _number(self, least: float, most: float, unit: str, unset: str) -> QDoubleSpinBox:
        """A number that may be left out: its lowest value reads as such."""
        spin = QDoubleSpinBox()
        spin.setRange(least - 1, most)
        spin.setDecimals(1)
        spin.setSuffix(unit)
        spin.setSpecialValueText(unset)
        spin.setProperty("least", least)
        return spin

    # showing

    def entered(self) -> None:
        if self._stale:
            self.refresh()

    def _changed(self) -> None:
        """Marks are made by the hundred on other pages: this one looks at the book when it is looked at."""
        self._stale = True
        if self.isVisible():
            self.refresh()

    def left(self) -> None:
        self.align.sleep()

    def shut(self) -> None:
        self.align.sleep()

    def refresh(self) -> None:
        """Show the present state of the session."""
        if self._filling:
            return
        self._filling, self._stale = True, False
        record = self.workspace.record
        session = record.session if record else None
        self._text(self.title, session.title if session else "")
        self._text(self.place, session.place if session else "")
        self._text(self.reviewer, self.workspace.reviewer)
        self._text(self.note, session.note if session else "")
        self._text(self.time, session.time_of_day if session else "")
        self._fill_day(session)
        for spin, value in ((self.warmth, session.temperature_c if session else None),
                            (self.damp, session.humidity_pct if session else None)):  # fmt: skip
            spin.setValue(spin.minimum() if value is None else value)
        self.her.show_animal(record.female if record else None)
        self.him.show_animal(record.male if record else None)
        self.clips.refresh()
        self.remove_button.setEnabled(session is not None)
        her, him = self.her.animal, self.him.animal
        species = next((a.species.strip() for a in (her, him) if a is not None and a.species.strip()), "")
        self.kind.show_species(species)
        self.cautions.show_species(species)
        self.hints.show_pair(her, self.her.life(), him, self.him.life(), self._on(), session.id if session else 0)
        self._filling = False

    def _text(self, field: QLineEdit, text: str) -> None:
        if field.text() != text and not (field.hasFocus() and field.isModified()):
            field.setText(text)

    def _fill_day(self, session: Session | None) -> None:
        try:
            self.day.set_day(date.fromisoformat(session.date) if session and session.date else None)
        except ValueError:  # a day that another program wrote differently stays as it is in the book
            self.day.set_day(None)

    def _day_chosen(self) -> None:
        if self.workspace.record is not None:
            self.workspace.adding.day_not_chosen.discard(self.workspace.record.session.id)
        self._keep()

    def _time_typed(self) -> None:
        """Keep a time of day, also one typed as 9:05; what is none is refused with a sentence and taken back."""
        text = self.time.text().strip().zfill(5) if self.time.text().strip() else ""
        try:
            check_time_of_day(text)
        except ClipmarkError as error:
            self.workspace.say_wrong(error)
            record = self.workspace.record
            text = record.session.time_of_day if record else ""
        self.time.setText(text)
        self._keep()

    def _on(self) -> date:
        """The day for which readiness is told: the session's, else today."""
        record = self.workspace.record
        try:
            return date.fromisoformat(record.session.date) if record else date.today()
        except ValueError:
            return date.today()

    # what the keeper does

    def new_session(self) -> None:
        """Begin another pairing, with nobody in it yet."""
        if self.workspace.new_session():
            self.workspace.show_page("pair")
            self.title.setFocus()
            self.title.selectAll()

    def remove_session(self) -> None:
        """Take the session on view out of the book; its film files stay, and undo brings it back."""
        record = self.workspace.record
        if record is None:
            return
        session = record.session
        self.workspace.guard(self.workspace.book.remove_session, session.id)
        rest = self.workspace.guard(self.workspace.book.sessions) or ()
        if session.id not in [one.id for one in rest]:
            self.workspace.show_session(rest[0].id if rest else None)
            said = self.tr("“{0}” is out of the book with its marks and calls. Film files stay. Undo brings it back.")
            self.workspace.say(said.format(session.title), "done")

    def _remove_animal(self, animal_id: int, field: str) -> None:
        """Take an animal out of this session, and out of the book where no other session is about it."""
        book, record = self.workspace.book, self.workspace.record
        others = [
            one for one in self.workspace.guard(book.sessions_of, animal_id) or ()
            if record is None or one.id != record.session.id
        ]  # fmt: skip
        if others:
            said = self.tr("This animal is in {0} more sessions and stays in the book.")
            self.workspace.say(said.format(len(others)), "wrong")
            return

        def write() -> None:
            with book.together(self.tr("remove the animal {0}").format(book.animal(animal_id).name)):
                if record is not None and getattr(record.session, field) == animal_id:
                    book.change_session(replace(record.session, **{field: None}))  # type: ignore[arg-type]
                book.remove_animal(animal_id)

        self.workspace.edit(write)

    def _session(self) -> Session | None:
        """The session on view; one is begun where there is none yet."""
        if self.workspace.record is None:
            self._filling = True
            title = self.title.text().strip() or self.tr("Pairing of {0}").format(date.today().isoformat())
            fresh = Session(0, title, None, None, date.today().isoformat())
            added = self.workspace.guard(self.workspace.book.add_session, fresh)
            if added is not None:
                self.workspace.show_session(added.id)
            self._filling = False
        return self.workspace.record.session if self.workspace.record else None

    def _keep(self) -> None:
        """What was typed goes into the book at once."""
        if self._filling:
            return
        if self.reviewer.text().strip() and self.reviewer.text().strip() != self.workspace.reviewer:
            self.workspace.set_reviewer(self.reviewer.text())
        typed: dict[str, Any] = {
            "title": self.title.text().strip(),
            "place": self.place.text().strip(),
            "note": self.note.text().strip(),
            "date": self.day.iso,
            "time_of_day": self.time.text().strip(),
            "temperature_c": self._value(self.warmth),
            "humidity_pct": self._value(self.damp),
        }
        if self.workspace.record is None and not (typed["title"] or typed["place"] or typed["note"]):
            return
        if not typed["title"]:
            typed.pop("title")
        self._set(**typed)

    def _value(self, spin: QDoubleSpinBox) -> float | None:
        return None if spin.value() < float(spin.property("least")) else round(spin.value(), 1)

    def _set(self, **fields: Any) -> None:
        session = self._session()
        if session is None:
            return
        changed = replace(session, **fields)
        if not changed.reviewer:
            changed = replace(changed, reviewer=self.workspace.reviewer)
        if replace(changed, reviewer=session.reviewer) != session:
            self.workspace.edit(self.workspace.book.change_session, changed)

    def _add_animal(self, animal: Animal, field: str) -> None:
        session, book = self._session(), self.workspace.book
        if session is None:
            return

        def write() -> Animal:
            with book.together(self.tr("add the animal {0}").format(animal.name)):
                added = book.add_animal(animal)
                book.change_session(replace(session, **{field: added.id}))  # type: ignore[arg-type]
            return added

        self.workspace.edit(write)

    def show_align(self) -> None:
        """Two cameras on one clock."""
        self.stack.setCurrentWidget(self.align)
        self.align.show_clips()

    def hide_align(self) -> None:
        self.align.sleep()
        self.stack.setCurrentIndex(0)

    def handlers(self) -> dict[str, Callable[[], object]]:
        return {"clips.align": self.show_align}
