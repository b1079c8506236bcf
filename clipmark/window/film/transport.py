"""The row under the picture: exact clock and frame, running and its speed, what repeats."""

from __future__ import annotations

from fractions import Fraction

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QAction, QFontDatabase
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QSizePolicy, QToolButton, QWidget

from clipmark.timebase import clock
from clipmark.window.shared.icons import icon
from clipmark.window.shared.parts import Elided


def speed_text(speed: Fraction) -> str:
    return f"{speed.numerator}×" if speed.denominator == 1 else f"{speed.numerator}/{speed.denominator}×"


class ClockEdit(QLineEdit):
    """The session clock; type a time and Enter to go there. Signals: typed(str)."""

    typed = Signal(str)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setFixedWidth(self.fontMetrics().horizontalAdvance("−0:00:00.000") + 20)
        self.setAccessibleName(self.tr("Session clock; type a time to go there"))
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.returnPressed.connect(self._typed)

    def show_place(self, place: Fraction) -> None:
        if not self.hasFocus():
            self.setText(clock(place))

    def _typed(self) -> None:
        self.clearFocus()
        self.typed.emit(self.text())


class Transport(QWidget):
    """Reads and buttons; the buttons press the actions that are given. What they read never moves them: each text
    has a place of a fixed width, and is elided with a tool tip where it does not fit."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.clock = ClockEdit()
        self.frame, self.speed, self.loop = Elided("faint"), Elided("faint"), Elided("faint")
        self.frame.setAccessibleName(self.tr("Frame"))
        wide = self.fontMetrics().horizontalAdvance
        for part, longest in ((self.frame, "00000 of 00000 ⚠"), (self.speed, "1/16× · silent ")):
            part.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Preferred)
            part.setFixedWidth(wide(longest))
        self.loop.setMinimumWidth(0)
        self.buttons: dict[str, QToolButton] = {}
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(2)

    def lay_out(self, actions: dict[str, QAction], names: tuple[tuple[str, str, str], ...]) -> None:
        """Buttons for the commands, each (name, icon, words); words may be empty; an empty name is a gap."""
        self._row.addWidget(self.clock)
        self._row.addWidget(self.frame)
        for name, sign, words in names:
            if not name:
                self._row.addSpacing(10)
                continue
            button = _button(actions[name], sign, words)
            self.buttons[name] = button
            self._row.addWidget(button)
            if name == "play.faster":
                self._row.addWidget(self.speed)
        self._row.addWidget(self.loop, 1)

    def show_frame(self, number: int | None, count: int, note: str = "", doubts: tuple[str, ...] = ()) -> None:
        """The frame's number and a note; a sign where something must be said of it, with the sentences as its tip."""
        text = "" if number is None else self.tr("{0} of {1}").format(number + 1, count)
        self.frame.set_text(" · ".join(part for part in (text + (" ⚠" if doubts else ""), note) if part))
        if doubts:
            self.frame.setToolTip(" ".join(doubts))
        self.frame.setAccessibleDescription(" ".join(doubts))

    def show_speed(self, speed: Fraction, reached: float, running: bool, sounding: bool) -> None:
        text = speed_text(speed)
        if running and reached and reached < 0.9 * float(speed):
            text = self.tr("{0} (reaches {1:.2g}×)").format(text, reached)
        self.speed.set_text(text + ("" if sounding or not running else self.tr(" · silent")))

    def show_running(self, running: bool) -> None:
        """Play becomes Pause while the film plays."""
        button = self.buttons.get("play.toggle")
        if button is not None:
            button.setIcon(icon("media-playback-pause" if running else "media-playback-start"))

    def show_loop(self, loop: tuple[Fraction, Fraction] | None) -> None:
        button = self.buttons.get("play.loop")
        if button is not None:
            button.setCheckable(True)
            button.setChecked(loop is not None)
        self.loop.set_text(self.tr("repeats {0} – {1}").format(clock(loop[0]), clock(loop[1])) if loop else "")


def _button(action: QAction, sign: str, words: str) -> QToolButton:
    button = QToolButton()
    if sign:
        button.setIcon(icon(sign))
        side = round(1.15 * button.fontMetrics().height())
        button.setIconSize(QSize(side, side))
    if words:
        button.setText(words)
        style = Qt.ToolButtonStyle.ToolButtonTextBesideIcon if sign else Qt.ToolButtonStyle.ToolButtonTextOnly
        button.setToolButtonStyle(style)
    button.clicked.connect(lambda: action.trigger())
    key = action.shortcut().toString()
    button.setToolTip(f"{action.text()} ({key}): {action.toolTip()}" if key else action.toolTip())
    button.setAccessibleName(action.text())
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
