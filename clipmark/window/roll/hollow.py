"""Proposals on the roll: hollow bars beside the marks with the act's name, his left of the line, hers right of it."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from clipmark.review.roll_geometry import Columns, View
from clipmark.review.roll_model import Side
from clipmark.window.roll.look import Look

_SIDES = {"him": Side.HIM, "her": Side.HER}


@dataclass(frozen=True, slots=True)
class HollowBar:
    """Session seconds; `end` is None for a moment. `actor` as in the book, `label` the act in the keeper's words,
    `told` all of it in words."""

    start: float
    end: float | None
    actor: str
    selected: bool = False
    label: str = ""
    told: str = ""


_REACH = 5.0  # pixels about an end that take hold of it


def room_of(bar: HollowBar, view: View, across: Columns) -> QRectF:
    """Where a proposal is drawn; a moment's lozenge has its middle at its time."""
    side = _SIDES.get(bar.actor, Side.LINE)
    left, wide = across.bar_at(side, 1 if side is not Side.LINE else 0)
    if side is Side.LINE:
        left, wide = across.line - 5.0, 10.0
    top = view.y(bar.start)
    if bar.end is None:
        half = max(wide / 2, 4.0)
        return QRectF(left + wide / 2 - half, top - half, 2 * half, 2 * half)
    return QRectF(left, top, wide, max(view.y(bar.end) - top, 3.0))


def bar_under(bars: tuple[HollowBar, ...], view: View, across: Columns, at: QPointF) -> tuple[int, str] | None:
    """Number of the proposal at a point and which end is taken hold of there ("start", "end" or ""); the nearest
    where several lie there; None where none does."""
    best, least = None, _REACH
    for number, bar in enumerate(bars):
        room = room_of(bar, view, across)
        if not room.left() - 3 <= at.x() <= room.right() + 3:
            continue
        beyond = max(room.top() - at.y(), at.y() - room.bottom(), 0.0)
        if beyond > least or (best is not None and beyond == least):
            continue
        ends = (abs(at.y() - room.top()), abs(at.y() - room.bottom()))
        reach = min(_REACH, max(room.height() / 4, 1.5))
        end = "" if bar.end is None or min(ends) > reach else "start" if ends[0] < ends[1] else "end"
        best, least = (number, end), beyond
    return best


def paint_hollow(painter: QPainter, bars: tuple[HollowBar, ...], view: View, across: Columns, look: Look) -> None:
    """Draw the proposals on view: a hollow bar for what lasts, a hollow lozenge for a moment."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for bar in bars:
        end = bar.start if bar.end is None else bar.end
        if end < view.top or bar.start > view.bottom:
            continue
        pen = QPen(look.ink, 2.4 if bar.selected else 1.2)
        if not bar.selected:
            pen.setDashPattern([3.0, 2.0])
        painter.setPen(pen)
        room = room_of(bar, view, across)
        left, wide, top = room.left(), room.width(), view.y(bar.start)
        _name(painter, bar, (left, wide, top), across, look)
        if bar.end is None:
            middle, half = left + wide / 2, max(wide / 2, 4.0)
            points = ((middle, top - half), (middle + half, top), (middle, top + half), (middle - half, top))
            for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True):
                painter.drawLine(QLineF(x0, y0, x1, y1))
        else:
            painter.drawRect(room)


def _name(painter: QPainter, bar: HollowBar, place: tuple[float, float, float], across: Columns, look: Look) -> None:
    """The act's name beside its bar where there is room: his to the left, the others to the right."""
    left, wide, top = place
    pen = painter.pen()
    painter.setPen(QPen(look.ink if bar.selected else look.soft, 1))
    his = bar.actor == "him"
    room = left - 6 - across.his_left if his else across.width - (left + wide) - 10
    text = look.metrics.elidedText(bar.label, Qt.TextElideMode.ElideRight, max(int(room), 0))
    at = left - 6 - look.metrics.horizontalAdvance(text) if his else left + wide + 6
    painter.drawText(QPointF(at, top + look.metrics.ascent() / 2), text)
    painter.setPen(pen)
