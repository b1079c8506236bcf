"""The line at the foot of the window: what was done, what went wrong, what runs. No dialog ever stands in the way."""

from __future__ import annotations

import time

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QToolButton, QWidget

from clipmark.window.shared.parts import Elided
from clipmark.window.shared.task_bar import TaskBar

_SIGNS = {"wrong": "!", "done": "✓", "note": "·"}
_KEPT = 30
_WRONG_STAYS_S = 6.0
_NOTE_LEAVES_MS = 20_000


class MessageLine(QWidget):
    """The latest message with a sign for its kind; earlier ones in a menu; what runs at its right."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.earlier: list[tuple[str, str]] = []
        self._said_at = 0.0
        self.sign, self.label = QLabel(), Elided()  # one line, whatever is said: a message moves nothing
        self.label.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.label.setAccessibleName(self.tr("Message"))
        self.more = QToolButton()
        self.more.setText("…")
        self.more.setAutoRaise(True)
        self.more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.more.setAccessibleName(self.tr("Earlier messages"))
        self.more.setToolTip(self.tr("Earlier messages"))
        self.more.clicked.connect(self._show_earlier)
        self.more.hide()
        self._leave = QTimer(self)
        self._leave.setSingleShot(True)
        self._leave.setInterval(_NOTE_LEAVES_MS)
        self._leave.timeout.connect(self._clear)
        self.tasks = TaskBar()
        line = QHBoxLayout(self)
        line.setContentsMargins(4, 0, 0, 0)
        line.addWidget(self.sign)
        line.addWidget(self.label, 1)
        line.addWidget(self.tasks)
        line.addWidget(self.more)
        self.setFixedHeight(self.more.sizeHint().height() + 4)  # also where nothing is said

    @property
    def text(self) -> str:
        return self.label.whole

    def say(self, text: str, kind: str) -> None:
        """Show a message. What went wrong is not pushed away by a mere note within a few seconds: both are shown."""
        trouble = self.earlier[-1][0] if self.earlier and self.earlier[-1][1] == "wrong" else ""
        fresh_trouble = bool(trouble) and time.monotonic() - self._said_at < _WRONG_STAYS_S
        shown = f"{trouble}  ·  {text}" if fresh_trouble and kind != "wrong" and text != trouble else text
        self.earlier = [*self.earlier, (text, kind)][-_KEPT:]
        if kind == "wrong" or not fresh_trouble:
            self._said_at = time.monotonic()
        kind = "wrong" if fresh_trouble else kind
        self.sign.setText(_SIGNS.get(kind, "·"))
        self.label.set_text(shown)
        self._leave.stop()
        if kind != "wrong":
            self._leave.start()
        for part in (self.sign, self.label):
            part.setProperty("role", kind)
            part.style().unpolish(part)
            part.style().polish(part)
        self.label.setAccessibleDescription(text)
        self.more.setVisible(len(self.earlier) > 0)

    def _clear(self) -> None:
        """An old message leaves; the menu of earlier ones keeps it."""
        self.sign.clear()
        self.label.set_text("")

    def _show_earlier(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for text, kind in reversed(self.earlier):
            menu.addAction(f"{_SIGNS.get(kind, '·')} {text}").setEnabled(False)
        menu.popup(self.more.mapToGlobal(self.more.rect().topLeft()))
