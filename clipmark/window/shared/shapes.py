"""What is drawn over a picture: outlines, the followed outline and its trail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from clipmark.window import theme


@dataclass(frozen=True, slots=True)
class Shape:
    """Something drawn over the picture, in its pixels: a closed polygon, or a trail where `closed` is False.

    kind: "abdomen", "carapace", "male", "followed", "trail"; each has its own line, not only its own colour."""

    kind: str
    points: tuple[tuple[float, float], ...]
    closed: bool = True


def paint_shape(painter: QPainter, shape: Shape, placed: Callable[[float, float], QPointF]) -> None:
    """Draw a shape over a picture; `placed` gives the point of the widget for pixels of the picture."""
    colours = theme.dark()  # over a picture, which is dark or bright as it likes, on a dark edge of its own
    colour = {"male": colours.his, "followed": colours.flag, "trail": colours.flag}.get(shape.kind, colours.hers)
    style = {"carapace": Qt.PenStyle.DashLine, "followed": Qt.PenStyle.SolidLine, "trail": Qt.PenStyle.DotLine}
    line = QPolygonF([placed(x, y) for x, y in shape.points])
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for pen in (
        QPen(QColor(0, 0, 0, 170), 4),
        QPen(QColor(colour), 2, style.get(shape.kind, Qt.PenStyle.SolidLine)),
    ):
        painter.setPen(pen)
        if shape.closed:
            painter.drawPolygon(line)
        else:
            painter.drawPolyline(line)
