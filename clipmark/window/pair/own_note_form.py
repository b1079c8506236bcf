"""The fields for what a keeper knows of a kind: a range in days or the like, or words."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QLineEdit, QVBoxLayout, QWidget

from clipmark.book.model import SpeciesNote
from clipmark.window.shared.parts import button, label, row
from clipmark.window.workspace import Workspace

UNITS = ("days", "weeks", "months", "young", "°C")


class OwnNoteForm(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.of = QComboBox()
        self.of.setAccessibleName(self.tr("For which kind"))
        self.what = QComboBox()
        self.what.setAccessibleName(self.tr("What it is about"))
        for what, words in self._topics():
            self.what.addItem(words, what)
        self.low, self.high = self._number(self.tr("from")), self._number(self.tr("to"))
        self.unit = QComboBox()
        self.unit.addItems(list(UNITS))
        self.unit.setAccessibleName(self.tr("Unit"))
        self.note = QLineEdit()
        self.note.setPlaceholderText(self.tr("in your words"))
        self.note.setAccessibleName(self.tr("Your note on this kind"))
        self.keep = button(self.tr("Note it"), self.note_it, name=self.tr("Keep your note on this kind"))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(label(self.tr("What no source says you may say: it then goes before all others."), "faint"))
        column.addLayout(row(self.of, self.what, 1))
        column.addLayout(row(self.low, self.high, self.unit, self.note, self.keep))

    def _topics(self) -> list[tuple[str, str]]:
        from clipmark.reading.advice.known import WORDS

        asked = ("pairing_to_sac", "sac_pulled_after", "egg_to_prelarva", "egg_to_larva", "sac_to_first_nymphs",
                 "sac_to_emergence", "second_sac_after", "brood", "moult_cycle", "moult_to_pairing", "male_fertile",
                 "male_rest_after_maturing", "cooling")  # fmt: skip
        return [
            ("note", self.tr("A note in words")),
            ("weak pull", self.tr("Her abdomen is hardly drawn in")),
            ("plain pull", self.tr("Her abdomen is drawn in plainly")),
            ("fixed sac", self.tr("The sac is fixed to its place")),
            *((what, WORDS[what][1]) for what in asked),
        ]

    def _number(self, words: str) -> QDoubleSpinBox:
        spin = QDoubleSpinBox()
        spin.setRange(-1, 100_000)
        spin.setDecimals(0)
        spin.setValue(-1)
        spin.setSpecialValueText(words)
        spin.setAccessibleName(self.tr("Range: {0}").format(words))
        return spin

    def show_species(self, species: str) -> None:
        """Offer the species and its genus."""
        from clipmark.reading.kinds.species import genus_of

        kept = self.of.currentIndex()
        self.of.clear()
        if species:
            self.of.addItem(species, species)
            genus = genus_of(species)
            if genus and genus.casefold() != species.casefold():
                self.of.addItem(self.tr("all {0}").format(genus), genus)
            self.of.setCurrentIndex(max(0, min(kept, self.of.count() - 1)))

    def note_it(self) -> None:
        """Keep what is entered."""
        low, high = (spin.value() if spin.value() >= 0 else None for spin in (self.low, self.high))
        what, words = str(self.what.currentData()), self.note.text().strip()
        if low is None and high is None and not words and what in ("weak pull", "plain pull", "fixed sac"):
            words = f"{self.what.currentText()}."
        unit = self.unit.currentText() if low is not None or high is not None else ""
        made = SpeciesNote(0, str(self.of.currentData() or ""), what, low, high, unit, words)
        if self.workspace.edit(self.workspace.book.add_species_note, made) is not None:
            for spin in (self.low, self.high):
                spin.setValue(-1)
            self.note.clear()
            self.workspace.say(self.tr("Noted of {0}.").format(made.species), "done")
