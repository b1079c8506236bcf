"""A sheet as PDF: Qt's page engine prints the HTML; where the engine does not run, Qt draws the sheet itself.

Both in a process of their own. The engine is large, wants more system libraries than the window and starts helpers
of its own; apart from the program it costs nothing until it is needed, and cannot take the program with it. No Qt is
imported here: `clipmark.window.print.page_engine` and `clipmark.window.print.sheet` are what runs over there.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.atomic_files import DISK_FULL, CannotWrite, atomic_path, scratch_folder
from clipmark.children import ChildFailed, run_module
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Progress

if TYPE_CHECKING:
    from clipmark.book.store import Book

PATIENCE_S = 90
_FULL = 1 << 20  # bytes free at most on a disk that is full: the page engine does not say why it stopped


class NoPaper(ClipmarkError):
    def __init__(self, reason: str):
        super().__init__(
            f"The PDF could not be made ({reason}). Write the sheet as HTML and print it from your browser instead: "
            "it is laid out for A4."
        )


def write_pdf(page: Path, out: Path) -> Path:
    """Print an HTML file to PDF by the page engine, whole or not at all; for a background task.

    Raises:
        NoPaper: the page engine is not there, or did not manage.
    """
    return _made_by("clipmark.window.print.page_engine", page, out)


def write_sheet_pdf(book: Book, session_id: int, out: Path, progress: Progress = SILENT, reviewer: str = "") -> Path:
    """The sheet of one session as PDF, whole or not at all: printed by the page engine where it runs, else drawn.

    Raises:
        NoSuchSession: the book has no such session. NoPaper: neither way managed.
        CannotWrite: the place cannot be written. Cancelled: out of `progress`.
    """
    from clipmark.reading.session.agreement import known_reviewer
    from clipmark.report.sheets.sheet import render, sheet_of
    from clipmark.report.sheets.sheet_json import to_json

    record = book.session(session_id)
    sheet = sheet_of(book, record, progress, known_reviewer(record, reviewer))
    with scratch_folder() as folder:
        page, values = folder / "sheet.html", folder / "sheet.json"
        page.write_text(render(sheet), encoding="utf-8")
        try:
            return write_pdf(page, out)
        except NoPaper:
            values.write_text(to_json(sheet), encoding="utf-8")
            return _made_by("clipmark.window.print.sheet", values, out)


def _made_by(module: str, source: Path, out: Path) -> Path:
    with atomic_path(out) as fresh:
        try:
            done = run_module(
                module,
                str(source.absolute()),
                str(fresh.absolute()),
                timeout_s=PATIENCE_S,
                QT_QPA_PLATFORM="offscreen",
            )
        except ChildFailed as error:
            raise NoPaper(error.reason) from error
        if done.returncode != 0 or not fresh.exists() or not is_complete(fresh):
            if shutil.disk_usage(fresh.parent).free < _FULL:
                raise CannotWrite(out, DISK_FULL)
            words = done.stderr.strip().splitlines() if done.returncode else []
            raise NoPaper(words[-1][:200] if words else "it came out incomplete")
    return out


def is_complete(path: Path) -> bool:
    """Whether a PDF file begins and ends as one. Source: ISO 32000-1, 7.5.2 and 7.5.5."""
    with path.open("rb") as file:
        begins = file.read(5)
        file.seek(max(path.stat().st_size - 1024, 0))
        return begins == b"%PDF-" and b"%%EOF" in file.read()
