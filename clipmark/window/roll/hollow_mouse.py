"""The mouse on proposals: a press selects one, an end is dragged, the second button takes it or leaves it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QHelpEvent, QMouseEvent
from PySide6.QtWidgets import QMenu, QToolTip

from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.window.roll.view import Roll

_LEAST_DRAG = 2  # pixels


class HollowMouse(QObject):
    """Sees the roll's mouse events before the roll does, and keeps those that belong to a proposal.

    Signals:
    chosen(int): number of the proposal that was pressed. endDragged(int, str, float): its "start" or "end" goes there
    (session seconds). takeWanted(int), leaveWanted(int): from the menu.
    """

    chosen = Signal(int)
    endDragged = Signal(int, str, float)
    takeWanted = Signal(int)
    leaveWanted = Signal(int)

    def __init__(self, roll: Roll):
        super().__init__(roll)
        self._roll = roll
        self._held: tuple[int, str] | None = None
        self._pressed = QPointF()
        roll.viewport().installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        kind = event.type()
        if kind == QEvent.Type.MouseButtonPress and isinstance(event, QMouseEvent):
            return event.button() == Qt.MouseButton.LeftButton and self._press(event.position())
        if kind == QEvent.Type.MouseMove and isinstance(event, QMouseEvent):
            return self._move(event)
        if kind == QEvent.Type.MouseButtonRelease and isinstance(event, QMouseEvent) and self._held is not None:
            self._release(event.position())
            return True
        if kind == QEvent.Type.ContextMenu and isinstance(event, QContextMenuEvent):
            under = self._roll.hollow_at(QPointF(event.pos()))
            if under is not None:
                self._menu(under[0], event.globalPos())
            return under is not None
        if kind == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            under = self._roll.hollow_at(QPointF(event.pos()))
            if under is not None:
                QToolTip.showText(event.globalPos(), self._roll.hollow[under[0]].told, self._roll)
            return under is not None
        return False

    def _press(self, at: QPointF) -> bool:
        under = self._roll.hollow_at(at)
        if under is None:
            return False
        self._held, self._pressed = under, at
        self.chosen.emit(under[0])
        return True

    def _move(self, event: QMouseEvent) -> bool:
        if self._held is None:
            under = self._roll.hollow_at(event.position())
            if under is not None and under[1]:
                self._roll.viewport().setCursor(Qt.CursorShape.SizeVerCursor)
                return True
            return False
        if self._held[1]:
            at = self._roll.seconds_at(event.position().y())
            QToolTip.showText(event.globalPosition().toPoint(), clock(at), self._roll)
        return True

    def _release(self, at: QPointF) -> None:
        assert self._held is not None
        (number, end), self._held = self._held, None
        if end and abs(at.y() - self._pressed.y()) >= _LEAST_DRAG:
            self.endDragged.emit(number, end, self._roll.seconds_at(at.y()))

    def _menu(self, number: int, at: QPoint) -> None:
        self.chosen.emit(number)
        menu = QMenu(self._roll)
        menu.addAction(self.tr("Take this proposal"), lambda: self.takeWanted.emit(number))
        menu.addAction(self.tr("Leave it"), lambda: self.leaveWanted.emit(number))
        menu.popup(at)
