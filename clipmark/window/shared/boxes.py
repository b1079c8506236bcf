"""A box that is being drawn on the picture: its handles, and what pointer and keys do to it. In film pixels."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt

LEAST = 4.0  # pixels of the picture: a smaller box holds nothing that could be followed

_ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, -1.0),
    Qt.Key.Key_Down: (0.0, 1.0),
}


@dataclass(slots=True)
class BoxEdit:
    """`rect` is None until something is drawn; `bounds` is the whole picture."""

    part: str
    rect: QRectF | None
    bounds: QRectF

    @property
    def large_enough(self) -> bool:
        return self.rect is not None and self.rect.width() >= LEAST and self.rect.height() >= LEAST

    def handles(self) -> dict[str, QPointF]:
        """Name and place of the eight handles; empty without a box."""
        if self.rect is None:
            return {}
        r, middle = self.rect, self.rect.center()
        return {
            "top left": r.topLeft(), "top": QPointF(middle.x(), r.top()), "top right": r.topRight(),
            "right": QPointF(r.right(), middle.y()), "bottom right": r.bottomRight(),
            "bottom": QPointF(middle.x(), r.bottom()), "bottom left": r.bottomLeft(),
            "left": QPointF(r.left(), middle.y()),
        }  # fmt: skip

    def drag(self, name: str, before: QRectF, by: QPointF) -> None:
        """The box after its handle `name` ("inside": the whole of it) was moved `by` from where it was `before`."""
        if name == "inside":
            self.rect = kept_inside(before.translated(by), self.bounds)
            return
        left, top, right, bottom = before.left(), before.top(), before.right(), before.bottom()
        left += by.x() if "left" in name else 0.0
        right += by.x() if "right" in name else 0.0
        top += by.y() if "top" in name else 0.0
        bottom += by.y() if "bottom" in name else 0.0
        box = QRectF(QPointF(left, top), QPointF(right, bottom)).normalized()
        self.rect = box.intersected(self.bounds)


def kept_inside(box: QRectF, bounds: QRectF) -> QRectF:
    """The box, moved (not shrunk, unless it is larger than the picture) until it lies inside."""
    width, height = min(box.width(), bounds.width()), min(box.height(), bounds.height())
    x = min(max(box.x(), bounds.x()), bounds.right() - width)
    y = min(max(box.y(), bounds.y()), bounds.bottom() - height)
    return QRectF(x, y, width, height)


def handle_at(edit: BoxEdit, at: QPointF, reach: float) -> str:
    """The handle within reach of a point, "inside", or "new" where a new box would begin."""
    for name, point in edit.handles().items():
        if abs(point.x() - at.x()) <= reach and abs(point.y() - at.y()) <= reach:
            return name
    return "inside" if edit.rect is not None and edit.rect.contains(at) else "new"


def _first_box(bounds: QRectF) -> QRectF:
    """In the middle, a fifth of the picture high: where the keyboard alone begins."""
    side = max(bounds.height() / 5, LEAST)
    return QRectF(bounds.center().x() - side / 2, bounds.center().y() - side / 2, side, side)


def moved_by_key(edit: BoxEdit, key: int, modifiers: Qt.KeyboardModifier, mirrored: bool = False) -> QRectF | None:
    """The box after a key; None where the key does nothing. Arrows move by a pixel, Shift by ten, Ctrl sizes.

    On a mirrored picture left and right follow the screen when moving."""
    if key not in _ARROWS:
        return None
    dx, dy = _ARROWS[Qt.Key(key)]
    far = 10.0 if modifiers & Qt.KeyboardModifier.ShiftModifier else 1.0
    box = QRectF(edit.rect) if edit.rect is not None else _first_box(edit.bounds)
    if modifiers & Qt.KeyboardModifier.ControlModifier:
        box.setWidth(max(box.width() + dx * far, LEAST))
        box.setHeight(max(box.height() + dy * far, LEAST))
    else:
        box.translate(dx * far * (-1 if mirrored else 1), dy * far)
    return kept_inside(box, edit.bounds)
