"""The Film page: step, mark, outline. (First version: shows frames and steps.)"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from clipmark import settings as declared
from clipmark.timebase import clock
from clipmark.window.widgets.roll import LogRoll
from clipmark.window.workspace import Workspace


class FilmPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.picture = QLabel(alignment=Qt.AlignmentFlag.AlignCenter)
        self.picture.setMinimumSize(320, 180)
        self.told = QLabel()
        self.roll = LogRoll(workspace)
        left = QVBoxLayout()
        left.addWidget(self.picture, 1)
        left.addWidget(self.told)
        row = QHBoxLayout(self)
        row.addLayout(left, 3)
        row.addWidget(self.roll, 1)
        self._readers: dict[int, object] = {}
        workspace.placeChanged.connect(self._show)
        workspace.clipReady.connect(self._show)

    def entered(self) -> None:
        self._show()

    def handlers(self) -> dict[str, Callable[[], None]]:
        long = self.workspace.settings.get(declared.LONG_STEP)
        return {
            "step.back": lambda: self.step(-1),
            "step.forward": lambda: self.step(1),
            "step.back_long": lambda: self.step(-long),
            "step.forward_long": lambda: self.step(long),
            "step.back_second": lambda: self.step_seconds(-1),
            "step.forward_second": lambda: self.step_seconds(1),
        }

    def step(self, frames: int) -> None:
        film, clip = self.workspace.film(self.workspace.clip_id), self.workspace.clip
        if film is not None and clip is not None:
            number = min(max(self._number() + frames, 0), len(film.index) - 1)
            self.workspace.go_pts(clip.id, int(film.index.pts[number]))

    def step_seconds(self, seconds: int) -> None:
        self.workspace.go(self.workspace.place + Fraction(seconds))

    def _number(self) -> int:
        film, clip = self.workspace.film(self.workspace.clip_id), self.workspace.clip
        if film is None or clip is None:
            return 0
        return int(film.index.at_or_before(clip.pts_at(self.workspace.place)))

    def _show(self) -> None:
        from clipmark.media.reader import Reader

        clip_id = self.workspace.clip_id
        film = self.workspace.film(clip_id)
        if film is None or clip_id is None:
            self.picture.setText(self.tr("Drop a film here, or press Ctrl+O to choose one."))
            return
        reader = self._readers.setdefault(clip_id, Reader(film))
        number = self._number()
        picture = reader.frame(number)  # type: ignore[attr-defined]
        width = max(self.picture.width(), 320)
        height = round(width * film.height / film.width)
        pixels = picture.bgra(width, height)
        self.picture.setPixmap(QPixmap.fromImage(QImage(pixels.data, width, height, QImage.Format.Format_RGB32)))
        self.told.setText(f"{clock(self.workspace.place)}  ·  {number + 1} / {len(film.index)}")
