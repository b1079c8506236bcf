"""The log roll on the screen: pointing, dragging, keys, words."""

from dataclasses import replace
from fractions import Fraction

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage

from clipmark.book.model import Actor, Mark
from clipmark.review.roll_model import EMPTY, Side
from clipmark.window.roll.log_roll import LogRoll, moved_end
from clipmark.window.workspace import Workspace
from tests.window.conftest import put_in


@pytest.fixture
def roll(workspace: Workspace, film, qtbot) -> LogRoll:
    """The roll over a made film with one clasp and one contact."""
    shown = LogRoll(workspace)
    qtbot.addWidget(shown)
    shown.resize(460, 640)
    with qtbot.waitSignal(workspace.clipReady):
        clip_id = put_in(workspace, film)
    pts = [int(p) for p in workspace.film(clip_id).index.pts]
    book = workspace.book
    book.add_mark(Mark(0, clip_id, "clasp", Actor.HIM, pts[10], pts[30], True, "Ada"))
    book.add_mark(Mark(0, clip_id, "contact", Actor.BOTH, pts[5], None, False, "Ada"))
    workspace.refresh()
    with qtbot.waitExposed(shown):
        shown.show()
    shown.rebuild()
    return shown


def bar(roll: LogRoll) -> tuple[int, int, int]:
    """x of the middle of the clasp's bar, and its first and last y."""
    item = roll.roll.model.lanes[Side.HIM].items[0]
    left, wide = roll.roll._columns().bar_at(Side.HIM, 0)
    return int(left + wide / 2), round(roll.roll.view.y(item.start)), round(roll.roll.view.y(item.end))


def test_pressing_on_paper_takes_the_film_there(roll: LogRoll, qtbot) -> None:
    y = 300
    wanted = roll.roll.view.at(y)

    qtbot.mouseClick(roll.roll.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(roll.roll.viewport().width() - 6, y))

    assert float(roll.workspace.place) == pytest.approx(wanted, abs=0.01)


def test_pressing_on_a_bar_selects_its_mark(roll: LogRoll, qtbot) -> None:
    x, first, last = bar(roll)

    qtbot.mouseClick(roll.roll.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(x, (first + last) // 2))

    assert "clasp" == roll.workspace.mark.act
    assert "Clasp" in roll.told.whole


def test_dragging_an_end_moves_it_to_a_frame_that_exists_and_undo_brings_it_back(roll: LogRoll, qtbot) -> None:
    x, _, last = bar(roll)
    pts = roll.workspace.film(roll.workspace.clip_id).index.pts
    port = roll.roll.viewport()

    qtbot.mousePress(port, Qt.MouseButton.LeftButton, pos=QPoint(x, last))
    qtbot.mouseMove(port, QPoint(x, last + 40))
    qtbot.mouseMove(port, QPoint(x, last + 80))
    qtbot.mouseRelease(port, Qt.MouseButton.LeftButton, pos=QPoint(x, last + 80))

    mark = next(m for m in roll.workspace.record.marks if m.act == "clasp")
    assert mark.end_pts > pts[30]
    assert mark.end_pts in pts
    roll.workspace.undo()
    assert pts[30] == next(m for m in roll.workspace.record.marks if m.act == "clasp").end_pts


def test_an_end_that_is_dragged_past_the_beginning_stops_there() -> None:
    mark = Mark(1, 1, "clasp", Actor.HIM, 100, 200, True, "Ada")

    assert replace(mark, end_pts=100) == moved_end(mark, "end", 40)
    assert replace(mark, start_pts=200) == moved_end(mark, "start", 999)


def test_down_and_up_go_from_act_to_act_and_enter_shows_the_film(roll: LogRoll, qtbot) -> None:
    roll.workspace.go(Fraction(0))
    roll.roll.setFocus()

    qtbot.keyClick(roll.roll, Qt.Key.Key_Down)
    assert "contact" == roll.workspace.mark.act
    qtbot.keyClick(roll.roll, Qt.Key.Key_Down)
    assert "clasp" == roll.workspace.mark.act
    qtbot.keyClick(roll.roll, Qt.Key.Key_Up)
    assert "contact" == roll.workspace.mark.act
    with qtbot.waitSignal(roll.workspace.pageWanted) as asked:
        qtbot.keyClick(roll.roll, Qt.Key.Key_Return)
    assert ["film"] == asked.args


def test_plus_goes_down_to_single_frames_and_star_shows_the_whole_session(roll: LogRoll, qtbot) -> None:
    whole = roll.roll.view.scale
    roll.roll.setFocus()

    for _ in range(30):
        qtbot.keyClick(roll.roll, Qt.Key.Key_Plus)
    assert roll.roll.view.scale * 0.04 > 40  # a frame of 25 a second is more than 40 pixels high
    qtbot.keyClick(roll.roll, Qt.Key.Key_Asterisk)
    assert roll.roll.view.scale == pytest.approx(whole)


def test_what_is_selected_is_told_to_a_screen_reader(roll: LogRoll) -> None:
    roll.roll.select("mark", next(m.id for m in roll.workspace.record.marks if m.act == "clasp"))

    assert roll.roll.accessibleName()
    assert roll.roll.accessibleDescription().startswith("Clasp (he) 0:00.")


def test_a_mark_that_was_made_elsewhere_appears(roll: LogRoll, qtbot) -> None:
    clip = roll.workspace.clip
    roll.workspace.edit(
        roll.workspace.book.add_mark, Mark(0, clip.id, "answering", Actor.HER, clip.first_pts, None, True, "Ada")
    )

    qtbot.waitUntil(lambda: len(roll.roll.model.lanes[Side.HER].items) == 1)


def test_an_empty_roll_says_what_to_do(workspace: Workspace, qtbot) -> None:
    roll = LogRoll(workspace)
    qtbot.addWidget(roll)
    roll.resize(300, 400)
    with qtbot.waitExposed(roll):
        roll.show()

    assert roll.roll.empty
    assert roll.roll.model is EMPTY
    image = QImage(roll.size(), QImage.Format.Format_ARGB32)
    roll.render(image)  # paints without a session
