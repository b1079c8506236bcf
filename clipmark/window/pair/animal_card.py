"""Her card and his: choose an animal of the book or enter a new one, its species, its dates, its picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QImageReader, QPixmap
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QToolButton,
    QVBoxLayout,
)

from clipmark.book.model import Animal, LifeEvent, Sex
from clipmark.window.pair.loans_part import LoansPart
from clipmark.window.shared.day_field import DayField
from clipmark.window.shared.parts import Card, button, clear, label, row
from clipmark.window.workspace import Workspace

_SHOWN_EVENTS = 4


class AnimalCard(Card):
    """Signals:
    chosen(object): another animal of the book (its id, or None) is to be the session's.
    entered(Animal): a new animal was typed in, to be added and made the session's.
    removed(int): the animal of this id is to be taken out of the book.
    """

    chosen = Signal(object)
    entered = Signal(object)
    removed = Signal(int)

    def __init__(self, workspace: Workspace, sex: Sex, title: str, kinds: Sequence[tuple[str, str]]):
        """`kinds`: what can be dated in a life, as (kind in the book, words)."""
        super().__init__(title)
        self.workspace, self.sex = workspace, sex
        self.animal: Animal | None = None
        self._kinds = dict(kinds)
        self._filling = False
        self._lay_out(kinds)

    def _lay_out(self, kinds: Sequence[tuple[str, str]]) -> None:
        self.title.setProperty("role", "hers" if self.sex is Sex.FEMALE else "his")
        whose = self.title.text()
        self.who = QComboBox()
        self.who.setAccessibleName(self.tr("{0}: animals of the book").format(whose))
        self.who.activated.connect(self._choose)
        self.head.addWidget(self.who)
        self.remove_button = button(
            self.tr("Remove"), self._remove, self.tr("Take this animal out of the book; undo brings it back"),
            self.tr("{0}: remove").format(whose),
        )  # fmt: skip
        self.head.addWidget(self.remove_button)
        self.name, self.species = QLineEdit(), QLineEdit()
        self.name.setPlaceholderText(self.tr("name or number"))
        self.species.setPlaceholderText(self.tr("such as Grammostola rosea"))
        self.owner, self.origin = QLineEdit(), QLineEdit()
        self.owner.setPlaceholderText(self.tr("whose animal it is"))
        self.origin.setPlaceholderText(self.tr("captive-bred, wild-caught, permit, source"))
        completer = QCompleter(list(_species_names()), self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.species.setCompleter(completer)
        form = QFormLayout()
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in (
            (self.tr("Name"), self.name),
            (self.tr("Species"), self.species),
            (self.tr("Owner"), self.owner),
            (self.tr("Origin"), self.origin),
        ):
            field.setAccessibleName(f"{whose}: {words}")
            field.editingFinished.connect(self._keep)
            form.addRow(words, field)
        self.photo = QLabel()
        self.photo.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.photo.setAccessibleName(self.tr("{0}: picture").format(whose))
        self.photo_button = button(self.tr("Picture…"), self._choose_photo, self.tr("A photograph of the animal"))
        side = QVBoxLayout()
        side.addWidget(self.photo, 1)
        side.addWidget(self.photo_button)
        top = QHBoxLayout()
        top.addLayout(form, 1)
        top.addLayout(side)
        self.body.addLayout(top)
        self.events = QVBoxLayout()
        self.body.addLayout(self.events)
        self.kind = QComboBox()
        for kind, words in kinds:
            self.kind.addItem(words, kind)
        self.kind.setAccessibleName(self.tr("{0}: what happened").format(whose))
        self.day = DayField(self.tr("{0}: on which day").format(whose), date.today())
        self.day.refused.connect(lambda text: self.workspace.say(text, "wrong"))
        self.note_button = button(self.tr("Note it"), self.note_event, name=self.tr("{0}: note it").format(whose))
        self.about = QLineEdit()
        self.about.setPlaceholderText(self.tr("note"))
        self.about.setAccessibleName(self.tr("{0}: note on that day").format(whose))
        self.body.addLayout(row(self.kind, self.day, self.about, self.note_button))
        self.loans = LoansPart(self.workspace, whose)
        self.body.addWidget(self.loans)

    # showing

    def show_animal(self, animal: Animal | None) -> None:
        """Fill the card; None: an empty card in which a new animal can be entered."""
        self._filling = True
        same = animal is not None and self.animal is not None and animal.id == self.animal.id
        self.animal = animal
        self.who.clear()
        self.who.addItem(self.tr("new …"), None)
        for one in self.workspace.guard(self.workspace.book.animals, self.sex) or ():
            self.who.addItem(f"{one.name} · {one.species}" if one.species else one.name, one.id)
        self.who.setCurrentIndex(max(self.who.findData(animal.id), 0) if animal else 0)
        for field, name in self._fields():
            if not (same and field.hasFocus() and field.isModified()):
                field.setText(getattr(animal, name) if animal else "")
                field.setModified(False)
        for part in (self.kind, self.day, self.about, self.note_button, self.photo_button, self.remove_button):
            part.setEnabled(animal is not None)
        self.loans.show_animal(animal)
        self._show_photo()
        self._show_events()
        self._filling = False

    def _fields(self) -> tuple[tuple[QLineEdit, str], ...]:
        return (self.name, "name"), (self.species, "species"), (self.owner, "owner"), (self.origin, "origin")

    def _show_photo(self) -> None:
        side = 6 * self.fontMetrics().height()
        self.photo.setFixedSize(QSize(side, side))
        path = self.animal.photo if self.animal else ""
        if not path:
            self.photo.setPixmap(QPixmap())
            self.photo.setText(self.tr("no picture"))
            return
        reader = QImageReader(path)
        reader.setAutoTransform(True)
        size = reader.size()
        if size.isValid():
            reader.setScaledSize(size.scaled(2 * side, 2 * side, Qt.AspectRatioMode.KeepAspectRatio))
        picture = QPixmap.fromImage(reader.read())
        if picture.isNull():
            self.photo.setText(self.tr("picture not found"))
            self.photo.setToolTip(path)
            return
        keep, smooth = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        self.photo.setPixmap(picture.scaled(QSize(side, side), keep, smooth))

    def life(self) -> tuple[LifeEvent, ...]:
        """What is dated of this animal."""
        if self.animal is None:
            return ()
        return self.workspace.guard(self.workspace.book.life, self.animal.id) or ()

    def _show_events(self) -> None:
        clear(self.events)
        known = sorted(self.life(), key=lambda event: event.date, reverse=True)
        for event in known[:_SHOWN_EVENTS]:
            words = f"{event.date}   {self._kinds.get(event.kind, event.kind)}"
            words += f"   {event.note}" if event.note else ""
            off = QToolButton()
            off.setText("×")
            off.setAutoRaise(True)
            off.setToolTip(self.tr("Take this date off"))
            off.setAccessibleName(self.tr("Take off: {0}").format(words))
            off.clicked.connect(lambda _=False, id=event.id: self._drop_event(id))
            self.events.addLayout(row(label(words, "faint", wrap=False), off, 1))
        if len(known) > _SHOWN_EVENTS:
            more = self.tr("and {0} earlier dates").format(len(known) - _SHOWN_EVENTS)
            self.events.addWidget(label(more, "faint"))

    # what the keeper does

    def _choose(self, _: int) -> None:
        chosen = self.who.currentData()
        if chosen != (self.animal.id if self.animal else None):
            self.chosen.emit(chosen)

    def _keep(self) -> None:
        """What was typed goes into the book; a name typed into an empty card makes a new animal."""
        if self._filling:
            return
        typed: dict[str, Any] = {name: field.text().strip() for field, name in self._fields()}
        if self.animal is None:
            if not any(typed.values()):
                return
            name = typed["name"] or (self.tr("her") if self.sex is Sex.FEMALE else self.tr("him"))
            self.entered.emit(Animal(0, name, self.sex, typed["species"], "", typed["origin"], typed["owner"]))
            return
        changed = replace(self.animal, **typed)
        if changed != self.animal:
            if not changed.name:
                self.workspace.say(self.tr("An animal needs a name or a number."), "wrong")
                self.name.setText(self.animal.name)
                return
            self.workspace.edit(self.workspace.book.change_animal, changed)

    def note_event(self) -> None:
        """Note what is chosen, on the chosen day."""
        if self.animal is None:
            return
        day = self.day.day or date.today()
        note = self.about.text().strip()
        event = LifeEvent(0, self.animal.id, str(self.kind.currentData()), day.isoformat(), note)
        if self.workspace.edit(self.workspace.book.add_life_event, event) is not None:
            self.about.clear()

    def _remove(self) -> None:
        if self.animal is not None:
            self.removed.emit(self.animal.id)

    def _drop_event(self, event_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_life_event, event_id)

    def _choose_photo(self) -> None:
        kinds = " ".join(f"*.{bytes(kind.data()).decode()}" for kind in QImageReader.supportedImageFormats())
        name, _ = QFileDialog.getOpenFileName(self, self.tr("Picture"), "", self.tr("Pictures ({0})").format(kinds))
        if name:
            self.set_photo(Path(name))

    def set_photo(self, path: Path) -> None:
        if self.animal is not None:
            self.workspace.edit(self.workspace.book.change_animal, replace(self.animal, photo=str(path)))


def _species_names() -> tuple[str, ...]:
    from clipmark.reading.kinds.species import names

    return names()
