"""Where the window is put together: options, screen, book, settings, theme, workspace, main window."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from clipmark.errors import ClipmarkError, WrongUsage
from clipmark.log import begin_log
from clipmark.review.pages import PAGES

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from clipmark.window.main_window import MainWindow

ICON = Path(__file__).parent / "icons" / "clipmark.svg"


class NoScreen(ClipmarkError):
    def __init__(self, reason: str):
        super().__init__(
            f"The window needs a screen, and {reason}. Run clipmark where there is one, "
            "or use the commands: clipmark --help."
        )


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]
        raise WrongUsage(f"{message[:1].upper()}{message[1:]}. See clipmark --help.")


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = _Parser(prog="clipmark", description="Open the window.", allow_abbrev=False)
    parser.add_argument("film", nargs="*", type=Path, help="film files to review as one session")
    parser.add_argument("--book", type=Path, help="the record book to open")
    parser.add_argument("--page", choices=PAGES, help="the page to begin with")
    return parser.parse_args(list(argv))


def need_screen() -> None:
    """Make sure that Qt would find a screen: Qt itself ends the whole program where there is none.

    Raises:
        NoScreen: no display is named, or the one that is named does not answer.
    """
    if os.environ.get("QT_QPA_PLATFORM") or not sys.platform.startswith("linux"):
        return
    display = os.environ.get("DISPLAY")
    if os.environ.get("WAYLAND_DISPLAY"):
        return
    if not display:
        raise NoScreen("this terminal is connected to none")
    if not _answers(display):
        raise NoScreen(f"the display “{display}” does not answer")


def _answers(display: str) -> bool:
    import socket

    host, _, number = display.rpartition(":")
    try:
        screen = int(number.split(".")[0])
    except ValueError:
        return False
    if host and not host.startswith("unix"):
        try:
            socket.create_connection((host, 6000 + screen), timeout=3).close()
        except OSError:
            return False
        return True
    for address in (f"/tmp/.X11-unix/X{screen}", f"\0/tmp/.X11-unix/X{screen}"):
        with socket.socket(socket.AF_UNIX) as line:
            try:
                line.connect(address)
            except OSError:
                continue
            return True
    return False


def _import_cv2_beside_qt() -> None:
    # opencv-python points Qt at its own Qt 5 plugins when it is imported; put the keeper's values back
    names = ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR")
    before = {name: os.environ.get(name) for name in names}
    import cv2  # noqa: F401

    for name, value in before.items():
        if value is None:
            os.environ.pop(name, None)
        else:
            os.environ[name] = value


def make_application() -> QApplication:
    """The one QApplication, set up; the existing one if there is one already."""
    _import_cv2_beside_qt()
    from PySide6.QtGui import QIcon
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance() or QApplication(["clipmark"])
    assert isinstance(app, QApplication)
    app.setApplicationName("clipmark")
    app.setApplicationDisplayName("clipmark")
    app.setDesktopFileName("clipmark")
    app.setWindowIcon(QIcon(str(ICON)))
    return app


def open_window(book_path: Path | None = None, films: Sequence[Path] = (), page: str | None = None) -> MainWindow:
    """Put the window together over a book and show it; the caller runs the event loop."""
    from clipmark import settings as declared
    from clipmark.book.store import Book
    from clipmark.window import theme
    from clipmark.window.main_window import MainWindow
    from clipmark.window.workspace import Workspace

    app = make_application()
    choices = declared.Settings()
    theme.apply(app, theme.choose(choices.get(declared.THEME)))
    workspace = Workspace(Book.open(book_path), choices)
    window = MainWindow(workspace)
    window.begin(list(films), page)
    return window


def _opened(options: argparse.Namespace) -> MainWindow | None:
    """The window; None where it cannot be opened and the keeper, who was told why in a window, gave up."""
    from clipmark.window.start.cannot_open import ask_again

    make_application()
    while True:
        try:
            return open_window(options.book, options.film, options.page)
        except ClipmarkError as error:
            print(error, file=sys.stderr)
            if not ask_again(str(error)):
                return None


def _unforeseen(
    window: MainWindow, kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    """A fault of ours inside the event loop: into the log, and said in the window, which stays."""
    if issubclass(kind, KeyboardInterrupt):
        window.close()
        return
    logging.getLogger(__name__).error("unforeseen", exc_info=(kind, error, trace))
    sys.__excepthook__(kind, error, trace)
    window.workspace.say_wrong(error)


def run(argv: Sequence[str]) -> int:
    """`clipmark [FILM...] [--book FILE] [--page NAME]`: open the window and stay until it is closed."""
    options = _options(argv)
    need_screen()
    begin_log()
    window = _opened(options)
    if window is None:
        return 1
    window.show()
    sys.excepthook = partial(_unforeseen, window)
    from PySide6.QtWidgets import QApplication

    code = int(QApplication.exec())
    window.workspace.book.close()
    return code
