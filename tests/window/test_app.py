"""Opening the window from the command line."""

from __future__ import annotations

import argparse
import logging
import os
import socket
import subprocess
import sys

import pytest

from clipmark.cli import main
from clipmark.errors import WrongUsage
from clipmark.log import begin_log, log_file
from clipmark.window import app


def test_without_a_screen_a_sentence_and_exit_code_1(monkeypatch, capsys):
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)

    assert 1 == main([])
    assert "needs a screen" in capsys.readouterr().err


def test_a_display_that_does_not_answer_is_named(monkeypatch):
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setenv("DISPLAY", ":977")

    with pytest.raises(app.NoScreen, match=":977"):
        app.need_screen()


def test_a_display_that_answers_will_do(monkeypatch):
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("\0/tmp/.X11-unix/X976")
        server.listen()
        monkeypatch.setenv("DISPLAY", ":976.0")
        app.need_screen()


def test_an_unknown_page_is_wrong_usage():
    with pytest.raises(WrongUsage, match="nowhere"):
        app.run(["--page", "nowhere"])


def test_qts_own_plugins_are_not_replaced_by_those_of_opencv():
    """In a process of its own: here another test may have imported cv2 before the window was set up."""
    code = (
        "import os\nfrom clipmark.window.app import make_application\nmake_application()\nimport cv2\n"
        "print(os.environ.get('QT_QPA_PLATFORM_PLUGIN_PATH', ''), os.environ.get('QT_QPA_FONTDIR', ''))"
    )
    environment = {k: v for k, v in os.environ.items() if k not in ("QT_QPA_PLATFORM_PLUGIN_PATH", "QT_QPA_FONTDIR")}
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment)

    assert "cv2" not in answer.stdout


def test_the_window_opens_with_the_film_that_is_named(qtbot, film, tmp_path):
    window = app.open_window(tmp_path / "named.book", [film.path])
    qtbot.addWidget(window)
    window.show()
    with qtbot.waitSignal(window.workspace.clipReady):
        pass

    assert ["plain"] == [row.title for row in window.workspace.book.sessions()]
    window.close()
    window.workspace.book.close()


def test_the_windows_place_and_size_are_kept(qtbot, tmp_path):
    first = app.open_window(tmp_path / "a.book")
    qtbot.addWidget(first)
    first.resize(1100, 666)
    first.show()
    first.close()
    first.workspace.book.close()
    second = app.open_window(tmp_path / "a.book")
    qtbot.addWidget(second)

    assert 666 == second.height()  # the offscreen screen is only 800 wide, and widths are kept within it
    second.close()
    second.workspace.book.close()


def test_a_book_that_cannot_be_opened_is_told_in_a_window_and_tried_again(qtbot, monkeypatch, tmp_path, capsys):
    (tmp_path / "in the way").write_text("a file where the folder should be")
    place = tmp_path / "in the way" / "my.book"
    asked = []

    def mended(why: str) -> bool:
        asked.append(why)
        (tmp_path / "in the way").unlink()
        return True

    monkeypatch.setattr("clipmark.window.start.cannot_open.ask_again", mended)
    window = app._opened(argparse.Namespace(book=place, film=[], page=None))
    qtbot.addWidget(window)

    assert 1 == len(asked)
    assert asked[0] in capsys.readouterr().err
    assert place.exists()
    window.close()
    window.workspace.book.close()


def test_the_window_that_says_why_offers_to_try_again(qtbot):
    from clipmark.window.start.cannot_open import cannot_open_box

    box = cannot_open_box("The disk is full.")
    qtbot.addWidget(box)

    assert "The disk is full." == box.informativeText()
    assert box.button(box.StandardButton.Retry) is box.defaultButton()


def test_a_fault_of_ours_is_in_the_log_and_said_in_the_window(window, monkeypatch):
    monkeypatch.setattr(sys, "__excepthook__", lambda *_: None)
    handler = begin_log()
    try:
        raise RuntimeError("a wheel came off")
    except RuntimeError as error:
        app._unforeseen(window, RuntimeError, error, error.__traceback__)
    logging.getLogger().removeHandler(handler)
    handler.close()

    assert "a wheel came off" in log_file().read_text()
    assert str(log_file()) in window.messages.text
