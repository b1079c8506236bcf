"""Every page on every usual screen: nothing outside the window, no text cut in silence, the picture first.

A screen at 150 or 200 % is one of these sizes again in the pixels that a window counts: 1920 x 1080 at 150 % and
2560 x 1440 at 200 % are 1280 x 720.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QPoint, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QAbstractButton, QLabel, QScrollArea, QWidget

from clipmark.book.model import Session
from clipmark.window import theme
from clipmark.window.main_window import PAGE_CLASSES, MainWindow
from tests.window.conftest import put_in

SIZES = ((1280, 720), (1366, 768), (1920, 1080), (2560, 1440))
LONG = "A pairing with a title that goes on and on, as somebody may well paste a whole note into it " * 2


@pytest.fixture
def filled(window: MainWindow, film, qtbot) -> MainWindow:
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    return window


def settled() -> None:
    for _ in range(4):
        QCoreApplication.processEvents()


def texts(page: QWidget) -> list[QLabel | QAbstractButton]:
    """Labels and buttons with words that can be seen without scrolling."""
    found = [*page.findChildren(QLabel), *page.findChildren(QAbstractButton)]
    return [part for part in found if part.isVisible() and part.text() and not scrolled_away(part)]


def scrolled_away(part: QWidget) -> bool:
    above = part.parentWidget()
    while above is not None:
        if isinstance(above, QScrollArea):
            place = QRect(part.mapTo(above, QPoint(0, 0)), part.size())
            return not above.viewport().rect().intersects(place)
        above = above.parentWidget()
    return False


def outside(window: MainWindow, part: QWidget) -> bool:
    place = QRect(part.mapTo(window, QPoint(0, 0)), part.size())
    return place.left() < 0 or place.right() > window.width() or place.top() < 0


def cut(part: QLabel | QAbstractButton) -> bool:
    """Whether words do not fit and no tool tip tells them whole."""
    if isinstance(part, QLabel) and (part.wordWrap() or part.textFormat() == Qt.TextFormat.RichText):
        return False
    words = max(part.text().replace("&", "").split("\n"), key=part.fontMetrics().horizontalAdvance)
    above = part.parentWidget()
    told = part.toolTip() or (above.toolTip() if isinstance(above, QAbstractButton) else "")
    return part.fontMetrics().horizontalAdvance(words) > part.width() + 1 and not told


def faults(window: MainWindow, size: tuple[int, int]) -> list[str]:
    """What is wrong with the pages at a size: the window grows, words lie outside of it or are cut in silence."""
    found = []
    window.resize(*size)
    for name in PAGE_CLASSES:
        window.show_page(name)
        settled()
        if (window.width(), window.height()) != size:
            found.append(f"{name}: the window grows to {window.width()} x {window.height()}")
        for part in texts(window):
            said = f"{name}: “{part.text()[:60]}”"
            found += [said + " lies outside"] if outside(window, part) else []
            found += [said + " is cut"] if cut(part) else []
    return found


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_no_page_outgrows_the_screen_or_cuts_a_text_in_silence(filled, size, qtbot):
    assert [] == faults(filled, size)


def test_in_the_dark_theme_no_page_outgrows_the_screen_and_all_words_stand_out(filled, qapp):
    theme.apply(qapp, theme.dark())
    found = faults(filled, (1280, 720))
    pale = []
    for name in PAGE_CLASSES:
        filled.show_page(name)
        settled()
        picture = filled.grab().toImage()
        for part in texts(filled):
            if not part.text().strip() or not part.isEnabled() or outside(filled, part):
                continue
            if (reached := contrast(filled, picture, part)) < LEAST_CONTRAST:
                pale.append(f"{name}: “{part.text()[:40]}” {reached:.1f}")

    assert [] == found
    assert [] == pale


LEAST_CONTRAST = 3.0  # WCAG 2.2, 1.4.11 and large text of 1.4.3; strokes of small letters are blended with the ground


def contrast(window: MainWindow, picture: QImage, part: QWidget) -> float:
    """Between the darkest and the brightest pixel of a widget as it was drawn, by WCAG's formula."""
    ratio = picture.devicePixelRatio()
    at = part.mapTo(window, QPoint(0, 0))
    place = QRect(
        round(at.x() * ratio), round(at.y() * ratio), round(part.width() * ratio), round(part.height() * ratio)
    )
    image = picture.copy(place.intersected(picture.rect())).convertToFormat(QImage.Format.Format_RGB888)
    lines = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    values = lines[:, : image.width() * 3].reshape(-1, 3) / 255
    linear = np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
    bright = linear @ (0.2126, 0.7152, 0.0722)
    return float((bright.max() + 0.05) / (bright.min() + 0.05))


# Fonts and margins are rounded anew at each scale: a process of its own, as Qt takes the scale at its start alone.
SCALED = """
import sys
from pathlib import Path
from tests import made
from tests.window import test_every_screen as screens
from tests.window.conftest import put_in
from clipmark.window.app import open_window

window = open_window()
window.show()
put_in(window.workspace, made.film(Path(sys.argv[1]) / "plain.mkv", made.uneven(60)))
assert float(sys.argv[2]) == window.devicePixelRatioF()
print("\\n".join(screens.faults(window, (1280, 720))))
window.close()
"""


@pytest.mark.parametrize("scale", ["1.5", "2"])
def test_at_a_scale_of_150_and_200_percent_no_page_outgrows_the_screen(scale, tmp_path):
    root = Path(__file__).parents[2]
    surroundings = {**os.environ, "QT_SCALE_FACTOR": scale, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(root),
                    "CLIPMARK_HOME": str(tmp_path / "home")}  # fmt: skip
    command = [sys.executable, "-c", SCALED, str(tmp_path), scale]
    ended = subprocess.run(
        command, env=surroundings, cwd=root, capture_output=True, text=True, timeout=90, check=False
    )

    assert (0, "") == (ended.returncode, ended.stdout.strip()), ended.stderr[-2000:]


def test_the_picture_is_the_largest_thing_on_the_film_page(filled):
    filled.resize(1366, 768)
    filled.show_page("film")
    settled()
    page = filled.pages["film"]

    picture = page.cameras.width() * page.cameras.height()

    assert picture / (page.width() * page.height()) >= 0.55


def test_nothing_moves_while_the_film_plays_or_repeats(filled, qtbot):
    filled.resize(1280, 720)
    filled.show_page("film")
    settled()
    page = filled.pages["film"]
    parts = (page.cameras, page.transport, page.strip, page.roll, page.board)
    before = [QRect(part.mapTo(filled, QPoint(0, 0)), part.size()) for part in parts]

    page.player.toggle()
    qtbot.wait(120)
    page.handlers()["play.loop"]()
    qtbot.wait(120)

    assert before == [QRect(part.mapTo(filled, QPoint(0, 0)), part.size()) for part in parts]
    page.player.pause()


def test_a_title_of_two_hundred_characters_leaves_the_tabs_alone_and_is_whole_on_hover(window):
    window.resize(1280, 720)
    made = window.workspace.book.add_session(Session(0, LONG, None, None, reviewer="Ada"))
    window.workspace.show_session(made.id)
    settled()

    assert window.tabs.width() >= window.tabs.sizeHint().width()
    assert 1280 == window.width()
    assert LONG.strip() in window.title.toolTip()


def test_a_long_message_moves_nothing(filled):
    filled.resize(1280, 720)
    settled()
    before = filled.stack.size()

    filled.workspace.say(LONG * 3, "wrong")
    filled.workspace.say(LONG, "note")
    settled()

    assert before == filled.stack.size()
    assert LONG.strip()[:80] in filled.messages.label.toolTip()


def test_full_screen_leaves_film_roll_and_keys_and_comes_back(filled, qtbot):
    filled.show_page("film")
    page = filled.pages["film"]
    page.handlers()["view.alone"]()
    settled()
    alone = (filled.tabs.isVisible(), page.side.isVisible(), page.roll.isVisible(), page.cameras.isVisible())

    page.handlers()["view.alone"]()
    settled()

    assert (False, False, True, True) == alone
    assert filled.tabs.isVisible()
    assert page.side.isVisible()


def test_the_short_list_of_acts_unfolds_and_typing_finds_the_rest(filled, qtbot):
    filled.show_page("film")
    board = filled.pages["film"].board
    shown = [code for code, button in board.buttons.items() if not button.isHidden()]

    board.search.setText("trembl")
    found = [code for code, button in board.buttons.items() if not button.isHidden()]

    assert len(shown) <= 14
    assert "drumming" in shown
    assert ["trembling"] == found
    with qtbot.waitSignal(board.pressed) as pressed:
        qtbot.keyClick(board.search, Qt.Key.Key_Return)
    assert "trembling" == pressed.args[0].code
