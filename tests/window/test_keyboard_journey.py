"""The first hour by keyboard alone: a session, film, an outline, the pass, a call, a mark, the sheet."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from clipmark.book.model import Decision
from tests.window.conftest import pulled, wait_shown

CTRL, SHIFT, NONE = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier(0)
Key = Qt.Key


def on_focus() -> QWidget:
    focus = QApplication.focusWidget()
    assert focus is not None, "no widget takes the keys"
    return focus


def key(which: Qt.Key, modifiers: Qt.KeyboardModifier = NONE, times: int = 1) -> None:
    """To whatever has the focus, as a keyboard does."""
    for _ in range(times):
        QTest.keyClick(on_focus(), which, modifiers)


def tab_to(name: str) -> QWidget:
    """Go by Tab to what a reader of the screen calls by this name."""
    met = []
    for _ in range(80):
        met.append(on_focus().accessibleName())
        if on_focus().accessibleName() == name:
            return on_focus()
        key(Key.Key_Tab)
    raise AssertionError(f"Tab leads to {met}, not to “{name}”")


@pytest.fixture
def begun(window, qtbot):
    window.show_page("start")
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    return window


def test_the_first_hour_by_keyboard_alone(begun, tmp_path, qtbot, monkeypatch):
    monkeypatch.setenv("CLIPMARK_HOME", str(tmp_path / "home"))  # the sheet is written there
    window, workspace, page = begun, begun.workspace, begun.pages["film"]
    film = pulled(tmp_path / "evening.mkv", seconds=2.8)
    monkeypatch.setattr("clipmark.window.main_window.QFileDialog.getOpenFileNames", lambda *_: ([str(film.path)], ""))

    key(Key.Key_N, CTRL | SHIFT)
    assert "pair" == window.page
    QTest.keyClicks(on_focus(), "Mora and Iron")
    key(Key.Key_Return)
    tab_to("She: Name")
    QTest.keyClicks(on_focus(), "Mora")
    key(Key.Key_Return)
    assert ("Mora and Iron", "Mora") == (workspace.record.session.title, workspace.record.female.name)

    key(Key.Key_O, CTRL)
    qtbot.waitUntil(lambda: len(workspace.record.clips) == 1)
    open_page(window, "film")
    wait_shown(window, qtbot, 0)

    key(Key.Key_F2)
    key(Key.Key_Right, CTRL, times=4)  # wider and higher
    key(Key.Key_Down, CTRL, times=4)
    box = page.cameras.current.edited_box()
    key(Key.Key_Return)
    (outline,) = workspace.record.outlines
    assert (box.width(), box.height()) == pytest.approx((outline.w, outline.h))

    with qtbot.waitSignal(page.passes.kept, timeout=60_000):
        key(Key.Key_F5)
    open_page(window, "pulls")
    chosen = workspace.flag_id
    key(Key.Key_1)
    (call,) = workspace.record.calls
    assert (chosen, Decision.CONFIRMED) == (call.flag_id, call.decision)

    open_page(window, "film")
    here = page.player.number()
    wait_shown(window, qtbot, here)
    key(Key.Key_Right)
    wait_shown(window, qtbot, here + 1)
    key(Key.Key_C)
    qtbot.waitUntil(lambda: ["contact"] == [mark.act for mark in workspace.record.marks])

    open_page(window, "sheet")
    key(Key.Key_P, CTRL)
    qtbot.waitUntil(lambda: window.pages["sheet"].written is not None, timeout=20_000)
    assert "Mora" in window.pages["sheet"].written.read_text("utf-8")


def open_page(window, name: str) -> None:
    """By the key that the window's menu tells."""
    from PySide6.QtGui import QKeySequence

    pressed = QKeySequence(window.keys.of(f"page.{name}"))[0]
    key(pressed.key(), pressed.keyboardModifiers())
    assert name == window.page


def test_enter_chooses_in_an_open_list(begun, qtbot):
    key(Key.Key_N, CTRL | SHIFT)
    name = tab_to("She: Name")
    QTest.keyClicks(name, "Mora")
    key(Key.Key_Return)
    key(Key.Key_N, CTRL | SHIFT)
    box = tab_to("She: animals of the book")
    key(Key.Key_F4)
    qtbot.waitUntil(lambda: box.view().isVisible())
    QTest.keyClick(box.view(), Key.Key_Down)
    QTest.keyClick(box.view(), Key.Key_Return)

    assert not box.view().isVisible()
    assert "Mora" == begun.workspace.record.female.name
