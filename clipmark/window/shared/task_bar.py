"""What runs beside the window: one bar of a fixed width, however many tasks there are, and a stop for each."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QHBoxLayout, QMenu, QProgressBar, QSizePolicy, QToolButton, QWidget

from clipmark.window.background import Task
from clipmark.window.shared.parts import as_written


class TaskBar(QWidget):
    """Comes up when a task reports, so that short work does not flicker. The bar is of the task that was begun first;
    with several, their number stands beside its name, each is told by the tool tip and stopped from the menu."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._far: dict[Task, tuple[int, int]] = {}
        self.bar, self.stop = QProgressBar(), QToolButton()
        self.bar.setFixedWidth(22 * self.fontMetrics().averageCharWidth() + 150)
        self.bar.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
        self.stop.setText(self.tr("Stop"))
        self.stop.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.stop.clicked.connect(self._stop)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.bar)
        line.addWidget(self.stop)
        self.hide()

    def show_task(self, task: Task) -> None:
        """Follow a task that was begun."""
        task.progressed.connect(partial(self._progress, task))
        task.ended.connect(partial(self._ended, task))

    @property
    def tasks(self) -> list[Task]:
        """What is shown, the oldest first."""
        return list(self._far)

    def _progress(self, task: Task, done: int, total: int) -> None:
        if done or total:
            self._far[task] = (done, total)
            self._refresh()

    def _ended(self, task: Task) -> None:
        if self._far.pop(task, None) is not None:
            self._refresh()

    def _refresh(self) -> None:
        self.setVisible(bool(self._far))
        if not self._far:
            return
        task, (done, total) = next(iter(self._far.items()))
        more = len(self._far) - 1
        self.bar.setRange(0, total)
        self.bar.setValue(done)
        behind = (self.tr("  {0} %").format(100 * done // total) if total else "") + (
            self.tr("  + {0} more").format(more) if more else ""
        )
        metrics = self.bar.fontMetrics()
        room = self.bar.width() - metrics.horizontalAdvance(behind) - 12
        title = metrics.elidedText(task.title, Qt.TextElideMode.ElideMiddle, room)
        self.bar.setFormat(as_written(title + behind))
        told = "\n".join(self._words(one) for one in self._far)
        self.setToolTip(told)
        self.bar.setAccessibleName(told)
        self.stop.setAccessibleName(self.tr("Stop: {0}").format(task.title) if not more else self.tr("Stop …"))

    def _words(self, task: Task) -> str:
        done, total = self._far[task]
        return f"{task.title}: {100 * done // total} %" if total else task.title

    def _stop(self) -> None:
        if len(self._far) == 1:
            self.tasks[0].stop()
            return
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for task in self.tasks:
            menu.addAction(self.tr("Stop: {0}").format(self._words(task)), task.stop)
        menu.addSeparator()
        menu.addAction(self.tr("Stop all"), self.stop_all)
        menu.popup(self.stop.mapToGlobal(self.stop.rect().topLeft()) - QPoint(0, menu.sizeHint().height()))

    def stop_all(self) -> None:
        """Stop everything that is shown."""
        for task in self.tasks:
            task.stop()
