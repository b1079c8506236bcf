"""Her abdomen's movement round one pull, drawn over time, with onset, full pull and release."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from clipmark.motion.result import Floats
from clipmark.window import theme


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Session times and, at each, pull in abdomen lengths and tilt in degrees (NaN: not followed)."""

    times: Floats
    pull: Floats
    tilt: Floats


class TraceStrip(QWidget):
    """Signals:
    placeWanted(Fraction): the keeper pointed at a time."""

    placeWanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._moves: Moves | None = None
        self._ticks: tuple[tuple[float, str], ...] = ()
        self._place: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Movement of her abdomen"))

    def show_moves(self, moves: Moves | None, ticks: tuple[tuple[float, str], ...], told: str = "") -> None:
        """`ticks`: named times (onset, full pull, release). `told` describes the same in words."""
        self._moves, self._ticks = moves, ticks
        self.setAccessibleDescription(told)
        self.update()

    def set_place(self, seconds: float | None) -> None:
        self._place = seconds
        self.update()

    def sizeHint(self) -> QSize:
        em = self.fontMetrics().height()
        return QSize(20 * em, 7 * em)

    def _room(self) -> QRectF:
        em = self.fontMetrics().height()
        return QRectF(3.4 * em, 1.3 * em, self.width() - 6.6 * em, self.height() - 1.7 * em)

    def _x(self, seconds: float) -> float:
        assert self._moves is not None
        first, last = float(self._moves.times[0]), float(self._moves.times[-1])
        room = self._room()
        return room.left() + (seconds - first) / max(last - first, 1e-6) * room.width()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, room = theme.current(), self._room()
        painter.fillRect(room, QColor(look.panel))
        if self._moves is None or not np.isfinite(self._moves.pull).any():
            painter.setPen(QColor(look.faint))
            words = self.tr("Her abdomen was not followed here: there is no trace.")
            painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap), words)
            painter.end()
            return
        self._ticks_drawn(painter, room, look)
        most_pull = max(float(np.nanmax(self._moves.pull)), 0.1)
        most_tilt = max(float(np.nanmax(np.abs(self._moves.tilt))), 5.0)
        self._curve(painter, room, np.abs(self._moves.tilt) / most_tilt, QColor(look.hers), dashed=True)
        self._curve(painter, room, self._moves.pull / most_pull, QColor(look.accent), dashed=False)
        self._scales(painter, room, look, most_pull, most_tilt)
        if self._place is not None:
            painter.setPen(QPen(QColor(look.place), 2))
            x = self._x(self._place)
            painter.drawLine(QLineF(x, room.top(), x, room.bottom()))
        painter.end()

    def _ticks_drawn(self, painter: QPainter, room: QRectF, look: theme.Theme) -> None:
        reached = -1e9
        metrics = self.fontMetrics()
        for seconds, name in self._ticks:
            x = self._x(seconds)
            painter.setPen(QPen(QColor(look.faint), 1, Qt.PenStyle.DashLine))
            painter.drawLine(QLineF(x, room.top(), x, room.bottom()))
            wide = metrics.horizontalAdvance(name)
            left = max(min(x - wide / 2, self.width() - wide - 2), reached + 8)
            painter.setPen(QColor(look.text))
            painter.drawText(QPointF(left, metrics.ascent()), name)
            reached = left + wide

    def _curve(self, painter: QPainter, room: QRectF, shares: Floats, colour: QColor, dashed: bool) -> None:
        assert self._moves is not None
        path, pen_down = QPainterPath(), False
        for seconds, share in zip(self._moves.times.tolist(), shares.tolist(), strict=True):
            if not np.isfinite(share):
                pen_down = False
                continue
            point = QPointF(self._x(seconds), room.bottom() - share * (room.height() - 2))
            if pen_down:
                path.lineTo(point)
            else:
                path.moveTo(point)
            pen_down = True
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(
            QPen(colour, 1.6 if dashed else 2.4, Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine)
        )
        painter.drawPath(path)

    def _scales(self, painter: QPainter, room: QRectF, look: theme.Theme, pull: float, tilt: float) -> None:
        em = self.fontMetrics().height()
        painter.setPen(QPen(QColor(look.line), 1))
        painter.drawRect(room)
        right, left = Qt.AlignmentFlag.AlignRight, Qt.AlignmentFlag.AlignLeft
        for y, amount in ((room.top(), pull), (room.bottom() - em, 0.0)):
            painter.setPen(QColor(look.accent))
            painter.drawText(QRectF(0, y, room.left() - 5, em), int(right), f"{amount:.2f}")
        for y, amount in ((room.top(), tilt), (room.bottom() - em, 0.0)):
            painter.setPen(QColor(look.hers))
            painter.drawText(QRectF(room.right() + 5, y, 3 * em, em), int(left), f"{amount:.0f}°")
        middle = room.center().y() - em / 2
        painter.setPen(QColor(look.accent))
        painter.drawText(QRectF(0, middle, room.left() - 5, em), int(right), self.tr("pull ─"))
        painter.setPen(QColor(look.hers))
        painter.drawText(QRectF(room.right() + 5, middle, 3.2 * em, em), int(left), self.tr("┄ tilt"))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self._moves is None:
            return
        room = self._room()
        share = min(max((event.position().x() - room.left()) / max(room.width(), 1), 0.0), 1.0)
        first, last = float(self._moves.times[0]), float(self._moves.times[-1])
        self.placeWanted.emit(Fraction(round((first + share * (last - first)) * 1_000_000), 1_000_000))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton:
            self.mousePressEvent(event)
