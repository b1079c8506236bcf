"""The banner over everything while the made-up session is on view: nobody shall take it for a pairing of theirs."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QWidget

from clipmark.window.shared.parts import button, label
from clipmark.window.theme import SPACE


class SampleBanner(QFrame):
    """Signals: leaveWanted(): back to the keeper's own book."""

    leaveWanted = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setProperty("role", "card")
        told = label(
            self.tr("This is the sample: a made-up pairing in a book of its own. Your film goes into your own book."),
            wrap=False,
        )
        line = QHBoxLayout(self)
        line.setContentsMargins(SPACE, SPACE // 2, SPACE, SPACE // 2)
        line.addWidget(told, 1)
        self.leave = button(self.tr("Leave the sample"), self.leaveWanted.emit)
        line.addWidget(self.leave)
        self.hide()
