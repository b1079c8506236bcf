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
    """Session seconds; `end` is None for a moment. `actor` as in the book, `label` the act in the keeper's words."""

    start: float
    end: float | None
    actor: str
    selected: bool = False
    label: str = ""


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
        side = _SIDES.get(bar.actor, Side.LINE)
        left, wide = across.bar_at(side, 1 if side is not Side.LINE else 0)
        if side is Side.LINE:
            left, wide = across.line - 5.0, 10.0
        top = view.y(bar.start)
        _name(painter, bar, (left, wide, top), across, look)
        if bar.end is None:
            middle, half = left + wide / 2, max(wide / 2, 4.0)
            points = ((middle, top - half), (middle + half, top), (middle, top + half), (middle - half, top))
            for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True):
                painter.drawLine(QLineF(x0, y0, x1, y1))
        else:
            painter.drawRect(QRectF(left, top, wide, max(view.y(bar.end) - top, 3.0)))


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
