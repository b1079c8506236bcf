"""The strip: the frames round the present one, small, each with its exact time. A click goes to a frame."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QImage, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from clipmark.window import theme

if TYPE_CHECKING:
    from clipmark.media.frames.picture import Picture

Fetch = Callable[[int], "Picture | None"]
Words = Callable[[int], str]


class Strip(QWidget):
    """Signals: wanted(int): the keeper pointed at this frame."""

    wanted = Signal(int)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._number: int | None = None
        self._count = 0
        self._shape = 16 / 9
        self._fetch: Fetch | None = None
        self._words: Words = str
        self._marked: frozenset[int] = frozenset()
        self._small: dict[tuple[int, int], tuple[QImage, object]] = {}
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(100)
        self._later.timeout.connect(self.update)
        self.setAccessibleName(self.tr("Neighbouring frames"))
        self.setMinimumHeight(self._height())

    def set_film(self, count: int, shape: float, fetch: Fetch, words: Words) -> None:
        """The clip's number of frames, width by height of its picture, its held frames, the words under each."""
        self._count, self._shape, self._fetch, self._words = count, shape, fetch, words
        self._small.clear()
        self.update()

    def set_number(self, number: int | None, marked: frozenset[int] = frozenset()) -> None:
        """The present frame, and those on which something is marked."""
        self._number, self._marked = number, marked
        if number is not None:
            self.setAccessibleDescription(self._words(number))
            self._small = {key: kept for key, kept in self._small.items() if abs(key[0] - number) <= 12}
        self._soon()

    def refresh(self) -> None:
        """Frames came in."""
        self._soon()

    def _soon(self) -> None:
        # making small pictures costs as much as showing the large one: at most ten times a second
        if not self._later.isActive():
            self._later.start()

    def _height(self) -> int:
        return int(5.2 * self.fontMetrics().height())

    def sizeHint(self) -> QSize:
        return QSize(600, self._height())

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self._height())

    def _cells(self) -> list[tuple[int, QRectF]]:
        """Frame numbers and where each is drawn; the present one in the middle."""
        if self._number is None:
            return []
        line = self.fontMetrics().height() + 4
        high = self.height() - line
        words = self.fontMetrics().horizontalAdvance(self._words(self._number)) + 10
        wide = max(high * self._shape, words)
        each = max(int(self.width() // (wide + 4)), 1)
        each -= 1 - each % 2
        left = (self.width() - each * (wide + 4)) / 2
        first = self._number - each // 2
        return [
            (first + i, QRectF(left + i * (wide + 4) + 2, 0, wide, high))
            for i in range(each)
            if 0 <= first + i < self._count
        ]

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colours = theme.current()
        line = self.fontMetrics().height() + 4
        for number, cell in self._cells():
            now = number == self._number
            self._paint_frame(painter, number, cell)
            painter.setPen(QPen(QColor(colours.place if now else colours.line), 3 if now else 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(cell.adjusted(1, 1, -1, -1))
            if number in self._marked:
                painter.setPen(QPen(QColor(colours.ground), 1))
                painter.setBrush(QColor(colours.flag))
                middle = cell.center().x()
                painter.drawPolygon(
                    [
                        QPointF(middle - 6, cell.top()),
                        QPointF(middle + 6, cell.top()),
                        QPointF(middle, cell.top() + 9),
                    ]
                )
            painter.setPen(QColor(colours.text if now else colours.faint))
            under = QRectF(cell.left(), cell.bottom(), cell.width(), line)
            painter.drawText(under, Qt.AlignmentFlag.AlignCenter, self._words(number))
        painter.end()

    def _paint_frame(self, painter: QPainter, number: int, cell: QRectF) -> None:
        ratio = self.devicePixelRatioF()
        high = max(int(cell.height() * ratio), 1)
        key = (number, high)
        if key not in self._small:
            picture = self._fetch(number) if self._fetch is not None else None
            if picture is None:
                painter.fillRect(cell, QColor(theme.current().panel))
                return
            wide = max(int(high * self._shape), 1)
            pixels = picture.bgra(wide, high)
            image = QImage(pixels.data, wide, high, pixels.strides[0], QImage.Format.Format_RGB32)
            image.setDevicePixelRatio(ratio)
            self._small[key] = (image, pixels)
        image = self._small[key][0]
        painter.fillRect(cell, QColor("black"))
        painter.drawImage(QPointF(cell.center().x() - image.width() / ratio / 2, cell.top()), image)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        for number, cell in self._cells():
            if cell.left() <= event.position().x() < cell.right() + 4:
                self.wanted.emit(number)
                return
