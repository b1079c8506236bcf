"""Proposals on the roll: hollow bars beside the marks, his left of the line, hers right of it; the one that is selected
has a thicker edge."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from clipmark.review.roll_geometry import Columns, View
from clipmark.review.roll_model import Side
from clipmark.window.roll.look import Look

_SIDES = {"him": Side.HIM, "her": Side.HER}


@dataclass(frozen=True, slots=True)
class HollowBar:
    """Session seconds; `end` is None for a moment. `actor` as in the book."""

    start: float
    end: float | None
    actor: str
    selected: bool = False


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
        if bar.end is None:
            middle, half = left + wide / 2, max(wide / 2, 4.0)
            points = ((middle, top - half), (middle + half, top), (middle, top + half), (middle - half, top))
            for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True):
                painter.drawLine(QLineF(x0, y0, x1, y1))
        else:
            painter.drawRect(QRectF(left, top, wide, max(view.y(bar.end) - top, 3.0)))
