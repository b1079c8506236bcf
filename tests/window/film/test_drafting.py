"""The draft in the window: hollow on the roll, taken with one key, taken off with another."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest

from clipmark.draft.values import Proposal
from clipmark.window.film.drafting import Drafting
from clipmark.window.main_window import MainWindow
from clipmark.window.roll.hollow import room_of

FOUND = [
    Proposal("drumming", "him", 0.4, 0.8, 0.9, "Seen and heard at 6.0 Hz."),
    Proposal("contact", "both", 1.2, None, 0.7, "He comes up to her here."),
]


@pytest.fixture
def drafted(on_view: MainWindow, qtbot) -> MainWindow:
    on_view.pages["film"].drafting.take_in(on_view.workspace.clip_id, FOUND)
    return on_view


def test_proposals_are_hollow_bars_and_no_marks(drafted: MainWindow) -> None:
    before = len(drafted.workspace.record.marks)
    bars = drafted.pages["film"].roll.roll._hollow

    assert [("him", False), ("both", False)] == [(bar.actor, bar.selected) for bar in bars]
    assert before == len(drafted.workspace.record.marks)


def test_a_proposal_that_is_taken_is_a_mark_that_says_so_and_undo_takes_it_back(drafted: MainWindow) -> None:
    page, before = drafted.pages["film"], len(drafted.workspace.record.marks)

    page.drafting.go(-1)
    page.drafting.go(1)
    page.drafting.current = page.drafting.hollow()[0]
    page.drafting.take()

    (mark,) = [mark for mark in drafted.workspace.record.marks if mark.from_proposal]
    assert ("drumming", "him") == (mark.act, mark.actor.value)
    assert mark.end_pts is not None
    assert 1 == len(page.drafting.hollow())
    drafted.workspace.book.undo()
    drafted.workspace.refresh()
    assert before == len(drafted.workspace.record.marks)


def test_a_proposal_that_is_taken_off_is_gone_and_leaves_no_mark(drafted: MainWindow) -> None:
    page, before = drafted.pages["film"], len(drafted.workspace.record.marks)

    page.drafting.current = page.drafting.hollow()[1]
    page.drafting.leave()

    assert ["drumming"] == [one.proposal.act for one in page.drafting.hollow()]
    assert before == len(drafted.workspace.record.marks)


def test_arrows_go_from_one_proposal_to_the_next_and_drafting_afresh_touches_no_mark(drafted: MainWindow) -> None:
    page = drafted.pages["film"]
    page.drafting.current = page.drafting.hollow()[0]

    page.drafting.go(1)
    assert 1.2 == pytest.approx(float(page.player.place), abs=0.05)
    assert "First contact" in drafted.messages.text

    page.drafting.take()
    marks = drafted.workspace.record.marks
    page.drafting.take_in(drafted.workspace.clip_id, FOUND)
    assert marks == drafted.workspace.record.marks
    assert 2 == len(page.drafting.hollow())


def test_a_press_on_a_hollow_bar_selects_it_and_its_end_is_dragged_before_it_is_taken(drafted: MainWindow) -> None:
    page = drafted.pages["film"]
    roll = page.roll.roll
    bar = roll.hollow[0]
    room = room_of(bar, roll._view, roll._columns())
    foot, lower = room.bottomLeft() + QPointF(room.width() / 2, 0), roll._view.y(1.0)

    assert (0, "end") == roll.hollow_at(foot)
    QTest.mousePress(roll.viewport(), Qt.MouseButton.LeftButton, pos=foot.toPoint())
    assert page.drafting.hollow()[0] == page.drafting.current
    QTest.mouseRelease(roll.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(round(foot.x()), round(lower)))

    assert 1.0 == pytest.approx(page.drafting.hollow()[0].end, abs=0.06)
    page.drafting.take()
    (mark,) = [mark for mark in drafted.workspace.record.marks if mark.from_proposal]
    clip = drafted.workspace.clip
    assert 1.0 == pytest.approx(float(clip.on_clock(mark.end_pts)), abs=0.1)


def test_an_end_is_never_dragged_past_the_other(drafted: MainWindow) -> None:
    page = drafted.pages["film"]

    page.drafting.move_end(0, "start", 99.0)

    moved = page.drafting.hollow()
    assert all(one.end is None or one.start <= one.end for one in moved)


def test_the_menu_takes_and_leaves(drafted: MainWindow) -> None:
    page = drafted.pages["film"]
    mouse = page.roll.roll.hollow_mouse

    mouse.leaveWanted.emit(1)
    assert ["drumming"] == [one.proposal.act for one in page.drafting.hollow()]
    mouse.takeWanted.emit(0)
    assert not page.drafting.hollow()
    assert 1 == sum(mark.from_proposal for mark in drafted.workspace.record.marks)


def test_what_is_open_of_a_draft_is_there_after_a_restart(drafted: MainWindow) -> None:
    page = drafted.pages["film"]
    page.drafting.current = page.drafting.hollow()[1]
    page.drafting.leave()

    again = Drafting(drafted.workspace, page.player)
    again._forget()

    assert [FOUND[0]] == [one.proposal for one in again.hollow()]
    again.deleteLater()
