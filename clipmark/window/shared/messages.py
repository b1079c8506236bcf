"""The line at the foot of the window: what was done, what went wrong, what runs. No dialog ever stands in the way."""

from __future__ import annotations

import time
from functools import partial

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QProgressBar, QToolButton, QWidget

from clipmark.window.background import Task
from clipmark.window.shared.parts import Elided

_SIGNS = {"wrong": "!", "done": "✓", "note": "·"}
_KEPT = 30
_WRONG_STAYS_S = 6.0
_NOTE_LEAVES_MS = 20_000


class MessageLine(QWidget):
    """The latest message with a sign for its kind; earlier ones in a menu; a bar and a stop for each task."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.earlier: list[tuple[str, str]] = []
        self._said_at = 0.0
        self._bars: dict[Task, tuple[QProgressBar, QToolButton]] = {}
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
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(4, 0, 0, 0)
        self._row.addWidget(self.sign)
        self._row.addWidget(self.label, 1)
        self._row.addWidget(self.more)
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

    def show_task(self, task: Task) -> None:
        """A bar while a task runs; it only comes up when the task reports, so short work does not flicker."""
        bar, stop = QProgressBar(), QToolButton()
        bar.setFormat(task.title + "  %p %")
        bar.setMinimumWidth(self.fontMetrics().horizontalAdvance(task.title) + 100)
        bar.setAccessibleName(task.title)
        stop.setText(self.tr("stop"))
        stop.setAccessibleName(self.tr("Stop: {0}").format(task.title))
        stop.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        stop.clicked.connect(task.stop)
        for part in (bar, stop):
            part.hide()
            self._row.insertWidget(self._row.count() - 1, part)
        self._bars[task] = (bar, stop)
        task.progressed.connect(partial(self._progress, task))
        task.ended.connect(partial(self._ended, task))

    def _progress(self, task: Task, done: int, total: int) -> None:
        pair = self._bars.get(task)
        if pair is not None and (done or total):
            pair[0].setRange(0, total)
            pair[0].setValue(done)
            pair[0].show()
            pair[1].show()

    def _ended(self, task: Task) -> None:
        for part in self._bars.pop(task, ()):
            part.setParent(None)
            part.deleteLater()

    def _show_earlier(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for text, kind in reversed(self.earlier):
            menu.addAction(f"{_SIGNS.get(kind, '·')} {text}").setEnabled(False)
        menu.popup(self.more.mapToGlobal(self.more.rect().topLeft()))
