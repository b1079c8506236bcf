"""What clipmark needs of Qt, each tried once in a process of its own: `python -m clipmark.window.trials NAME`."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from clipmark.trials import Unable, main


def widget() -> str:
    """Qt draws a widget with text in it, offscreen."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    import PySide6
    from PySide6.QtGui import QFontDatabase
    from PySide6.QtWidgets import QApplication, QLabel

    app = QApplication([])
    fonts = len(QFontDatabase.families())
    if not fonts:
        raise Unable("no font")
    label = QLabel("Pulls")
    label.resize(120, 40)
    drawn = label.grab().toImage()
    if len({drawn.pixel(x, y) for x in range(drawn.width()) for y in range(drawn.height())}) < 3:
        raise Unable("what it draws stays blank")
    app.quit()
    return f"Qt {PySide6.__version__} draws, {fonts} font families"


def screen() -> str:
    """Qt opens the screen that this machine has."""
    from PySide6.QtGui import QGuiApplication

    return QGuiApplication([]).platformName()


def paper() -> str:
    """Qt draws a PDF."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from PySide6.QtGui import QGuiApplication, QPainter, QPdfWriter

    app = QGuiApplication([])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        writer = QPdfWriter(str(path))
        painter = QPainter(writer)
        painter.drawText(400, 400, "Pulls")
        painter.end()
        content = path.read_bytes()
    app.quit()
    if not content.startswith(b"%PDF-") or b"%%EOF" not in content:
        raise Unable("what it wrote is no PDF")
    return "Qt draws PDF"


def page_engine() -> str:
    """Qt's page engine prints a sheet as it looks in a browser."""
    from clipmark.report.sheets.pdf import write_pdf

    with tempfile.TemporaryDirectory() as folder:
        sheet = Path(folder) / "sheet.html"
        sheet.write_text("<!doctype html><meta charset=utf-8><h1>Mora × Iron</h1>", "utf-8")
        write_pdf(sheet, Path(folder) / "sheet.pdf")
    return "prints a sheet as it looks in a browser"


def sound() -> str:
    """How many sound outputs Qt finds."""
    from PySide6.QtCore import QCoreApplication
    from PySide6.QtMultimedia import QMediaDevices

    app = QCoreApplication([])
    found = len(QMediaDevices.audioOutputs())
    app.quit()
    return str(found)


TRIALS: Mapping[str, Callable[[], str]] = {
    trial.__name__: trial for trial in (widget, screen, paper, page_engine, sound)
}

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], TRIALS))
