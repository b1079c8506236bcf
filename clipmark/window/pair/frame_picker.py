"""One clip with a slider: find a frame in it. For putting two cameras on one clock by a common moment."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QSlider, QVBoxLayout, QWidget

from clipmark.media.clip import Clip
from clipmark.media.frames.picture import Picture
from clipmark.timebase import clock
from clipmark.window.play.frames import FrameSource
from clipmark.window.shared.parts import PictureBox, button, label, row
from clipmark.window.workspace import Workspace

_WIDTH = 640


class FramePicker(QWidget):
    """Signals:
    moved(int): another frame of the clip is meant."""

    moved = Signal(int)

    def __init__(self, workspace: Workspace, name: str):
        super().__init__()
        self.workspace = workspace
        self.film: Clip | None = None
        self._source: FrameSource | None = None
        self.picture = PictureBox(name)
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setAccessibleName(self.tr("Frame of {0}").format(name))
        self.slider.setPageStep(25)
        self.slider.valueChanged.connect(self._show)
        self.told = label("", "faint", wrap=False)
        steps = [
            button(text, partial(self.step, by), name=self.tr("{0}: {1} frames").format(name, by))
            for text, by in (("−10", -10), ("−1", -1), ("+1", 1), ("+10", 10))
        ]
        for one in steps:
            one.setMaximumWidth(4 * self.fontMetrics().height())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.picture, 1)
        column.addWidget(self.slider)
        column.addLayout(row(*steps[:2], 1, self.told, 1, *steps[2:]))

    def show_film(self, film: Clip | None, name: str, missing: str = "") -> None:
        """Begin with a clip (None: nothing, for the reason told)."""
        self.sleep()
        self.film = film
        self.picture.set_caption(name)
        self.picture.show_image(None, missing)
        self.setEnabled(film is not None)
        if film is None:
            self.told.clear()
            return
        self._source = FrameSource(film, self.workspace.cache, 2, self, in_full=False)
        self._source.arrived.connect(self._arrived)
        self._source.lost.connect(lambda _: self.picture.show_image(None, self.tr("This frame is damaged.")))
        number = min(self.slider.value(), len(film.index) - 1)
        self.slider.setMaximum(len(film.index) - 1)
        self.slider.setValue(number)
        self._show(self.slider.value())

    def sleep(self) -> None:
        """Give the decode thread back."""
        if self._source is not None:
            self._source.stop()
            self._source.deleteLater()
            self._source = None

    def step(self, by: int) -> None:
        self.slider.setValue(self.slider.value() + by)

    @property
    def number(self) -> int:
        return self.slider.value()

    def _show(self, number: int) -> None:
        if self.film is None or self._source is None:
            return
        at = self.film.index.exact_seconds(number)
        self.told.setText(self.tr("{0}   frame {1}").format(clock(at), number + 1))
        held = self._source.ask(number)
        if held is not None:
            self._arrived(held, True)
        self.moved.emit(number)

    def _arrived(self, picture: Picture, _: bool) -> None:
        width = min(_WIDTH, picture.width)
        height = max(round(width * picture.height / picture.width), 1)
        pixels = picture.bgra(width, height)
        self.picture.show_image(QImage(pixels.data, width, height, QImage.Format.Format_RGB32).copy())
