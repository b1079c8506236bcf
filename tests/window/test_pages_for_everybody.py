"""Every page for people who use a keyboard, a screen reader or large type."""

from __future__ import annotations

import itertools

import pytest
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QScrollArea,
    QWidget,
)

from clipmark.window.commands import COMMANDS, on_page
from clipmark.window.main_window import MainWindow
from tests.window.conftest import put_in

PAGES = ("pair", "pulls", "sheet", "after")


@pytest.fixture
def filled(window: MainWindow, film, qtbot) -> MainWindow:
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    return window


def operable(page: QWidget) -> list[QWidget]:
    """What can be reached by Tab on the page as it stands, in that order."""
    QCoreApplication.processEvents()
    found: list[QWidget] = []
    widget = page.nextInFocusChain()
    while widget is not None and widget is not page:
        reachable = widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isEnabled() and widget.isVisible()
        if reachable and page.isAncestorOf(widget) and widget.focusProxy() is None:
            found.append(widget)
        widget = widget.nextInFocusChain()
    return found


def told(widget: QWidget) -> str:
    """What a screen reader says of it."""
    inner = widget.parentWidget()
    if isinstance(widget, QLineEdit) and isinstance(inner, QComboBox | QAbstractSpinBox):
        return told(inner)
    return widget.accessibleName() or (widget.text() if isinstance(widget, QAbstractButton) else "")


@pytest.mark.parametrize("name", PAGES)
def test_whatever_can_be_operated_says_what_it_is(filled: MainWindow, name: str) -> None:
    filled.show_page(name)

    silent = [
        f"{type(w).__name__} in {type(w.parentWidget()).__name__}"
        for w in operable(filled.pages[name])
        if not told(w) and not isinstance(w, QScrollArea)
    ]

    assert [] == silent


@pytest.mark.parametrize("name", PAGES)
def test_tab_goes_through_the_page_from_top_to_bottom_within_each_column(filled: MainWindow, name: str) -> None:
    """Whoever tabs meets neighbours next to each other: most steps lead onwards, few jump back up."""
    filled.show_page(name)
    page = filled.pages[name]
    tops = [w.mapTo(page, w.rect().topLeft()).y() for w in operable(page) if not isinstance(w, QScrollArea)]

    back = sum(later < earlier - 40 for earlier, later in itertools.pairwise(tops))

    assert back <= 3, tops


@pytest.mark.parametrize("name", PAGES)
def test_every_list_can_be_walked_by_keyboard(filled: MainWindow, name: str) -> None:
    filled.show_page(name)

    for view in filled.pages[name].findChildren(QAbstractItemView):
        if view.isVisible() and not isinstance(view, QHeaderView):
            assert view.focusPolicy() & Qt.FocusPolicy.TabFocus, type(view).__name__


@pytest.mark.parametrize("name", PAGES)
def test_all_commands_of_a_page_have_a_handler_and_no_key_twice(filled: MainWindow, name: str) -> None:
    own = {command.name for command in COMMANDS if command.page == name}
    assert own == set(filled.pages[name].handlers())

    keys = [command.key for command in on_page(name) if command.key]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", PAGES)
def test_large_type_makes_the_window_no_wider_than_a_small_screen(filled: MainWindow, name: str, qapp) -> None:
    font = QFont(filled.font())
    font.setPointSizeF(font.pointSizeF() * 1.25)
    before = qapp.font()
    qapp.setFont(font)
    try:
        filled.show_page(name)
        QCoreApplication.processEvents()
        assert filled.pages[name].minimumSizeHint().width() <= 1280
    finally:
        qapp.setFont(before)
