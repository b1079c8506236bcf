"""The list of acts, changed by the keeper."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import Actor
from clipmark.window.film.act_editor import KEY, NAME, WHO


@pytest.fixture
def editor(on_view, qtbot):
    page = on_view.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    assert page.editor.isVisible()
    return page.editor


def row_of(editor, code: str) -> int:
    return next(i for i, act in enumerate(editor._acts) if act.code == code)


def test_a_new_name_shows_on_the_board_and_old_marks_keep_their_meaning(editor, on_view, qtbot):
    page = on_view.pages["film"]
    editor.leave()
    qtbot.keyClick(page, Qt.Key.Key_D)
    editor.begin()
    editor.table.item(row_of(editor, "drumming"), NAME).setText("Drum roll")
    editor.name.setText("mine")
    editor.keep()

    assert "Drum roll" == page.board.buttons["drumming"].label.text()
    assert ["drumming"] == [m.act for m in on_view.workspace.record.marks]
    assert ("mine",) == on_view.workspace.book.act_sets()


def test_a_new_key_works_at_once(editor, on_view, qtbot):
    editor.table.item(row_of(editor, "drumming"), KEY).setText("Shift+Q")
    editor.keep()
    editor.leave()
    qtbot.keyClick(on_view.pages["film"], Qt.Key.Key_Q, Qt.KeyboardModifier.ShiftModifier)
    on_view.workspace.settle()

    assert ["drumming"] == [m.act for m in on_view.workspace.record.marks]


def test_a_key_of_a_command_is_refused_in_words(editor, on_view):
    editor.table.item(row_of(editor, "drumming"), KEY).setText("Space")
    editor.keep()

    assert "Play or pause" in on_view.messages.text
    assert BUILT_IN == on_view.workspace.book.acts()


def test_two_acts_on_one_key_are_refused_in_words(editor, on_view):
    editor.table.item(row_of(editor, "drumming"), KEY).setText("C")
    editor.keep()

    assert "same key" in on_view.messages.text
    assert BUILT_IN == on_view.workspace.book.acts()


def test_an_act_of_the_keepers_own_can_be_added_and_marked(editor, on_view, qtbot):
    editor.add()
    last = len(editor._acts) - 1
    editor.table.item(last, NAME).setText("He waves")
    editor.table.item(last, KEY).setText("Shift+V")
    editor.keep()
    editor.leave()
    qtbot.keyClick(on_view.pages["film"], Qt.Key.Key_V, Qt.KeyboardModifier.ShiftModifier)
    on_view.workspace.settle()

    (mark,) = on_view.workspace.record.marks
    assert "He waves" == on_view.workspace.record.act(mark.act).label


def test_the_built_in_acts_come_back(editor, on_view):
    editor.table.setCurrentCell(row_of(editor, "drumming"), NAME)
    editor.remove()
    editor.keep()
    assert None is on_view.workspace.record.act("drumming")
    editor.use_built_in()

    assert BUILT_IN == on_view.workspace.record.acts


def test_letters_typed_over_the_list_mark_nothing(editor, on_view, qtbot):
    qtbot.keyClick(editor.table, Qt.Key.Key_C)
    on_view.workspace.settle()

    assert () == on_view.workspace.record.marks


def test_who_acts_is_told_in_words_for_people(editor):
    who = editor.table.cellWidget(row_of(editor, "drumming"), WHO)

    assert ["he", "she", "both", "keeper", "nobody"] == [who.itemText(i) for i in range(who.count())]
    assert "he" == who.currentText()
    assert [Actor.HIM] == [act.actor for act in editor.acts() if act.code == "drumming"]
