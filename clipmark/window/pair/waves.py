"""Two recordings drawn one under the other, the second moved: what the ear would compare, for the eye."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from clipmark.report.films.listening import Heard
from clipmark.review.roll_model import Curve
from clipmark.timebase import clock
from clipmark.window import theme


class WavePair(QWidget):
    """The first recording above; the second below, `shift` seconds later on the first one's time.

    Signals:
        shifted(float): the keeper moved the second one, by arrow keys (10 ms, with Shift 1 ms) or by dragging.
    """

    shifted = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self._pair: tuple[Heard, Heard] | None = None
        self._names = ("", "")
        self._curves: tuple[Curve, Curve] | None = None
        self.shift = 0.0
        self._span = (0.0, 1.0)
        self._grip: tuple[float, float] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(self.tr("The sound of both clips"))
        self.setAccessibleDescription(
            self.tr("Left and Right move the second clip by 10 ms, with Shift by 1 ms; plus and minus zoom.")
        )

    def show_pair(self, first: Heard, second: Heard, shift: float, names: tuple[str, str] = ("", "")) -> None:
        self._pair, self._names = (first, second), names
        self._curves = tuple(Curve(h.times, h.levels) for h in (first, second))  # type: ignore[assignment]
        self.shift = shift
        ends = (first.times[-1], second.times[-1] + shift)
        self._span = (min(0.0, shift), max(float(max(ends)), 0.1))
        self.update()

    def show_busiest(self, seconds: float = 6.0) -> None:
        """Zoom to where both were struck most often: there a shift shows best."""
        if self._pair is None:
            return
        one, two = self._pair[0].onsets, self._pair[1].onsets + self.shift
        low = max(self._pair[0].times[0], self._pair[1].times[0] + self.shift)
        high = min(self._pair[0].times[-1], self._pair[1].times[-1] + self.shift)
        starts = np.arange(low, max(high - seconds, low) + 1e-6, 0.5)
        counts = [np.sum((one >= s) & (one < s + seconds)) * np.sum((two >= s) & (two < s + seconds)) for s in starts]
        if counts and max(counts) > 0:
            best = float(starts[int(np.argmax(counts))])
            self._span = (best, best + seconds)
            self.update()

    def sizeHint(self) -> QSize:
        em = self.fontMetrics().height()
        return QSize(30 * em, 11 * em)

    def minimumSizeHint(self) -> QSize:
        em = self.fontMetrics().height()
        return QSize(14 * em, 9 * em)

    def _x(self, seconds: float) -> float:
        first, last = self._span
        return (seconds - first) / (last - first) * self.width()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, em = theme.current(), self.fontMetrics().height()
        painter.fillRect(self.rect(), QColor(look.panel))
        if self._pair is None or self._curves is None:
            painter.end()
            return
        lane = (self.height() - 1.4 * em) / 2
        for number, (heard, curve, colour) in enumerate(
            zip(self._pair, self._curves, (look.his, look.hers), strict=True)
        ):
            top = number * lane
            move = self.shift if number else 0.0
            self._lane(painter, curve, move, QRectF(0, top, self.width(), lane), QColor(colour))
            painter.setPen(QPen(QColor(look.text), 1.2))
            for at in heard.onsets:
                x = self._x(float(at) + move)
                if -1 <= x <= self.width():
                    inner, outer = (top + lane, top + lane - 0.8 * em) if number == 0 else (top, top + 0.8 * em)
                    painter.drawLine(QLineF(x, inner, x, outer))
            painter.setPen(QColor(look.text))
            y = top + 2 if number == 0 else top + lane - em - 2
            painter.drawText(
                QRectF(6, y, self.width() - 12, em), int(Qt.AlignmentFlag.AlignLeft), self._names[number]
            )
        painter.setPen(QColor(look.faint))
        line = QRectF(0, self.height() - 1.3 * em, self.width(), 1.2 * em)
        painter.drawText(line, int(Qt.AlignmentFlag.AlignLeft), clock(self._span[0], 2))
        painter.drawText(line, int(Qt.AlignmentFlag.AlignRight), clock(self._span[1], 2))
        if self.hasFocus():
            painter.setPen(QPen(QColor(look.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _lane(self, painter: QPainter, curve: Curve, move: float, room: QRectF, colour: QColor) -> None:
        width = max(int(room.width()), 1)
        values = curve.rows(self._span[0] - move, self._span[1] - move, width)
        known = np.isfinite(values)
        middle, half = room.center().y(), room.height() / 2 - 2
        edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
        colour.setAlphaF(0.75)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            up = [QPointF(x, middle - float(values[x]) * half) for x in range(first, last)]
            down = [QPointF(x, middle + float(values[x]) * half) for x in range(last - 1, first - 1, -1)]
            painter.drawPolygon(QPolygonF(up + down))

    def _move(self, by: float) -> None:
        self.shift = round(self.shift + by, 6)
        self.shifted.emit(self.shift)
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = 0.001 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 0.01
        if event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._move(-step if event.key() == Qt.Key.Key_Left else step)
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            self._zoom(1.5 if event.key() == Qt.Key.Key_Minus else 1 / 1.5, self.width() / 2)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._grip = (event.position().x(), self.shift)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._grip is not None:
            seconds = (event.position().x() - self._grip[0]) / max(self.width(), 1) * (self._span[1] - self._span[0])
            self._move(self._grip[1] + seconds - self.shift)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._grip = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        self._zoom(1.0018 ** -event.angleDelta().y(), event.position().x())
        event.accept()

    def _zoom(self, factor: float, x: float) -> None:
        first, last = self._span
        under = first + x / max(self.width(), 1) * (last - first)
        wide = min(max((last - first) * factor, 0.05), 36_000.0)
        share = (under - first) / (last - first)
        self._span = (under - share * wide, under + (1 - share) * wide)
        self.update()
