"""The window for people who do not see it, or who use no mouse."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QAbstractButton, QAbstractSpinBox, QApplication, QComboBox, QWidget

from clipmark.review.pages import PAGES
from clipmark.window.film.page import FilmPage

OWN_NAME_NEEDED = (Qt.FocusPolicy.TabFocus, Qt.FocusPolicy.StrongFocus, Qt.FocusPolicy.WheelFocus)


def reached_by_tab(root: QWidget) -> list[QWidget]:
    found = [w for w in root.findChildren(QWidget) if w.focusPolicy() in OWN_NAME_NEEDED and w.isVisible()]
    # the line inside a box of numbers or choices speaks through the box
    return [w for w in found if not isinstance(w.parent(), QAbstractSpinBox | QComboBox)]


def name_of(widget: QWidget) -> str:
    """What a screen reader would say."""
    interface = QAccessible.queryAccessibleInterface(widget)
    said = interface.text(QAccessible.Text.Name) if interface is not None else ""
    if not said and isinstance(widget, QAbstractButton):
        said = widget.text()
    return said


@pytest.mark.parametrize("page", PAGES)
def test_everything_that_the_tab_key_reaches_has_a_name(on_view, page):
    on_view.show_page(page)
    QApplication.processEvents()
    nameless = [
        f"{type(w).__name__} in {type(w.parent()).__name__}"
        for w in reached_by_tab(on_view.pages[page])
        if not name_of(w) and not type(w).__name__.startswith(("QScroll", "qt_"))
    ]

    assert [] == nameless


def test_the_tab_key_goes_through_the_film_page_and_comes_back(on_view, qtbot):
    page = on_view.pages["film"]
    page.setFocus()
    on_view.activateWindow()
    seen = []
    for _ in range(200):
        on_view.focusNextPrevChild(True)
        now = QApplication.focusWidget()
        if now in seen:
            break
        seen.append(now)

    kinds = [type(w).__name__ for w in seen]
    assert "OutlinePicture" in kinds
    assert "ActButton" in kinds
    assert any(kind == "Roll" for kind in kinds)
    picture, roll = kinds.index("OutlinePicture"), kinds.index("Roll")
    acts = [i for i, kind in enumerate(kinds) if kind == "ActButton"]
    assert picture < acts[0] < acts[-1] < roll or roll < picture < acts[0]


def test_the_picture_tells_its_frame_and_its_time(on_view, qtbot):
    view = on_view.pages["film"].cameras.current
    qtbot.waitUntil(lambda: "frame 1 of 60" in view.accessibleDescription())

    assert "0:00.000" in view.accessibleDescription()


def test_an_acts_button_tells_its_key_and_whether_it_lasts(on_view):
    page = on_view.pages["film"]
    assert isinstance(page, FilmPage)

    assert "Drumming with the palps, key D, lasting" in page.board.buttons["drumming"].accessibleName()


def test_what_is_open_is_told_by_a_sign_and_not_by_colour_alone(on_view, qtbot):
    page = on_view.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_D)
    on_view.workspace.settle()

    assert "●" == page.board.buttons["drumming"].kind.text()
    assert page.board.buttons["drumming"].label.font().bold()


def test_messages_carry_a_sign_for_their_kind(window):
    for kind, sign in (("wrong", "!"), ("done", "✓"), ("note", "·")):
        window.messages.earlier.clear()
        window.messages.say("words", kind)
        assert sign == window.messages.sign.text()


def test_trouble_is_not_pushed_away_by_a_note(window):
    window.messages.say("The film is missing.", "wrong")
    window.messages.say("A note.", "note")

    assert "The film is missing." in window.messages.text
    assert "A note." in window.messages.text


def test_sizes_follow_the_systems_letters(qtbot, qapp, film, book):
    from clipmark.settings import Settings
    from clipmark.window.main_window import MainWindow
    from clipmark.window.workspace import Workspace

    def strip_height(points: int) -> int:
        font = qapp.font()
        font.setPointSize(points)
        qapp.setFont(font)
        window = MainWindow(Workspace(book, Settings()))
        qtbot.addWidget(window)
        high = window.pages["film"].strip.minimumSizeHint().height()
        window.close()
        return high

    before = qapp.font()
    try:
        assert strip_height(20) > 1.5 * strip_height(10)
    finally:
        qapp.setFont(before)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_fits_a_small_screen(on_view, page):
    on_view.show_page(page)
    QApplication.processEvents()

    needed = on_view.minimumSizeHint()
    assert needed.width() <= 1280
    assert needed.height() <= 720


@pytest.mark.parametrize("page", [name for name in PAGES if name != "start"])
def test_enter_chooses_in_every_open_list(on_view, page, qtbot):
    from PySide6.QtWidgets import QComboBox

    on_view.show_page(page)
    boxes = [
        b for b in on_view.pages[page].findChildren(QComboBox) if b.isVisible() and b.isEnabled() and b.count() > 1
    ]
    for box in boxes:
        box.setFocus()
        box.setCurrentIndex(0)
        chosen = []
        box.activated.connect(chosen.append)
        box.showPopup()
        view = box.view()
        qtbot.waitUntil(view.isVisible)
        qtbot.keyClick(view, Qt.Key.Key_Down)
        qtbot.keyClick(view, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda view=view: not view.isVisible())
        assert [1] == chosen, f"{box.accessibleName()} does not choose by Enter"
