"""What can be pressed, and where."""

from __future__ import annotations

import itertools

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QLineEdit, QPushButton

from clipmark import settings as declared
from clipmark.book.meaning.acts import BUILT_IN
from clipmark.review.pages import PAGES
from clipmark.settings import Settings
from clipmark.window.commands import BY_NAME, COMMANDS, Keys, KeyTaken, on_page
from clipmark.window.keyboard import keeps

CTRL, NONE = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.NoModifier


def test_no_two_things_on_one_page_have_the_same_key():
    for page in PAGES:
        keys = [(QKeySequence(c.key).toString(), c.name) for c in on_page(page) if c.key]
        if page == "film":
            keys += [(QKeySequence(act.key).toString(), act.code) for act in BUILT_IN if act.key]
        for (key, one), (other_key, other) in itertools.combinations(keys, 2):
            assert key != other_key, f"{one} and {other} on {page}"


def test_every_key_is_one_that_qt_knows():
    for command in COMMANDS:
        if command.key:
            assert QKeySequence(command.key).toString(), command.name
            assert Qt.Key.Key_unknown != QKeySequence(command.key)[0].key(), command.name


def test_every_command_says_what_it_does():
    for command in COMMANDS:
        assert command.text
        assert command.told.endswith("."), command.name


def test_every_command_of_a_page_is_bound_to_something(window):
    assert set(BY_NAME) == set(window.actions_by_name)


def test_a_changed_key_is_kept_and_works_at_once(on_view, qtbot):
    from tests.window.conftest import wait_shown

    on_view.keys.change("step.forward", "Ctrl+J")
    on_view._rekey()
    qtbot.keyClick(on_view.pages["film"], Qt.Key.Key_J, CTRL)
    wait_shown(on_view, qtbot, 1)

    assert "Ctrl+J" == Keys(Settings()).of("step.forward")


def test_a_key_that_is_taken_is_refused_in_words():
    with pytest.raises(KeyTaken, match="Previous frame"):
        Keys(Settings()).change("step.forward", "Left")


def test_the_old_key_again_needs_no_entry():
    keys = Keys(Settings())
    keys.change("step.forward", "Ctrl+J")
    keys.change("step.forward", "Right")

    assert {} == Settings().get(declared.KEYS)


def test_the_key_sheet_lists_the_keys_of_the_page_and_its_acts(on_view, qtbot):
    qtbot.keyClick(on_view, Qt.Key.Key_F1)
    table = on_view.key_sheet.table
    shown = {table.item(row, 1).text(): table.item(row, 0).text() for row in range(table.rowCount())}

    assert on_view.key_sheet.isVisible()
    assert "Right" == shown["Next frame"]
    assert "D" == shown["Drumming with the palps"]
    qtbot.keyClick(table, Qt.Key.Key_Escape)
    assert not on_view.key_sheet.isVisible()


def test_a_key_is_changed_on_the_sheet(on_view, qtbot):
    qtbot.keyClick(on_view, Qt.Key.Key_F1)
    table = on_view.key_sheet.table
    row = next(r for r in range(table.rowCount()) if table.item(r, 1).text() == "Next frame")
    table.setCurrentCell(row, 0)
    qtbot.keyClick(table, Qt.Key.Key_Return)
    qtbot.keyClick(table, Qt.Key.Key_J, CTRL)

    assert "Ctrl+J" == on_view.keys.of("step.forward")
    assert "Ctrl+J" == on_view.actions_by_name["step.forward"].shortcut().toString()


def test_a_taken_key_on_the_sheet_is_said_at_the_foot_of_the_window(on_view, qtbot):
    qtbot.keyClick(on_view, Qt.Key.Key_F1)
    table = on_view.key_sheet.table
    row = next(r for r in range(table.rowCount()) if table.item(r, 1).text() == "Next frame")
    table.setCurrentCell(row, 0)
    qtbot.keyClick(table, Qt.Key.Key_Return)
    qtbot.keyClick(table, Qt.Key.Key_Left)

    assert "already the key" in on_view.messages.text
    assert "Right" == table.item(row, 0).text()


def test_no_act_is_marked_while_the_key_sheet_lies_over_the_page(on_view, qtbot):
    qtbot.keyClick(on_view, Qt.Key.Key_F1)
    qtbot.keyClick(on_view.key_sheet.table, Qt.Key.Key_C)

    assert () == on_view.workspace.record.marks


def test_a_focused_button_keeps_space_and_a_text_keeps_its_letters(qapp):
    button, line = QPushButton(), QLineEdit()

    assert keeps(button, Qt.Key.Key_Space, NONE)
    assert not keeps(button, Qt.Key.Key_Right, NONE)
    assert not keeps(line, Qt.Key.Key_Space, CTRL)
    button.deleteLater()
    line.deleteLater()


def test_space_on_a_focused_button_presses_it_and_does_not_run_the_film(on_view, qtbot):
    page = on_view.pages["film"]
    button = page.transport.buttons["step.forward"]
    button.setFocus()
    qtbot.waitUntil(button.hasFocus)
    qtbot.keyClick(button, Qt.Key.Key_Space)

    assert not page.player.running
    assert 1 == page.player.number()
