"""The slow loop round one pull: its frames over and over, at a part of their own speed, at the times they have."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QComboBox, QToolButton, QVBoxLayout, QWidget

from clipmark.media.picture import Picture
from clipmark.timebase import clock
from clipmark.window.shared.parts import label, row
from clipmark.window.shared.picture import PictureView

SPEEDS = ("1/16", "1/8", "1/4", "1/2", "1")
_REST_MS = 350  # the last frame stays a little, so that the jump back is not taken for movement


class Loop(QWidget):
    """Signals:
    shown(int): this frame of the film (its position in the index) is on the screen.
    speedChosen(str): the keeper chose another speed, one of SPEEDS.
    """

    shown = Signal(int)
    speedChosen = Signal(str)

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
        self.hold = QToolButton()
        self.hold.setCheckable(True)
        self.hold.setText(self.tr("Hold"))
        self.hold.setToolTip(self.tr("Stop the loop on this frame; , and . then step through it (Space)"))
        self.hold.toggled.connect(self._held)
        self.outline = QToolButton()
        self.outline.setCheckable(True)
        self.outline.setText(self.tr("Outline"))
        self.outline.setToolTip(self.tr("Show the abdomen as the motion pass followed it"))
        self.outline.toggled.connect(lambda _: self._show())
        self.told = label("", "faint", wrap=False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.picture, 1)
        column.addLayout(row(self.told, 1, self.outline, self.hold, self.speed))
        self._frames: Sequence[Picture] = ()
        self._times: list[Fraction] = []
        self._zero = Fraction(0)
        self._at = 0
        self._awake = False
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._next)

    def show_nothing(self, why: str) -> None:
        self._frames, self._times = (), []
        self._timer.stop()
        self.told.clear()
        self.picture.show_nothing(why)

    def show_frames(
        self, frames: Sequence[Picture], times: Sequence[Fraction], zero: Fraction, first: int = 0
    ) -> None:
        """Loop over frames with the session times at which they are on screen; `zero` is the pull's onset."""
        self._frames, self._times, self._zero = frames, list(times), zero
        self._at = min(first, max(len(frames) - 1, 0))
        self._show()

    def wake(self) -> None:
        """Play; a page that is not on view lets its loop sleep."""
        self._awake = True
        self._show()

    def sleep(self) -> None:
        self._awake = False
        self._timer.stop()

    def step(self, frames: int) -> None:
        """Hold, and show a neighbouring frame of the loop."""
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

    def _held(self, held: bool) -> None:
        if held:
            self._timer.stop()
        else:
            self._show()

    def _next(self) -> None:
        if self._frames:
            self._at = (self._at + 1) % len(self._frames)
            self._show()

    def _show(self) -> None:
        if not self._frames:
            return
        picture, at = self._frames[self._at], self._times[self._at]
        self.picture.show_picture(picture)
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
