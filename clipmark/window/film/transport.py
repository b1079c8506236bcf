"""The row under the picture: exact clock and frame, running and its speed, what repeats."""

from __future__ import annotations

from fractions import Fraction

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QFontDatabase
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QToolButton, QWidget

from clipmark.timebase import clock


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
    """Reads and buttons; the buttons press the actions that are given."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.clock = ClockEdit()
        self.frame = QLabel()
        self.frame.setAccessibleName(self.tr("Frame"))
        self.speed = QLabel()
        self.loop = QLabel()
        for label in (self.frame, self.speed, self.loop):
            label.setProperty("role", "faint")
        self.buttons: dict[str, QToolButton] = {}
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(4)

    def lay_out(self, actions: dict[str, QAction], names: tuple[tuple[str, str], ...]) -> None:
        """Buttons for the commands, each (name, sign); an empty name is a gap."""
        self._row.addWidget(self.clock)
        self._row.addWidget(self.frame)
        self._row.addStretch(1)
        for name, sign in names:
            if not name:
                self._row.addSpacing(8)
                continue
            button = _button(actions[name], sign)
            self.buttons[name] = button
            self._row.addWidget(button)
        self._row.addStretch(1)
        self._row.addWidget(self.loop)
        self._row.addWidget(self.speed)

    def show_frame(self, number: int | None, count: int, note: str = "", doubts: tuple[str, ...] = ()) -> None:
        """The frame's number and a note; a sign where something must be said of it, with the sentences as its tip."""
        text = "" if number is None else self.tr("frame {0} of {1}").format(number + 1, count)
        self.frame.setText(" · ".join(part for part in (text + (" ⚠" if doubts else ""), note) if part))
        self.frame.setToolTip(" ".join(doubts))
        self.frame.setAccessibleDescription(" ".join(doubts))

    def show_speed(self, speed: Fraction, reached: float, running: bool, sounding: bool) -> None:
        text = speed_text(speed)
        if running and reached and reached < 0.9 * float(speed):
            text = self.tr("{0} (reaches {1:.2g}×)").format(text, reached)
        self.speed.setText(text + ("" if sounding or not running else self.tr(" · silent")))

    def show_loop(self, loop: tuple[Fraction, Fraction] | None) -> None:
        self.loop.setText(self.tr("repeats {0} – {1}").format(clock(loop[0]), clock(loop[1])) if loop else "")


def _button(action: QAction, sign: str) -> QToolButton:
    button = QToolButton()
    button.setText(sign)
    button.clicked.connect(lambda: action.trigger())
    key = action.shortcut().toString()
    button.setToolTip(f"{action.text()} ({key}): {action.toolTip()}" if key else action.toolTip())
    button.setAccessibleName(action.text())
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    button.setAutoRaise(True)
    return button
