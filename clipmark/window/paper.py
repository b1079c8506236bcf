"""A sheet as PDF, made in a process of its own: `python -m clipmark.window.paper SHEET.html OUT.pdf`.

The page engine is large and starts helpers of its own; apart from the window it costs nothing until it is needed, and
cannot take the window with it. It gets no network: whatever is not a local file or inside the page is refused.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.errors import ClipmarkError

if TYPE_CHECKING:
    from PySide6.QtGui import QPageLayout
    from PySide6.QtWebEngineCore import QWebEnginePage

_PATIENCE_S = 90


class NoPaper(ClipmarkError):
    def __init__(self, reason: str):
        super().__init__(
            f"The PDF could not be made ({reason}). Open the sheet and print it from your browser instead: "
            "it is laid out for A4."
        )


def write_pdf(page: Path, out: Path) -> Path:
    """Print an HTML file to PDF, whole or not at all; for a background task.

    Raises:
        NoPaper: the page engine is not there, or did not manage.
    """
    from clipmark.whole import whole_path

    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    with whole_path(out) as fresh:
        command = [sys.executable, "-m", "clipmark.window.paper", str(page), str(fresh)]
        try:
            done = subprocess.run(command, env=environment, capture_output=True, timeout=_PATIENCE_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise NoPaper(str(error)) from error
        if done.returncode != 0 or not fresh.exists() or not fresh.stat().st_size:
            words = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise NoPaper(words[-1][:200] if words else f"code {done.returncode}")
    return out


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
    QTimer.singleShot(1_000 * (_PATIENCE_S - 10), app.quit)
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
