"""The contact sheet in the window: a still of every stretch in which something moves, and the map of where. It
scrolls; a press goes to that time; it prints."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon, QPixmap
from PySide6.QtWidgets import QDialog, QLabel, QListWidget, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from clipmark.progress import Progress
from clipmark.timebase import clock
from clipmark.window.film.moving import Moving
from clipmark.window.shared.parts import row
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.report.kept_surveys import KeptSurvey
    from clipmark.report.sheets.contact_sheet import Still

_TALL = 150  # pixels of an entry's picture


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What is shown of one clip."""

    trails: bytes | None
    stills: list[Still]


class ContactPage(QDialog):
    """Signals: wanted(Fraction): go to this place on the session clock."""

    wanted = Signal(object)

    def __init__(self, workspace: Workspace, moving: Moving, parent: QWidget):
        super().__init__(parent)
        self.workspace, self.moving = workspace, moving
        self._asked = 0
        self.setWindowTitle(self.tr("Contact sheet"))
        self.resize(980, 640)
        self.said = QLabel()
        self.said.setWordWrap(True)
        self.trails = QLabel()
        self.trails.setAccessibleName(self.tr("Where things moved: the brighter, the more often"))
        self.trails.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.list = QListWidget()
        self.list.setViewMode(QListWidget.ViewMode.IconMode)
        self.list.setResizeMode(QListWidget.ResizeMode.Adjust)
        self.list.setMovement(QListWidget.Movement.Static)
        self.list.setIconSize(QSize(_TALL * 16 // 9, _TALL))
        self.list.setSpacing(6)
        self.list.setAccessibleName(self.tr("Stretches in which something moves"))
        self.list.itemClicked.connect(self._go)
        self.list.itemActivated.connect(self._go)
        self.print = QPushButton(self.tr("Print…"))
        self.print.clicked.connect(self._print)
        close = QPushButton(self.tr("Close"))
        close.clicked.connect(self.close)
        column = QVBoxLayout(self)
        column.addLayout(row(self.trails, self.said))
        column.addWidget(self.list, 1)
        column.addLayout(row(self.print, 1, close))

    def fill(self) -> None:
        """Show the clip on view; its stills are read beside the window."""
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        known = self.moving.survey(clip.id) if clip else None
        self.list.clear()
        self.trails.clear()
        self.print.setEnabled(False)
        if clip is None or film is None or known is None or known.rests_on == "packets":
            self.said.setText(self.tr("The film is still being surveyed. Open the contact sheet again in a moment."))
            return
        moves = sum(end - start for start, end in known.moving)
        seconds = float(film.index.end_seconds())
        said = self.tr("{0}: something moves for {1} of {2}. Press a picture to go there.")
        self.said.setText(said.format(film.path.name, clock(moves, 0), clock(seconds, 0)))
        self._asked += 1
        asked, offset = self._asked, clip.offset
        self.workspace.tasks.run(
            self.tr("Contact sheet of {0}").format(film.path.name),
            lambda progress: _read(film, known, progress),
            lambda sheet: self._show(sheet, offset) if asked == self._asked else None,
            lambda error: self.said.setText(str(error)),
        )

    def _show(self, sheet: _Sheet, offset: Fraction) -> None:
        if sheet.trails is not None:
            picture = QPixmap()
            picture.loadFromData(sheet.trails)
            tall = Qt.TransformationMode.SmoothTransformation
            self.trails.setPixmap(picture.scaledToHeight(_TALL, tall))
            self.trails.setToolTip(self.trails.accessibleName())
        for still in sheet.stills:
            picture = QPixmap()
            picture.loadFromData(still.jpeg or b"")
            start, end = offset + _exact(still.start_s), offset + _exact(still.end_s)
            item = QListWidgetItem(QIcon(picture), self.tr("{0} to {1}").format(clock(start, 0), clock(end, 0)))
            item.setData(Qt.ItemDataRole.UserRole, start)
            self.list.addItem(item)
        self.print.setEnabled(True)

    def _go(self, item: QListWidgetItem) -> None:
        self.wanted.emit(item.data(Qt.ItemDataRole.UserRole))

    def _print(self) -> None:
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        known = self.moving.survey(clip.id) if clip else None
        if film is None or known is None:
            return
        self.workspace.tasks.run(
            self.tr("Printing the contact sheet"),
            lambda progress: _html(film, known),
            self._to_printer,
            lambda error: self.said.setText(str(error)),
        )

    def _to_printer(self, page: str) -> None:
        from PySide6.QtGui import QTextDocument
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        if QPrintDialog(printer, self).exec() != QPrintDialog.DialogCode.Accepted:
            return
        document = QTextDocument()
        document.setHtml(page)
        document.print_(printer)
        self.workspace.say(self.tr("The contact sheet went to the printer."), "done")


def _read(film: Clip, known: KeptSurvey, progress: Progress) -> _Sheet:
    """For a background task."""
    from clipmark.report.sheets.contact_sheet import stills, trail_map

    return _Sheet(trail_map(film, known), stills(film, known, progress))


def _html(film: Clip, known: KeptSurvey) -> str:
    from clipmark.report.sheets.contact_sheet import printed_sheet

    return printed_sheet(film, known)


def _exact(seconds: float) -> Fraction:
    return Fraction(round(seconds * 1000), 1000)
