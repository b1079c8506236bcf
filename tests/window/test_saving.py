"""Save and print: each entry writes what it says, from the menu, beside the window."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QSize
from PySide6.QtPdf import QPdfDocument
from PySide6.QtPrintSupport import QPrinter

from clipmark.window.main_window import MainWindow
from clipmark.window.print.saving import SAVERS, print_pages
from tests.window.conftest import put_in


@pytest.fixture
def filled(window: MainWindow, film, qtbot) -> MainWindow:
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    return window


@pytest.mark.parametrize("name", ["save.html", "save.tables", "save.backup"])
def test_an_entry_writes_where_it_is_told_and_says_so(filled: MainWindow, qtbot, tmp_path: Path, name: str) -> None:
    saver = next(saver for saver in SAVERS if saver.name == name)
    to = tmp_path / f"out{saver.ending}"

    with qtbot.waitSignal(filled.saving.written, timeout=30_000):
        filled.saving.save(saver, to)

    assert to.exists()
    assert to == filled.saving.last
    assert str(to) in filled.messages.text


def test_the_folder_of_the_last_save_is_offered_again(filled: MainWindow, tmp_path: Path, monkeypatch, qtbot) -> None:
    monkeypatch.setattr(
        "clipmark.window.print.saving.QFileDialog.getSaveFileName", lambda *_: (str(tmp_path / "mine"), "")
    )
    with qtbot.waitSignal(filled.saving.written, timeout=30_000) as wrote:
        filled.saving.ask(SAVERS[0])

    assert tmp_path / "mine.html" == wrote.args[0]
    assert tmp_path == filled.saving.folder()


def test_a_sheet_goes_to_paper_page_by_page(qapp, tmp_path: Path) -> None:
    from PySide6.QtGui import QPageSize, QPainter, QPdfWriter

    source, paper = tmp_path / "two.pdf", tmp_path / "paper.pdf"
    writer = QPdfWriter(str(source))
    writer.setPageSize(QPageSize(QPageSize.PageSizeId.A4))
    painter = QPainter(writer)
    painter.drawText(100, 100, "one")
    writer.newPage()
    painter.drawText(100, 100, "two")
    painter.end()
    document, printed = QPdfDocument(), QPdfDocument()
    document.load(str(source))
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(paper))

    assert 2 == print_pages(document, printer)

    printed.load(str(paper))
    assert 2 == printed.pageCount()
    assert not printed.render(0, QSize(200, 280)).isNull()
