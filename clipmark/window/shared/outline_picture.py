"""The picture on which the keeper draws: a press or a box by pointer, moved and kept by keys.

It reports what was drawn; it knows neither film nor book.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from clipmark.window import theme
from clipmark.window.shared.boxes import BoxEdit, handle_at, moved_by_key
from clipmark.window.shared.picture import PictureView

_PRESS_PX = 6.0  # pixels of the screen: what is drawn smaller was a press


class OutlinePicture(PictureView):
    """Signals:
    invited(): a press on the picture is to begin an outline.
    pointed(QPointF): while a box is edited a place was pressed and nothing drawn, in pixels of the picture.
    drawn(QRectF): the outline being edited was kept, in pixels of the picture.
    dropped(): the edit was left without keeping.
    """

    drawn = Signal(QRectF)
    dropped = Signal()
    invited = Signal()
    pointed = Signal(QPointF)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._invites = False
        self._fresh: QPointF | None = None  # where a new box was begun by the press that still lasts
        self._edit: BoxEdit | None = None
        self._grip: tuple[str, QPointF, QRectF] | None = None

    @property
    def edit(self) -> BoxEdit | None:
        return self._edit

    def invite(self, on: bool) -> None:
        """Let the next press on the picture begin a box (`invited` is sent first), as nothing is outlined yet."""
        if on != self._invites:
            self._invites = on
            if self._edit is None:
                self.setCursor(Qt.CursorShape.CrossCursor) if on else self.unsetCursor()

    def begin_edit(self, part: str, rect: QRectF | None) -> None:
        """Let the keeper draw or change a box; `rect` is where it begins, None: nothing is there yet."""
        self._edit = BoxEdit(part, QRectF(rect) if rect is not None else None, self._bounds())
        self._grip = None
        self._invites = False
        self._fresh = None
        self.setFocus(Qt.FocusReason.OtherFocusReason)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.update()

    def edited_box(self) -> QRectF | None:
        """The box that is being drawn, as it is now; None where there is none yet."""
        rect = self._edit.rect if self._edit is not None else None
        return QRectF(rect) if rect is not None else None

    def end_edit(self, keep: bool) -> None:
        """Report the box (`drawn`) or its being left (`dropped`)."""
        edit, self._edit = self._edit, None
        self.unsetCursor()
        self.update()
        if edit is None:
            return
        if keep and edit.rect is not None and edit.large_enough:
            self.drawn.emit(edit.rect)
        else:
            self.dropped.emit()

    def _bounds(self) -> QRectF:
        return QRectF(0, 0, self._size[0] / self._aspect, self._size[1])

    # painting

    def paint_more(self, painter: QPainter) -> None:
        edit = self._edit
        if edit is None or edit.rect is None:
            return
        colours = theme.dark()
        corners = [(edit.rect.left(), edit.rect.top()), (edit.rect.right(), edit.rect.bottom())]
        first, last = (self.from_film(*corner) for corner in corners)
        box = QRectF(first, last).normalized()
        painter.setBrush(QColor(255, 255, 255, 30))
        for pen in (
            QPen(QColor(0, 0, 0, 200), 4),
            QPen(QColor(colours.his if edit.part == "male" else colours.hers), 2),
        ):
            painter.setPen(pen)
            painter.drawRect(box)
        painter.setPen(QPen(QColor("black"), 1))
        painter.setBrush(QColor("white"))
        side = self._handle()
        for point in edit.handles().values():
            middle = self.from_film(point.x(), point.y())
            painter.drawRect(QRectF(middle.x() - side / 2, middle.y() - side / 2, side, side))

    def _handle(self) -> float:
        return max(self.fontMetrics().height() * 0.55, 8.0)

    # pointer and keys

    def mousePressEvent(self, event: QMouseEvent) -> None:
        left = event.button() == Qt.MouseButton.LeftButton
        if not left or (self._edit is None and not self._invites):
            super().mousePressEvent(event)
            return
        self.pressed.emit()
        if self._edit is None:
            self.invited.emit()  # begins the edit that this press then draws in
        if self._edit is not None:
            self._grasp(self._edit, event.position())

    def _grasp(self, edit: BoxEdit, position: QPointF) -> None:
        at = self.to_film(position)
        name = handle_at(edit, at, self._handle() / self._scale)
        if name == "new":
            edit.rect = QRectF(at, at)
            self._fresh = at
            name = "bottom right"
        assert edit.rect is not None
        self._grip = (name, at, QRectF(edit.rect))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._grip is not None and self._edit is not None:
            name, begun, before = self._grip
            self._edit.drag(name, before, self.to_film(event.position()) - begun)
            self.update()
        else:
            super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        grip, self._grip = self._grip, None
        if grip is None or self._edit is None or self._edit.rect is None or self._fresh is None:
            return
        begun, self._fresh = self._fresh, None
        drawn = self._edit.rect
        if max(drawn.width(), drawn.height()) * self._scale < _PRESS_PX:  # pressed, not drawn
            self._edit.rect = None
            self.update()
            self.pointed.emit(begun)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self._edit is not None:
            self.end_edit(keep=True)
        else:
            super().mouseDoubleClickEvent(event)

    def event(self, event: QEvent) -> bool:
        # While a box is edited its keys win over the page's: arrows move it, Enter keeps it, Escape leaves it.
        if event.type() == QEvent.Type.ShortcutOverride and self._edit is not None:
            assert isinstance(event, QKeyEvent)
            if self._edit_key(event, try_only=True):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._edit is None or not self._edit_key(event):
            super().keyPressEvent(event)

    def _edit_key(self, event: QKeyEvent, try_only: bool = False) -> bool:
        edit = self._edit
        assert edit is not None
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            if not try_only:
                self.end_edit(keep=event.key() != Qt.Key.Key_Escape)
            return True
        changed = moved_by_key(edit, event.key(), event.modifiers(), mirrored=self._mirrored)
        if changed is None:
            return False
        if not try_only:
            edit.rect = changed
            self.update()
        return True
