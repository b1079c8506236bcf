"""Small pieces that the pages are put together from, so that all of them look and speak alike."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QRect, Qt, QTimer, Signal
from PySide6.QtGui import QImage, QMouseEvent, QPainter, QPaintEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)


class Card(QFrame):
    """A titled box; `body` takes what belongs in it, `head` stands right of the title."""

    def __init__(self, title: str = "", parent: QWidget | None = None):
        super().__init__(parent)
        self.setProperty("role", "card")
        column = QVBoxLayout(self)
        self.title = label(title, "heading")
        self.head = QHBoxLayout()
        self.head.addWidget(self.title)
        self.head.addStretch(1)
        if title:
            column.addLayout(self.head)
        self.body = QVBoxLayout()
        column.addLayout(self.body)

    def set_title(self, title: str) -> None:
        self.title.setText(title)


def label(text: str = "", role: str = "", wrap: bool = True) -> QLabel:
    """Plain text, wrapped; role: "heading", "faint", "wrong", "done", "his", "hers" of the theme."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap and role != "heading")
    if role:
        made.setProperty("role", role)
    return made


class Elided(QLabel):
    """One line of text that is cut where it does not fit, and then told whole as a tool tip."""

    def __init__(self, role: str = ""):
        super().__init__()
        self._whole = ""
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        if role:
            self.setProperty("role", role)

    def set_text(self, text: str) -> None:
        self._whole = text
        self.setAccessibleName(text)
        self.setToolTip(text)
        self._fit()

    @property
    def whole(self) -> str:
        return self._whole

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setText(self.fontMetrics().elidedText(self._whole, Qt.TextElideMode.ElideRight, self.width()))


def as_written(text: str) -> str:
    """For the text of a progress bar, which takes %p, %v and %m for numbers of its own."""
    return text.replace("%", "%\u200b")


def set_role(widget: QWidget, role: str) -> None:
    """Change the role of a widget that is on the screen already."""
    widget.setProperty("role", role)
    widget.style().unpolish(widget)
    widget.style().polish(widget)


def button(text: str, do: Callable[[], object], tip: str = "", name: str = "") -> QPushButton:
    """A push button that a click and Space press; `tip` says more than the text."""
    made = QPushButton(text)
    made.setAutoDefault(False)
    if tip:
        made.setToolTip(tip)
    made.setAccessibleName(name or text.replace("&", ""))
    made.clicked.connect(lambda _=False: do())
    return made


def row(*parts: QWidget | QLayout | int) -> QHBoxLayout:
    """Widgets beside each other; a number is a stretch."""
    line = QHBoxLayout()
    for part in parts:
        if isinstance(part, int):
            line.addStretch(part)
        elif isinstance(part, QLayout):
            line.addLayout(part)
        else:
            line.addWidget(part)
    return line


def scrolled(inner: QWidget) -> QScrollArea:
    """A column that scrolls when the window is low, and never sideways."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setWidget(inner)
    area.viewport().setAutoFillBackground(False)
    inner.setAutoFillBackground(False)
    return area


def clear(layout: QLayout) -> None:
    """Take everything out of a layout."""
    while layout.count():
        item = layout.takeAt(0)
        if item is None:
            continue
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
        elif inner is not None:
            clear(inner)


class Empty(QWidget):
    """What stands where nothing is yet: one sentence what to do next, and the button that does it."""

    def __init__(self, text: str, button_text: str = "", do: Callable[[], object] | None = None):
        super().__init__()
        self.told = label(text)
        self.told.setAlignment(Qt.AlignmentFlag.AlignCenter)
        column = QVBoxLayout(self)
        column.addStretch(1)
        column.addWidget(self.told, 0, Qt.AlignmentFlag.AlignHCenter)
        self.button = button(button_text, do) if do is not None else None
        if self.button is not None:
            column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(2)
        self._fit()

    def _fit(self) -> None:
        """A label that stands in the middle of a column is given no more height than one line, unless it asks."""
        wide = 46 * self.fontMetrics().averageCharWidth() + 120
        self.told.setFixedSize(wide, max(self.told.heightForWidth(wide), 0))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._fit()

    def say(self, text: str, button_text: str = "") -> None:
        self.told.setText(text)
        self._fit()
        if self.button is not None:
            self.button.setVisible(bool(button_text))
            self.button.setText(button_text)


class PictureBox(QWidget):
    """A still picture that keeps its shape, with its name under it. Signals: pressed()."""

    pressed = Signal()

    def __init__(self, caption: str):
        super().__init__()
        self._image: QImage | None = None
        self._missing = ""
        self.caption = caption
        self.setAccessibleName(caption)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(6 * self.fontMetrics().height(), 5 * self.fontMetrics().height())

    def show_image(self, image: QImage | None, missing: str = "") -> None:
        self._image, self._missing = image, missing
        self.update()

    def set_caption(self, caption: str) -> None:
        self.caption = caption
        self.setAccessibleName(caption)
        self.update()

    @property
    def image(self) -> QImage | None:
        return self._image

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.pressed.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        under = self.fontMetrics().height() + 4
        room = self.rect().adjusted(0, 0, 0, -under)
        if self._image is None:
            painter.setPen(self.palette().mid().color())
            painter.drawRect(room.adjusted(0, 0, -1, -1))
            painter.setPen(self.palette().placeholderText().color())
            flags = int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap)
            painter.drawText(room.adjusted(6, 6, -6, -6), flags, self._missing)
        else:
            size = self._image.size().scaled(room.size(), Qt.AspectRatioMode.KeepAspectRatio)
            x = room.x() + (room.width() - size.width()) // 2
            y = room.y() + (room.height() - size.height()) // 2
            painter.drawImage(QRect(x, y, size.width(), size.height()), self._image)
        painter.setPen(self.palette().windowText().color())
        words = self.fontMetrics().elidedText(self.caption, Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignBottom), words)
        painter.end()


class Later:
    """Calls once, a little after the last of several wishes (typing, resizing)."""

    def __init__(self, parent: QWidget, do: Callable[[], object], after_ms: int = 400):
        self._timer = QTimer(parent)
        self._timer.setSingleShot(True)
        self._timer.setInterval(after_ms)
        self._timer.timeout.connect(lambda: do())

    def wish(self) -> None:
        self._timer.start()

    def now(self) -> None:
        """What is waited for, at once."""
        if self._timer.isActive():
            self._timer.stop()
            self._timer.timeout.emit()
