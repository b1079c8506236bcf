"""A kind at a glance: what is known of it, what to watch for, what not to conclude; everything else is folded away.

Each line stands with its source. What no source says the keeper may add; an own note goes before all others.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QToolButton, QVBoxLayout, QWidget

from clipmark.window.pair.own_note_form import OwnNoteForm
from clipmark.window.shared.parts import Card, button, clear, label, row
from clipmark.window.workspace import Workspace

Line = tuple[str, str]
_MARKS = {"known": "•", "watch": "!", "not": "≠"}  # a shape for each block; the words carry the meaning


class KindCard(Card):
    def __init__(self, workspace: Workspace):
        super().__init__(QCoreApplication.translate("KindCard", "What is known of this kind"))
        self.workspace = workspace
        self.species = ""
        self.more = button(self.tr("Everything…"), self.toggle, self.tr("All that is known, with its sources"))
        self.own = button(self.tr("Your own note…"), self.write, self.tr("What you know of this kind goes first"))
        self.head.addWidget(self.own)
        self.head.addWidget(self.more)
        self.headline = label("", "faint")
        self.blocks = QVBoxLayout()
        self.form = OwnNoteForm(workspace)
        self.form.hide()
        self.whole = QWidget()
        self.sections = QVBoxLayout(self.whole)
        self.sections.setContentsMargins(0, 0, 0, 0)
        self.whole.hide()
        self.body.addWidget(self.headline)
        self.body.addLayout(self.blocks)
        self.body.addWidget(self.form)
        self.body.addWidget(self.whole)

    def show_species(self, species: str) -> None:
        """Show what is known of a species; "" shows what holds for all."""
        from clipmark.reading.advice.glance import glance

        own = self.workspace.guard(self.workspace.book.species_notes) or ()
        seen = glance(species, own)
        self.species = species.strip()
        self.set_title(
            self.tr("What is known of {0}").format(self.species)
            if self.species
            else self.tr("What holds for all kinds")
        )
        self.own.setEnabled(bool(self.species))
        self.form.show_species(self.species)
        self.headline.setText(seen.headline)
        clear(self.blocks)
        nothing = self.tr("Nothing is written down about this kind. Ask its keepers, and note what you find.")
        self._block("known", self.tr("Known"), seen.known or ((nothing, ""),))
        self._block("watch", self.tr("Watch for"), seen.watch)
        self._block("not", self.tr("Do not conclude"), seen.not_conclude)
        clear(self.sections)
        mine = [note for note in own if self._mine(note.species)]
        for note in mine:
            words = f"{note.species}: {note.what.replace('_', ' ')} {note.note}".strip()
            off = QToolButton()
            off.setText("×")
            off.setAutoRaise(True)
            off.setToolTip(self.tr("Take this note of yours off; undo brings it back"))
            off.setAccessibleName(self.tr("Take off: {0}").format(words))
            off.clicked.connect(partial(self._drop, note.id))
            self.sections.addLayout(row(label(self.tr("Your own: {0}").format(words), "faint"), 1, off))
        for section in seen.everything.sections:
            self.sections.addWidget(label(section.title, "heading"))
            self._lines(self.sections, [(s.text, s.cited) for s in section.statements], "•")

    def _mine(self, noted: str) -> bool:
        from clipmark.reading.kinds.species import genus_of

        return genus_of(noted) == genus_of(self.species)

    def _block(self, key: str, title: str, lines: Sequence[Line]) -> None:
        self.blocks.addWidget(label(title, "heading"))
        self._lines(self.blocks, lines, _MARKS[key])

    def _lines(self, into: QVBoxLayout, lines: Sequence[Line], mark: str) -> None:
        grid = QGridLayout()
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(1, 5)
        grid.setColumnStretch(2, 3)
        for number, (text, source) in enumerate(lines):
            said, cited = label(text), label(source, "faint")
            said.setAccessibleDescription(self.tr("Source: {0}").format(source))
            for column, part in enumerate((_mark(mark), said, cited)):
                part.setAlignment(Qt.AlignmentFlag.AlignTop)
                grid.addWidget(part, number, column)
        into.addLayout(grid)

    def toggle(self) -> None:
        """Unfold everything, or fold it away."""
        self.whole.setVisible(self.whole.isHidden())
        self.more.setText(self.tr("Everything…") if self.whole.isHidden() else self.tr("Fold away"))

    def write(self) -> None:
        """Unfold the fields for a note of one's own, or fold them away."""
        self.form.setVisible(self.form.isHidden())

    def _drop(self, note_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_species_note, note_id)


def _mark(text: str) -> QLabel:
    made = label(text, wrap=False)
    made.setFixedWidth(made.fontMetrics().averageCharWidth() * 2)
    return made
