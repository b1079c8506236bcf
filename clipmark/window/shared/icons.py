"""One family of icons, drawn by ourselves on a grid of 24: the shapes that every desktop uses for the same things.

Names follow the freedesktop icon naming specification where it has one ("media-playback-start", "zoom-fit-best").
Lines and fills take the theme's colours, so an icon is seen on light and on dark ground, enabled or not.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QIconEngine, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from clipmark.window import theme

_GRID = 24.0
Shape = Callable[[QPainter], None]


def icon(name: str) -> QIcon:
    """The icon of that name.

    Raises:
        KeyError: the family has no icon of that name.
    """
    return QIcon(_Engine(_SHAPES[name]))


def names() -> tuple[str, ...]:
    """All names of the family."""
    return tuple(_SHAPES)


class _Engine(QIconEngine):
    """Draws at whatever size and in whatever theme is asked for."""

    def __init__(self, shape: Shape):
        super().__init__()
        self._shape = shape

    def clone(self) -> QIconEngine:
        return _Engine(self._shape)

    def key(self) -> str:
        return "clipmark"

    def read(self, data: object) -> bool:
        return False

    def write(self, data: object) -> bool:
        return False

    def pixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State) -> QPixmap:
        picture = QPixmap(size)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        self.paint(painter, picture.rect(), mode, state)
        painter.end()
        return picture

    def paint(self, painter: QPainter, rect: object, mode: QIcon.Mode, state: QIcon.State) -> None:
        look = theme.current()
        colour = QColor(look.faint if mode == QIcon.Mode.Disabled else look.text)
        if mode == QIcon.Mode.Disabled:
            colour.setAlpha(110)
        if state == QIcon.State.On:
            colour = QColor(look.on_accent)
        place = QRectF(rect)  # type: ignore[call-overload]
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(place.topLeft())
        painter.scale(place.width() / _GRID, place.height() / _GRID)
        pen = QPen(colour, 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(colour)
        self._shape(painter)
        painter.restore()


def _triangle(painter: QPainter, left: float, right: float, top: float = 6, bottom: float = 18) -> None:
    """A filled triangle whose tip lies at `right` (left of `left` for one that looks back)."""
    middle = (top + bottom) / 2
    painter.drawPolygon(QPolygonF([QPointF(left, top), QPointF(right, middle), QPointF(left, bottom)]))


def _bar(painter: QPainter, x: float, wide: float = 2.0) -> None:
    painter.drawRect(QRectF(x, 6, wide, 12))


def _play(painter: QPainter) -> None:
    _triangle(painter, 8, 18, 5, 19)


def _pause(painter: QPainter) -> None:
    _bar(painter, 7, 3)
    _bar(painter, 14, 3)


def _stop(painter: QPainter) -> None:
    painter.drawRect(QRectF(7, 7, 10, 10))


def _step_on(painter: QPainter) -> None:
    _bar(painter, 6)
    _triangle(painter, 11, 18)


def _step_back(painter: QPainter) -> None:
    _bar(painter, 16)
    _triangle(painter, 13, 6)


def _skip_on(painter: QPainter) -> None:
    _triangle(painter, 5, 11)
    _triangle(painter, 12, 18)


def _skip_back(painter: QPainter) -> None:
    _triangle(painter, 19, 13)
    _triangle(painter, 12, 6)


def _outlined(painter: QPainter) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _repeat(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawArc(QRectF(5, 6, 14, 12), 60 * 16, 250 * 16)
    painter.setBrush(painter.pen().color())
    painter.drawPolygon(QPolygonF([QPointF(13, 3.5), QPointF(18, 6.5), QPointF(13, 9.5)]))


def _slower(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawLine(QPointF(6, 12), QPointF(18, 12))


def _faster(painter: QPainter) -> None:
    _slower(painter)
    painter.drawLine(QPointF(12, 6), QPointF(12, 18))


def _outline(painter: QPainter) -> None:
    _outlined(painter)
    pen = painter.pen()
    pen.setDashPattern([2.0, 2.0])
    painter.setPen(pen)
    painter.drawEllipse(QRectF(4, 6.5, 16, 11))


def _search(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawEllipse(QRectF(4, 4, 11, 11))
    painter.drawLine(QPointF(14, 14), QPointF(20, 20))


def _fit(painter: QPainter) -> None:
    _outlined(painter)
    for x, y, dx, dy in ((4, 6, 1, 1), (20, 6, -1, 1), (4, 18, 1, -1), (20, 18, -1, -1)):
        painter.drawPolyline(QPolygonF([QPointF(x + 4 * dx, y), QPointF(x, y), QPointF(x, y + 4 * dy)]))


def _real(painter: QPainter) -> None:
    _outlined(painter)
    for x in (7.0, 17.0):
        painter.drawPolyline(QPolygonF([QPointF(x - 2, 9), QPointF(x, 7), QPointF(x, 17)]))
    for y in (10.5, 14.5):
        painter.drawPoint(QPointF(12, y))


def _strip(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawRect(QRectF(3, 8, 18, 8))
    painter.drawLine(QPointF(9, 8), QPointF(9, 16))
    painter.drawLine(QPointF(15, 8), QPointF(15, 16))


def _full_screen(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawRect(QRectF(4, 6, 16, 12))
    painter.drawLine(QPointF(14, 12), QPointF(18, 8))
    painter.drawLine(QPointF(10, 12), QPointF(6, 16))


def _save(painter: QPainter) -> None:
    _outlined(painter)
    painter.drawPolyline(QPolygonF([QPointF(4, 15), QPointF(4, 19), QPointF(20, 19), QPointF(20, 15)]))
    painter.drawLine(QPointF(12, 4), QPointF(12, 13))
    painter.drawPolyline(QPolygonF([QPointF(8, 10), QPointF(12, 14), QPointF(16, 10)]))


def _add(painter: QPainter) -> None:
    _faster(painter)


def _pin(painter: QPainter) -> None:
    _outlined(painter)
    path = QPainterPath(QPointF(8, 4))
    path.lineTo(16, 4)
    path.lineTo(15, 10)
    path.lineTo(18, 14)
    path.lineTo(6, 14)
    path.lineTo(9, 10)
    path.closeSubpath()
    painter.drawPath(path)
    painter.drawLine(QPointF(12, 14), QPointF(12, 20))


_SHAPES: dict[str, Shape] = {
    "media-playback-start": _play,
    "media-playback-pause": _pause,
    "media-playback-stop": _stop,
    "media-seek-forward": _skip_on,
    "media-seek-backward": _skip_back,
    "step-forward": _step_on,
    "step-back": _step_back,
    "media-playlist-repeat": _repeat,
    "list-remove": _slower,
    "list-add": _add,
    "zoom-fit-best": _fit,
    "zoom-original": _real,
    "view-fullscreen": _full_screen,
    "edit-find": _search,
    "document-save": _save,
    "outline": _outline,
    "strip": _strip,
    "pin": _pin,
}
