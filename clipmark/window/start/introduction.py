"""Three steps for somebody who opens clipmark for the first time; can be skipped at any of them."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget


class Introduction(QFrame):
    """A card at the foot of the page. Signals: pageWanted(str): the page that a step speaks of; done()."""

    pageWanted = Signal(str)
    done = Signal()

    def __init__(self, parent: QWidget):
        super().__init__(parent)
        self.setProperty("role", "sheet")
        self.setAutoFillBackground(True)
        self.setAccessibleName(self.tr("Introduction"))
        self._step = 0
        self.steps = (
            ("film", self.tr("1 of 3 · Look"),
             self.tr("This is a made-up pairing, to try things on. Left and Right go frame by frame, Space lets the "
                     "film run. What happens is marked with one key each, listed at the right: D when he begins to "
                     "drum, D again when he stops.")),
            ("film", self.tr("2 of 3 · Outline"),
             self.tr("F2 draws a box round her abdomen, F5 runs the motion pass: it follows the abdomen through the "
                     "film and flags each moment at which it is pulled. It only proposes.")),
            ("pulls", self.tr("3 of 3 · Call"),
             self.tr("Here each flag loops slowly before your eyes. You decide what it was: that is the call. The "
                     "Sheet page shows what follows from it. F1 lists the keys of every page.")),
        )  # fmt: skip
        self.title, self.told = QLabel(), QLabel()
        self.title.setProperty("role", "heading")
        self.told.setWordWrap(True)
        self.skip, self.next = QPushButton(self.tr("Skip")), QPushButton()
        self.skip.clicked.connect(self.leave)
        self.next.clicked.connect(self._go_on)
        self.next.setDefault(True)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.skip)
        row.addWidget(self.next)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.addWidget(self.title)
        column.addWidget(self.told)
        column.addLayout(row)
        self.hide()

    def begin(self) -> None:
        self._step = 0
        self._show()

    def _show(self) -> None:
        page, title, told = self.steps[self._step]
        self.title.setText(title)
        self.told.setText(told)
        last = self._step == len(self.steps) - 1
        self.next.setText(self.tr("Begin") if last else self.tr("Next"))
        self.pageWanted.emit(page)
        self.setAccessibleDescription(told)
        self.show()
        self.raise_()
        self.next.setFocus(Qt.FocusReason.OtherFocusReason)

    def _go_on(self) -> None:
        self._step += 1
        if self._step >= len(self.steps):
            self.leave()
        else:
            self._show()

    def leave(self) -> None:
        self.hide()
        self.done.emit()
