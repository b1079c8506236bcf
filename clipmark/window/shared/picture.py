"""The picture: one frame, zoomed and moved at will, with shapes drawn on it.

It is told what to show and knows neither film nor book. `OutlinePicture` also lets the keeper draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from clipmark.window import theme
from clipmark.window.shared.shapes import Shape, paint_shape

if TYPE_CHECKING:
    from clipmark.media.frames.picture import Picture

_MOST = 16.0  # screen pixels for a pixel of the film
_STEP = 1.25


@dataclass(frozen=True, slots=True)
class Tone:
    """How film is lightened for the eye: gamma above 1 lifts the dark, contrast spreads about the middle."""

    gamma: float = 1.0
    contrast: float = 1.0

    def table(self) -> np.ndarray:
        """The new value of each of 256 levels."""
        levels = (np.arange(256) / 255.0) ** (1.0 / self.gamma)
        spread = (levels - 0.5) * self.contrast + 0.5
        return np.clip(np.rint(spread * 255.0), 0, 255).astype(np.uint8)

    @property
    def plain(self) -> bool:
        return self.gamma == 1.0 and self.contrast == 1.0


class PictureView(QWidget):
    """Signals:
    pressed(): the picture was clicked (it becomes the current camera).
    viewChanged(): zoom, place or tone changed.
    """

    pressed = Signal()
    viewChanged = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._picture: Picture | None = None
        self._exact = True
        self._aspect = 1.0
        self._size = (16.0, 9.0)
        self._scale, self._offset, self._fitted = 1.0, QPointF(0, 0), True
        self._tone, self._mirrored = Tone(), False
        self._image: QImage | None = None
        self._pixels: np.ndarray | None = None
        self._image_key: tuple[object, ...] = ()
        self._shapes: tuple[Shape, ...] = ()
        self._pan: QPointF | None = None
        self.caption, self.told, self.current = "", "", False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(self.tr("Picture"))

    # what it is told

    def show_picture(self, picture: Picture, exact: bool = True, aspect: float = 1.0) -> None:
        """Show a frame; not exact: it is marked as a preview. `aspect`: width of a film pixel by its height."""
        size = (picture.film_size[0] * aspect, float(picture.film_size[1]))
        new_shape = size != self._size
        self._picture, self._exact, self._aspect, self._size, self.told = picture, exact, aspect, size, ""
        if new_shape and self._fitted:
            self.fit()
        self.update()

    def show_nothing(self, why: str) -> None:
        """No frame here; `why` is written instead."""
        self._picture, self._image, self.told = None, None, why
        self.update()

    def set_shapes(self, shapes: tuple[Shape, ...]) -> None:
        if shapes != self._shapes:
            self._shapes = shapes
            self.update()

    def set_caption(self, text: str, current: bool) -> None:
        if (text, current) != (self.caption, self.current):
            self.caption, self.current = text, current
            self.setAccessibleName(self.tr("Picture of {0}").format(text) if text else self.tr("Picture"))
            self.update()

    @property
    def picture(self) -> Picture | None:
        return self._picture

    @property
    def exact(self) -> bool:
        return self._exact

    # zoom and place

    @property
    def scale(self) -> float:
        """Screen pixels for a pixel of the film."""
        return self._scale

    @property
    def fitted(self) -> bool:
        return self._fitted

    def fit(self) -> None:
        """The whole picture, as large as it goes."""
        self._fitted = True
        width, height = self._size
        self._scale = max(min(self.width() / width, self.height() / height), 1e-3)
        self._offset = QPointF((self.width() - width * self._scale) / 2, (self.height() - height * self._scale) / 2)
        self._view_changed()

    def look_at(self, x: float, y: float, span: float) -> None:
        """Show the part of the picture round a point, `span` film pixels across the shorter side of the widget."""
        self._fitted = False
        self._scale = min(max(min(self.width() * 0.75, self.height()) / (0.75 * span), 1e-3), _MOST)
        at_x = (self._size[0] / self._aspect - x if self._mirrored else x) * self._aspect
        self._offset = QPointF(self.width() / 2 - at_x * self._scale, self.height() / 2 - y * self._scale)
        self.update()

    def real_size(self) -> None:
        """One pixel of the film on one pixel of the screen, about the middle."""
        self.zoom_to(1.0 / self.devicePixelRatioF(), QPointF(self.width() / 2, self.height() / 2))

    def zoom(self, steps: float, about: QPointF | None = None) -> None:
        middle = QPointF(self.width() / 2, self.height() / 2)
        self.zoom_to(self._scale * _STEP**steps, about if about is not None else middle)

    def zoom_to(self, scale: float, about: QPointF) -> None:
        """Zoom so that the film's point under `about` stays there."""
        least = min(self.width() / self._size[0], self.height() / self._size[1], 1.0) / 2
        scale = min(max(scale, least), _MOST)
        self._offset = about - (about - self._offset) * (scale / self._scale)
        self._scale, self._fitted = scale, False
        self._keep_in_sight()
        self._view_changed()

    def move_by(self, dx: float, dy: float) -> None:
        self._offset += QPointF(dx, dy)
        self._fitted = False
        self._keep_in_sight()
        self._view_changed()

    def _keep_in_sight(self) -> None:
        margin = 40.0
        width, height = self._size[0] * self._scale, self._size[1] * self._scale
        self._offset = QPointF(
            min(max(self._offset.x(), margin - width), self.width() - margin),
            min(max(self._offset.y(), margin - height), self.height() - margin),
        )

    def _view_changed(self) -> None:
        self.update()
        self.viewChanged.emit()

    @property
    def tone(self) -> Tone:
        return self._tone

    def set_tone(self, tone: Tone) -> None:
        self._tone = tone
        self._view_changed()

    @property
    def mirrored(self) -> bool:
        return self._mirrored

    def set_mirrored(self, mirrored: bool) -> None:
        self._mirrored = mirrored
        self._view_changed()

    def to_film(self, at: QPointF) -> QPointF:
        """Pixels of the picture from a point of the widget."""
        x = (at.x() - self._offset.x()) / self._scale / self._aspect
        if self._mirrored:
            x = self._size[0] / self._aspect - x
        return QPointF(x, (at.y() - self._offset.y()) / self._scale)

    def from_film(self, x: float, y: float) -> QPointF:
        """A point of the widget from pixels of the picture."""
        if self._mirrored:
            x = self._size[0] / self._aspect - x
        return QPointF(self._offset.x() + x * self._aspect * self._scale, self._offset.y() + y * self._scale)

    # painting

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colours = theme.current()
        painter.fillRect(self.rect(), QColor("#141312") if colours.dark else QColor("#d8d4cd"))
        if self._picture is not None:
            self._paint_picture(painter)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            for shape in self._shapes:
                paint_shape(painter, shape, self.from_film)
            self.paint_more(painter)
        self._paint_words(painter)
        if self.current or self.hasFocus():
            painter.setPen(QPen(QColor(colours.accent), 3 if self.hasFocus() else 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    def paint_more(self, painter: QPainter) -> None:
        """For what else is drawn over the picture and its shapes."""

    def pixels_wanted(self) -> tuple[int, int] | None:
        """The size in which the picture is drawn, in pixels of the screen, so that it can be converted ahead; None:
        its own, as only a part of it is seen."""
        ratio = self.devicePixelRatioF()
        width, height = (max(round(side * self._scale * ratio), 1) for side in self._size)
        seen = self.width() * self.height() * ratio * ratio
        return (width, height) if width * height <= 1.3 * seen + 4096 else None

    def _paint_picture(self, painter: QPainter) -> None:
        picture = self._picture
        assert picture is not None
        ratio = self.devicePixelRatioF()
        whole = self.pixels_wanted()
        image = self._image_for(picture, *(whole or (picture.width, picture.height)))
        painter.save()
        painter.translate(self._offset)
        if self._mirrored:
            painter.translate(self._size[0] * self._scale, 0)
            painter.scale(-1, 1)
        if whole is not None:
            image.setDevicePixelRatio(ratio)
            painter.drawImage(QPointF(0, 0), image)
        else:
            image.setDevicePixelRatio(1.0)
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, self._scale < 4)
            target = QRectF(0, 0, self._size[0] * self._scale, self._size[1] * self._scale)
            painter.setClipRect(painter.transform().inverted()[0].mapRect(QRectF(self.rect())))
            painter.drawImage(target, image, QRectF(image.rect()))
        painter.restore()

    def _image_for(self, picture: Picture, width: int, height: int) -> QImage:
        key = (id(picture), picture.number, width, height, self._tone)
        if self._image is None or key != self._image_key:
            pixels = picture.bgra(width, height)
            if not self._tone.plain:
                import cv2

                table = np.repeat(self._tone.table()[None, :, None], 4, axis=2)
                table[:, :, 3] = np.arange(256)
                pixels = np.asarray(cv2.LUT(pixels, table), np.uint8)
            self._pixels = pixels  # the image is only a view on it
            self._image = QImage(pixels.data, width, height, pixels.strides[0], QImage.Format.Format_RGB32)
            self._image_key = key
        return self._image

    def _paint_words(self, painter: QPainter) -> None:
        colours = theme.current()
        if self._picture is None and self.told:
            painter.setPen(QColor(colours.text))
            painter.drawText(
                self.rect().adjusted(24, 24, -24, -24),
                int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap),
                self.told,
            )
        said = [self.caption] if self.caption else []
        if self._mirrored and self._picture is not None:
            said.append(self.tr("mirrored: left is right"))
        if self._picture is not None and self.told:
            said.append(self.told)
        elif self._picture is not None and not self._exact:
            said.append(self.tr("preview: frame {0}, the right one is on its way").format(self._picture.number + 1))
        elif self._picture is not None and self._coarse(self._picture):
            said.append(self.tr("the right frame, coarse; it comes sharp in a moment"))
        y = 8.0
        for text in said:
            y = self._badge(painter, text, y)

    def _coarse(self, picture: Picture) -> bool:
        """Whether the picture was shrunk to fewer pixels than are drawn of it by now."""
        drawn = self._size[0] * self._scale * self.devicePixelRatioF()
        return picture.reduced and drawn > 1.25 * picture.width * self._aspect

    def _badge(self, painter: QPainter, text: str, y: float) -> float:
        metrics = painter.fontMetrics()
        box = QRectF(8, y, metrics.horizontalAdvance(text) + 16, metrics.height() + 6)
        painter.fillRect(box, QColor(0, 0, 0, 190))
        painter.setPen(QColor("white"))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        return float(box.bottom() + 4)

    def say(self, text: str) -> None:
        """A few words over the picture that stays, such as that a frame is damaged."""
        self.told = text
        self.update()

    # pointer and keys

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self._fitted:
            self.fit()
        else:
            self._keep_in_sight()

    def sizeHint(self) -> QSize:
        return QSize(640, 360)

    def minimumSizeHint(self) -> QSize:
        return QSize(200, 112)

    def wheelEvent(self, event: QWheelEvent) -> None:
        self.zoom(event.angleDelta().y() / 120.0, event.position())
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.pressed.emit()
        if event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._pan = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._pan is not None:
            moved = event.position() - self._pan
            self._pan = event.position()
            self.move_by(moved.x(), moved.y())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._pan = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.fit()
