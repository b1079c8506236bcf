"""The slow loop round one pull: its frames over and over, at a part of their own speed, at the times they have."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QToolButton, QVBoxLayout, QWidget

from clipmark.media.frames.picture import Picture
from clipmark.timebase import clock
from clipmark.window.shared.icons import icon
from clipmark.window.shared.parts import label, row
from clipmark.window.shared.picture import PictureView

SPEEDS = ("1/16", "1/8", "1/4", "1/2", "1")
_REST_MS = 350  # the last frame stays a little, so that the jump back is not taken for movement


class Loop(QWidget):
    """Signals:
    shown(int): this frame of the film (its position in the index) is on the screen.
    speedChosen(str): the keeper chose another speed, one of SPEEDS.
    pinned(): the keeper wants the frame on the screen to stand beside the loop.
    """

    shown = Signal(int)
    speedChosen = Signal(str)
    pinned = Signal()

    def __init__(self, speed: str = "1/4"):
        super().__init__()
        self.picture = PictureView()
        self.picture.setAccessibleName(self.tr("Slow loop round the pull"))
        self.speed = QComboBox()
        self.speed.setAccessibleName(self.tr("Speed of the loop"))
        for text in SPEEDS:
            self.speed.addItem("×" + text, text)
        self.speed.setCurrentIndex(max(SPEEDS.index(speed) if speed in SPEEDS else 2, 0))
        self.speed.activated.connect(lambda _: self.speedChosen.emit(self.speed.currentData()))
        self.hold = _toggle(self.tr("Pause"), self.tr("Pause the loop on this frame; , and . then step through it"))
        self.hold.setIcon(icon("media-playback-pause"))
        self.hold.toggled.connect(self._held)
        self.whole = _toggle(self.tr("Whole picture"), self.tr("Show the whole picture instead of her abdomen"))
        self.whole.toggled.connect(lambda _: self._place_view())
        self.outline = _toggle(self.tr("Outline"), self.tr("Show the abdomen as the motion pass followed it"))
        self.outline.toggled.connect(lambda _: self._show())
        self.pin = QToolButton()
        self.pin.setIcon(icon("pin"))
        self.pin.setText(self.tr("Pin"))
        self.pin.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.pin.setToolTip(self.tr("Keep this frame beside the loop, also while another pull is on view"))
        self.pin.clicked.connect(lambda _=False: self.pinned.emit())
        self.told = label("", "faint", wrap=False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.picture, 1)
        column.addLayout(row(self.told, 1, self.whole, self.outline, self.pin, self.hold, self.speed))
        self._frames: Sequence[Picture] = ()
        self._times: list[Fraction] = []
        self._centres: NDArray[np.float64] | None = None
        self._span = 0.0
        self._zero = Fraction(0)
        self._at = 0
        self._awake = False
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._next)

    def show_nothing(self, why: str) -> None:
        self._frames, self._times, self._centres = (), [], None
        self._timer.stop()
        self.told.clear()
        self.picture.show_nothing(why)

    def show_frames(
        self,
        frames: Sequence[Picture],
        times: Sequence[Fraction],
        zero: Fraction,
        centres: NDArray[np.float64] | None = None,
        span: float = 0.0,
    ) -> None:
        """Loop over frames with the session times at which they are on screen; `zero` is the pull's onset.

        `centres` (k, 2) and `span`: where to look on each frame and how wide, film pixels; None: the whole picture.
        """
        self._frames, self._times, self._zero = frames, list(times), zero
        self._centres, self._span = centres, span
        self.whole.setEnabled(centres is not None)
        self._at = 0
        self._show()

    def wake(self) -> None:
        """Play; a page that is not on view lets its loop sleep."""
        self._awake = True
        self._show()

    def sleep(self) -> None:
        self._awake = False
        self._timer.stop()

    def step(self, frames: int) -> None:
        """Pause, and show a neighbouring frame of the loop."""
        self.hold.setChecked(True)
        if self._frames:
            self._at = (self._at + frames) % len(self._frames)
            self._show()

    def seek(self, place: Fraction) -> None:
        """Show the frame that is on screen at a session time."""
        if self._times:
            self._at = max(sum(1 for at in self._times if at <= place) - 1, 0)
            self._show()

    @property
    def place(self) -> Fraction | None:
        """Session time of the frame on the screen."""
        return self._times[self._at] if self._times else None

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        QTimer.singleShot(0, self, self._place_view)

    def _held(self, held: bool) -> None:
        if held:
            self._timer.stop()
        else:
            self._show()

    def _next(self) -> None:
        if self._frames:
            self._at = (self._at + 1) % len(self._frames)
            self._show()

    def _place_view(self) -> None:
        """Look at her, the ground held still; or at the whole picture."""
        if self._centres is not None and self._at < len(self._centres) and not self.whole.isChecked():
            x, y = self._centres[self._at].tolist()
            self.picture.look_at(x, y, self._span)
        elif self._frames:
            self.picture.fit()

    def _show(self) -> None:
        if not self._frames:
            return
        picture, at = self._frames[self._at], self._times[self._at]
        self.picture.show_picture(picture)
        self._place_view()
        offset = float(at - self._zero)
        self.told.setText(
            self.tr("{time}   {offset:+.3f} s from the onset").format(time=clock(at), offset=offset).replace("-", "−")
        )
        self.shown.emit(picture.number)
        if self._awake and not self.hold.isChecked():
            self._timer.start(self._wait_ms())

    def _wait_ms(self) -> int:
        if self._at + 1 >= len(self._times):
            return _REST_MS
        speed = Fraction(self.speed.currentData())
        return max(round(float((self._times[self._at + 1] - self._times[self._at]) / speed) * 1_000), 1)


def _toggle(text: str, tip: str) -> QToolButton:
    made = QToolButton()
    made.setCheckable(True)
    made.setText(text)
    made.setToolTip(tip)
    made.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
    return made
