"""Every page on every usual screen: nothing outside the window, no text cut in silence, the picture first.

A screen at 150 or 200 % is one of these sizes again in the pixels that a window counts: 1920 x 1080 at 150 % and
2560 x 1440 at 200 % are 1280 x 720.
"""

from __future__ import annotations

import pytest
from PySide6.QtCore import QCoreApplication, QPoint, QRect, Qt
from PySide6.QtWidgets import QAbstractButton, QLabel, QScrollArea, QWidget

from clipmark.book.model import Session
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


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_no_page_outgrows_the_screen_or_cuts_a_text_in_silence(filled, size, qtbot):
    faults = []
    filled.resize(*size)
    for name in PAGE_CLASSES:
        filled.show_page(name)
        settled()
        if (filled.width(), filled.height()) != size:
            faults.append(f"{name}: the window grows to {filled.width()} x {filled.height()}")
        for part in texts(filled):
            said = f"{name}: “{part.text()[:60]}”"
            faults += [said + " lies outside"] if outside(filled, part) else []
            faults += [said + " is cut"] if cut(part) else []

    assert [] == faults


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
