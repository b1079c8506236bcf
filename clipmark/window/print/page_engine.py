"""The page engine that prints a sheet to PDF: `python -m clipmark.window.print.page_engine SHEET.html OUT.pdf`.

Run in a process of its own by `clipmark.report.sheets.pdf`. It gets no network: whatever is not a local file or
inside the page is refused, and no script runs.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.report.sheets.pdf import PATIENCE_S, NoPaper, write_pdf

if TYPE_CHECKING:
    from PySide6.QtGui import QPageLayout
    from PySide6.QtWebEngineCore import QWebEnginePage

__all__ = ["NoPaper", "write_pdf"]


def _print(page: Path, out: Path) -> int:
    from PySide6.QtCore import QMarginsF, QTimer, QUrl
    from PySide6.QtGui import QPageLayout, QPageSize
    from PySide6.QtWebEngineCore import (
        QWebEnginePage,
        QWebEngineProfile,
        QWebEngineSettings,
        QWebEngineUrlRequestInfo,
        QWebEngineUrlRequestInterceptor,
    )
    from PySide6.QtWidgets import QApplication

    class OnlyLocal(QWebEngineUrlRequestInterceptor):
        def interceptRequest(self, info: QWebEngineUrlRequestInfo) -> None:
            info.block(info.requestUrl().scheme() not in ("file", "data"))

    app = QApplication(["clipmark"])
    profile = QWebEngineProfile()
    watch = OnlyLocal()
    profile.setUrlRequestInterceptor(watch)
    sheet = QWebEnginePage(profile)
    sheet.settings().setAttribute(QWebEngineSettings.WebAttribute.JavascriptEnabled, False)
    layout = QPageLayout(
        QPageSize(QPageSize.PageSizeId.A4), QPageLayout.Orientation.Portrait, QMarginsF(12, 12, 12, 14)
    )
    layout.setUnits(QPageLayout.Unit.Millimeter)
    ended: list[bool] = []

    def end(_: str, good: bool) -> None:
        ended.append(good)
        app.quit()

    sheet.pdfPrintingFinished.connect(end)
    sheet.loadFinished.connect(partial(_loaded, sheet, out, layout, end))
    sheet.load(QUrl.fromLocalFile(str(page.absolute())))
    QTimer.singleShot(1_000 * (PATIENCE_S - 10), app.quit)
    app.exec()
    sheet.deleteLater()
    app.processEvents()
    return 0 if ended and ended[0] else 1


def _loaded(
    sheet: QWebEnginePage, out: Path, layout: QPageLayout, end: Callable[[str, bool], None], good: bool
) -> None:
    if good:
        sheet.printToPdf(str(out), layout)
    else:
        end("", False)


def main(arguments: list[str]) -> int:
    if hasattr(os, "getuid") and os.getuid() == 0:  # the engine's sandbox refuses to run as root
        os.environ["QTWEBENGINE_DISABLE_SANDBOX"] = "1"
    try:
        return _print(Path(arguments[0]), Path(arguments[1]))
    except ImportError as error:
        print(error, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
