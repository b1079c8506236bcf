"""Save and print: everything that leaves the program, in one menu. Each entry asks where, remembers the folder, works
beside the window, and offers to open what it wrote."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QRectF, QSize, QStandardPaths, Qt, QUrl, Signal
from PySide6.QtGui import QDesktopServices, QImage, QPainter
from PySide6.QtWidgets import QFileDialog, QMenu, QWidget

from clipmark import settings as declared
from clipmark.book.meaning.calls import people
from clipmark.book.model import SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.progress import Progress
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from PySide6.QtPdf import QPdfDocument
    from PySide6.QtPrintSupport import QPrinter

Work = Callable[[Path, int, str, SessionRecord, Path, Progress], Path]
_DOTS = 200  # a sheet is printed at so many dots an inch; its stills have no more


@dataclass(frozen=True, slots=True)
class Saver:
    """One entry of the menu. `ending` is a file's (".html"), empty where a folder is asked for."""

    name: str
    label: str
    ending: str
    filter: str
    work: Work


def _sheet(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.book.store import Book
    from clipmark.report.sheets.pdf import write_sheet_pdf
    from clipmark.report.sheets.sheet import write_sheet

    written = write_sheet_pdf if to.suffix.lower() == ".pdf" else write_sheet
    with Book.open(book, read_only=True) as opened:
        return written(opened, session, to, progress, who)


def _stills(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.report.exports.writers import to_stills

    to_stills(record, to, progress)
    return to


def _cuts(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.report.exports.writers import to_clips

    to_clips(record, to, 4, True, progress)
    return to


def _tables(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.book.store import Book
    from clipmark.report.exports.tables import around
    from clipmark.report.exports.writers import to_csv

    with Book.open(book, read_only=True) as opened:
        to_csv(record, to, around(opened, record))
    return to


def _contact(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.atomic_files import atomic_file
    from clipmark.report.films.opened import film_of
    from clipmark.report.sheets.contact_sheet import sheet_of_clips

    page = sheet_of_clips(record.session.title, [film_of(clip) for clip in record.clips], progress)
    with atomic_file(to) as file:
        file.write(page)
    return to


def _backup(book: Path, session: int, who: str, record: SessionRecord, to: Path, progress: Progress) -> Path:
    from clipmark.book.file.backup import backup

    return backup(book, to=to)


SAVERS: tuple[Saver, ...] = (
    Saver("save.html", "Sheet as a web page…", ".html", "Web page (*.html)", _sheet),
    Saver("save.pdf", "Sheet as PDF…", ".pdf", "PDF (*.pdf)", _sheet),
    Saver("save.stills", "Pictures of all pulls…", "", "", _stills),
    Saver("save.contact", "Contact sheet of the film…", ".html", "Web page (*.html)", _contact),
    Saver("save.cuts", "Slow-motion cuts of all pulls…", "", "", _cuts),
    Saver("save.tables", "Tables (CSV)…", "", "", _tables),
    Saver("save.backup", "Backup of the book…", ".book", "Record book (*.book)", _backup),
)


class Saving(QObject):
    """Signals: written(Path): something was written there."""

    written = Signal(object)

    def __init__(self, workspace: Workspace, window: QWidget, picture: Callable[[], QImage | None]):
        super().__init__(window)
        self.workspace, self.window = workspace, window
        self._picture = picture
        self.last: Path | None = None

    def fill(self, menu: QMenu) -> None:
        """Put the entries into a menu."""
        for saver in SAVERS[:2]:
            self._entry(menu, saver)
        menu.addAction(self.tr("Print the sheet…"), self.print_sheet)
        menu.addSeparator()
        menu.addAction(self.tr("This picture…"), self.save_picture)
        for saver in SAVERS[2:]:
            self._entry(menu, saver)
        menu.addSeparator()
        self.opener = menu.addAction(self.tr("Open what was saved last"), self.open_last)
        self.opener.setEnabled(False)

    def _entry(self, menu: QMenu, saver: Saver) -> None:
        action = menu.addAction(self.tr(saver.label), lambda: self.ask(saver))
        action.setObjectName(saver.name)

    def ask(self, saver: Saver) -> None:
        """Ask where, then save there."""
        if self.workspace.record is None:
            self.workspace.say(self.tr("There is no session to save yet. Add film first."), "wrong")
            return
        suggested = self.folder() / f"{self.stem()}{saver.ending}"
        title = self.tr(saver.label).rstrip("…")
        if saver.ending:
            name, _ = QFileDialog.getSaveFileName(self.window, title, str(suggested), saver.filter)
        else:
            name = QFileDialog.getExistingDirectory(self.window, title, str(self.folder()))
        if not name:
            return
        to = Path(name)
        if saver.ending and not to.suffix:
            to = to.with_suffix(saver.ending)
        if not saver.ending:
            to = to / f"{self.stem()} {saver.name.partition('.')[2]}"
        self.workspace.choose(declared.SAVE_FOLDER, str(to.parent))
        self.save(saver, to)

    def save(self, saver: Saver, to: Path) -> None:
        """Save beside the window, with a book of its own that only reads."""
        record = self.workspace.record
        if record is None:
            return
        book, session, who = Path(self.workspace.book.path), record.session.id, self._reader(record)
        self.workspace.tasks.run(
            self.tr(saver.label).rstrip("…"),
            lambda progress: saver.work(book, session, who, record, to, progress),
            self._was_written,
            self._failed,
        )

    def save_picture(self) -> None:
        """The frame on the screen as PNG, whole and in its own size."""
        image = self._picture()
        if image is None:
            self.workspace.say(self.tr("There is no picture on view. Open the Film page."), "note")
            return
        suggested = self.folder() / f"{self.stem()}.png"
        name, _ = QFileDialog.getSaveFileName(self.window, self.tr("This picture"), str(suggested), "PNG (*.png)")
        if name:
            to = Path(name).with_suffix(".png")
            self.workspace.choose(declared.SAVE_FOLDER, str(to.parent))
            self.workspace.tasks.run(
                self.tr("Saving the picture"), lambda _: _write_picture(image, to), self._was_written, self._failed
            )

    def print_sheet(self) -> None:
        """The sheet straight to a printer, by the system's own dialog."""
        import tempfile

        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        if self.workspace.record is None:
            self.workspace.say(self.tr("There is no session to print yet. Add film first."), "wrong")
            return
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        if QPrintDialog(printer, self.window).exec() != QPrintDialog.DialogCode.Accepted:
            return
        record, book = self.workspace.record, Path(self.workspace.book.path)
        who = self._reader(record)
        place = Path(tempfile.mkdtemp(prefix="clipmark-print-")) / "sheet.pdf"
        self.workspace.tasks.run(
            self.tr("Printing the sheet"),
            lambda progress: _sheet(book, record.session.id, who, record, place, progress),
            lambda path: self._print(path, printer),
            self._failed,
        )

    def _print(self, path: Path, printer: QPrinter) -> None:
        from PySide6.QtPdf import QPdfDocument

        document = QPdfDocument(self)
        document.load(str(path))
        pages = print_pages(document, printer)
        document.close()
        path.unlink(missing_ok=True)
        path.parent.rmdir()
        self.workspace.say(self.tr("The sheet went to the printer ({0} pages).").format(pages), "done")

    def _reader(self, record: SessionRecord) -> str:
        """Whose sheet it is: the one who works at the window, else the session's own."""
        return self.workspace.reviewer if self.workspace.reviewer in people(record) else ""

    def folder(self) -> Path:
        """Where the keeper saved last, else the documents folder."""
        kept = str(self.workspace.settings.get(declared.SAVE_FOLDER))
        if kept and Path(kept).is_dir():
            return Path(kept)
        return Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation) or Path.home())

    def stem(self) -> str:
        """A file's name from the session's day and title."""
        record = self.workspace.record
        title = f"{record.session.date} {record.session.title}" if record else ""
        return re.sub(r"[^\w]+", "-", title.strip()).strip("-")[:80] or "session"

    def open_last(self) -> None:
        if self.last is not None and not QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.last))):
            self.workspace.say(self.tr("Nothing here opens it by itself. It lies at {0}").format(self.last), "note")

    def _was_written(self, path: Path) -> None:
        self.last = path
        self.opener.setEnabled(True)
        self.workspace.say(self.tr("Saved: {0}. “Save and print” opens it.").format(path), "done")
        self.written.emit(path)

    def _failed(self, error: Exception) -> None:
        self.workspace.say(str(error), "wrong")


def print_pages(document: QPdfDocument, printer: QPrinter) -> int:
    """Put each page of a PDF on paper; returns how many there were."""
    painter = QPainter(printer)
    for number in range(document.pageCount()):
        if number:
            printer.newPage()
        size = document.pagePointSize(number)
        dots = QSize(round(size.width() / 72 * _DOTS), round(size.height() / 72 * _DOTS))
        room = QRectF(painter.viewport())
        shown = size.scaled(room.size(), Qt.AspectRatioMode.KeepAspectRatio)
        painter.drawImage(QRectF(room.topLeft(), shown), document.render(number, dots))
    painter.end()
    return document.pageCount()


def _write_picture(image: QImage, to: Path) -> Path:
    if not image.save(str(to)):
        raise ClipmarkError(f"“{to}” could not be written. Choose a folder that you may write to, with room on it.")
    return to
