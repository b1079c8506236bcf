"""The motion passes of a book while they run: for each clip how far it is, the time left and a stop, and for all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QProgressBar, QToolButton, QWidget

from clipmark.review.pass_words import Running, how_far, progress_of, words_of
from clipmark.window.shared.parts import Elided, as_written

LINES = 3  # clips that have a line of their own; of more the number is told


class PassList(QWidget):
    """Signals: stopWanted(clip_id): the pass of this clip is to stop. stopAllWanted(): all are."""

    stopWanted = Signal(int)
    stopAllWanted = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(4)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(0, 1)
        self.lines: dict[int, tuple[QProgressBar, QToolButton]] = {}
        self._names: dict[int, Elided] = {}
        self.more = QLabel(self)
        self.more.setProperty("role", "faint")
        self.whole, self.stop_all = self._line(self.tr("All motion passes"), self.stopAllWanted.emit)
        self.stop_all.setText(self.tr("Stop all"))
        self.hide()

    def show_passes(self, running: Sequence[Running]) -> None:
        """A line each, in the order in which they were begun; the line for all from two on."""
        shown = running[:LINES]
        if [one.job.clip_id for one in shown] != list(self.lines):
            self._lay_out(shown)
        for one in shown:
            self._names[one.job.clip_id].set_text(one.job.title)
            _fill(self.lines[one.job.clip_id][0], one.share, how_far(one), words_of(one))
        left = len(running) - len(shown)
        self.more.setText(self.tr("{0} more wait").format(left))
        together = progress_of(running)
        for part in (self.whole, self.stop_all):
            part.setVisible(len(running) > 1)
        self.more.setVisible(left > 0)
        if len(running) > 1:
            words = self.tr("All {0}: {1}").format(len(running), together.words) if together.words else ""
            _fill(self.whole, together.share, words, "\n".join(words_of(one) for one in running))
        self.setVisible(bool(running))

    def _lay_out(self, shown: Sequence[Running]) -> None:
        wanted = [one.job.clip_id for one in shown]
        for clip_id in [known for known in self.lines if known not in wanted]:
            for part in (*self.lines.pop(clip_id), self._names.pop(clip_id)):
                part.setParent(None)
                part.deleteLater()
        kept, self.lines = self.lines, {}
        for row, one in enumerate(shown):
            clip_id = one.job.clip_id
            bar, stop = kept.get(clip_id) or self._line(one.job.title, partial(self.stopWanted.emit, clip_id))
            self.lines[clip_id] = (bar, stop)
            if clip_id not in self._names:
                self._names[clip_id] = Elided("faint")
            self._grid.addWidget(self._names[clip_id], 2 * row, 0, 1, 2)
            self._grid.addWidget(bar, 2 * row + 1, 0)
            self._grid.addWidget(stop, 2 * row + 1, 1)
        self._grid.addWidget(self.more, 2 * LINES, 0, 1, 2)
        self._grid.addWidget(self.whole, 2 * LINES + 1, 0)
        self._grid.addWidget(self.stop_all, 2 * LINES + 1, 1)

    def _line(self, name: str, stop: Callable[[], object]) -> tuple[QProgressBar, QToolButton]:
        bar, button = QProgressBar(self), QToolButton(self)
        bar.setAccessibleName(self.tr("Progress of the motion pass: {0}").format(name))
        bar.setMinimumWidth(40)
        button.setText(self.tr("Stop"))
        button.setAccessibleName(self.tr("Stop the motion pass: {0}").format(name))
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(lambda: stop())
        return bar, button


def _fill(bar: QProgressBar, share: float | None, far: str, told: str) -> None:
    bar.setRange(0, 1000)
    bar.setValue(round(1000 * (share or 0.0)))
    bar.setFormat(as_written(far))
    bar.setToolTip(told)
    bar.setAccessibleDescription(told)
