"""Whole evenings of a keeper, on made film, by the keys and buttons that a keeper uses."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent

from clipmark import settings as declared
from clipmark.book.model import Call, Decision, Outline, ShotRecord
from clipmark.book.store import Book
from clipmark.settings import Settings
from clipmark.window.main_window import MainWindow
from clipmark.window.workspace import Workspace
from tests import made
from tests.window.conftest import PULLS, pulled, put_in, wait_shown


def drop(window: MainWindow, *paths) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    button, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(50, 50), Qt.DropAction.CopyAction, data, button, none)
    window.dragEnterEvent(enter)
    assert enter.isAccepted()
    window.dropEvent(QDropEvent(QPointF(50, 50), Qt.DropAction.CopyAction, data, button, none))


def draw_box(window: MainWindow, qtbot, x: float, y: float, w: float, h: float) -> None:
    """Draw with the mouse, in film pixels, and keep with Enter."""
    view = window.pages["film"].cameras.current
    start, end = view.from_film(x, y).toPoint(), view.from_film(x + w, y + h).toPoint()
    qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(view, end)
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    qtbot.keyClick(view, Qt.Key.Key_Return)


def test_from_a_dropped_film_to_a_called_flag_and_its_sheet(window, tmp_path, qtbot):
    film = pulled(tmp_path / "evening.mkv")
    drop(window, film.path)
    wait_shown(window, qtbot, 0)
    page, workspace = window.pages["film"], window.workspace

    qtbot.keyClick(page, Qt.Key.Key_F2)
    draw_box(window, qtbot, 114, 86, 92, 68)
    (outline,) = workspace.record.outlines
    assert [114, 86, 92, 68] == pytest.approx([outline.x, outline.y, outline.w, outline.h], abs=2)

    with qtbot.waitSignal(page.passes.kept, timeout=60_000):
        qtbot.keyClick(page, Qt.Key.Key_F5)
    flags = [f for f in workspace.record.flags if f.flagged]
    assert [onset for onset, _ in PULLS] == pytest.approx([f.onset_pts / 1000 for f in flags], abs=0.2)

    qtbot.keyClick(page, Qt.Key.Key_Down, Qt.KeyboardModifier.ControlModifier)
    assert flags[0].id == workspace.flag_id
    wait_shown(window, qtbot, round(flags[0].onset_pts / 40))

    workspace.edit(workspace.book.add_call, Call(0, flags[0].id, workspace.reviewer, Decision.CONFIRMED))
    window.show_page("sheet")

    from clipmark.report.sheets.sheet import write_sheet

    sheet = write_sheet(workspace.book, workspace.record.session.id, tmp_path / "sheet.html")
    assert "evening" in sheet.read_text(encoding="utf-8")
    assert Decision.CONFIRMED == workspace.call_of(flags[0].id).decision


def test_a_box_is_drawn_with_the_keyboard_alone(on_view, qtbot):
    page = on_view.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_F2)
    view = page.cameras.current
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Down):
        qtbot.keyClick(view, key, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(view, Qt.Key.Key_Return)

    (outline,) = on_view.workspace.record.outlines
    assert [37.2, 29.2, 9.6, 9.6] == pytest.approx([outline.x, outline.y, outline.w, outline.h])
    assert 0 == page.player.number()


def test_leaving_the_box_keeps_nothing(on_view, qtbot):
    page = on_view.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_F2)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Right)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Escape)

    assert () == on_view.workspace.record.outlines


def test_an_outline_drawn_again_on_its_frame_is_changed_not_doubled(on_view, qtbot):
    page = on_view.pages["film"]
    for _ in range(2):
        qtbot.keyClick(page, Qt.Key.Key_F2)
        qtbot.keyClick(page.cameras.current, Qt.Key.Key_Left)
        qtbot.keyClick(page.cameras.current, Qt.Key.Key_Return)

    assert [25.2] == pytest.approx([o.x for o in on_view.workspace.record.outlines])


def test_the_pass_asks_for_an_outline_before_anything_else(on_view, qtbot):
    qtbot.keyClick(on_view.pages["film"], Qt.Key.Key_F5)

    assert "Outline her abdomen first" in on_view.messages.text
    assert () == on_view.pages["film"].passes.running


def test_several_films_dropped_at_once_follow_each_other(window, tmp_path, qtbot):
    paths = [made.film(tmp_path / f"{name}.mkv", [40 * n for n in range(25)]).path for name in "abc"]
    drop(window, *paths)
    qtbot.waitUntil(lambda: window.workspace.record is not None and len(window.workspace.record.clips) == 3)

    assert [0, 1, 2] == [clip.offset for clip in window.workspace.record.clips]


def test_a_dropped_file_that_is_no_film_is_refused_and_nothing_is_begun(window, tmp_path, qtbot):
    (tmp_path / "list.txt").write_text("shopping")
    with qtbot.waitSignal(window.workspace.message):
        drop(window, tmp_path / "list.txt")

    assert "list.txt" in window.messages.text
    assert () == window.workspace.book.sessions()


def test_two_cameras_of_one_evening_are_stepped_together(window, tmp_path, qtbot):
    top = made.film(tmp_path / "top.mkv", [40 * n for n in range(100)])
    side = made.film(tmp_path / "side.mkv", [20 * n for n in range(200)])
    first = put_in(window.workspace, top, camera="top")
    second = put_in(window.workspace, side, offset=Fraction(1, 2), camera="side")
    qtbot.waitUntil(lambda: len(window.workspace._films) == 2)
    page = window.pages["film"]
    page.player.go(Fraction(2), first)
    for _ in range(5):
        qtbot.keyClick(page, Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: page.player.shown_number(first) == 55)
    qtbot.waitUntil(lambda: page.player.shown_number(second) == 85)

    assert ["top", "side"] == [view.caption for view in page.cameras.views]
    assert [True, False] == [view.current for view in page.cameras.views]
    qtbot.keyClick(page, Qt.Key.Key_F4)
    qtbot.keyClick(page, Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: page.player.shown_number(second) == 86)
    assert 55 == page.player.shown_number(first)


def test_undo_over_a_restart_takes_back_what_was_marked_before(on_view, tmp_path, qtbot):
    qtbot.keyClick(on_view.pages["film"], Qt.Key.Key_C)
    path = on_view.workspace.book.path
    on_view.close()
    with Book.open(path) as book:
        again = MainWindow(Workspace(book, Settings()))
        qtbot.addWidget(again)
        again.show()
        again.activateWindow()
        again.begin([], "film")
        qtbot.waitUntil(again.isActiveWindow)
        assert 1 == len(again.workspace.record.marks)
        qtbot.keyClick(again, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)

        assert () == again.workspace.record.marks
        again.close()


def test_footage_that_moved_says_so_where_the_picture_would_be(on_view, film, tmp_path, qtbot):
    session = on_view.workspace.record.session.id
    film.path.rename(tmp_path / "renamed.mkv")
    with qtbot.waitSignal(on_view.workspace.clipLost):
        on_view.workspace.show_session(session)

    assert "plain.mkv" in on_view.pages["film"].cameras.current.told


def test_a_session_without_film_says_what_to_do_next(window):
    assert "Drop film files" in window.pages["film"].cameras.current.told


def test_after_each_step_the_next_one_is_named(on_view, qtbot):
    page = on_view.pages["film"]
    assert "outline her abdomen" in page.hint.text()
    qtbot.keyClick(page, Qt.Key.Key_F2)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Right)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Return)

    assert "run the motion pass" in page.hint.text()


@pytest.fixture
def cut(window, tmp_path, qtbot):
    """A film of two views, she elsewhere and turned in the second, gone in the third; outlined in the first alone."""
    from tests.motion.test_proposals import scene

    views = [scene(90, 70, 0, 1), scene(150, 110, 40, 2), scene(900, 900, 0, 3)]
    film = made.film(
        tmp_path / "cut.mkv", [40 * n for n in range(60)], width=240, height=180, draw=lambda n: views[n // 20]
    )
    with qtbot.waitSignal(window.workspace.clipReady):
        clip = put_in(window.workspace, film)
    workspace = window.workspace
    starts = ((0, "film"), (800, "cut"), (1600, "cut"))
    workspace.edit(
        workspace.book.set_shots, clip, [ShotRecord(0, clip, at, at + 800, begins) for at, begins in starts]
    )
    workspace.edit(workspace.book.add_outline, Outline(0, clip, 0, 60, 48, 60, 44))
    wait_shown(window, qtbot, 0)
    return window


def test_after_a_cut_the_box_stands_where_she_probably_is_and_enter_keeps_it(cut, qtbot):
    page = cut.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_F3)
    wait_shown(cut, qtbot, 20)
    qtbot.keyClick(page, Qt.Key.Key_F2)
    qtbot.waitUntil(lambda: "She is probably here" in cut.messages.text, timeout=20_000)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Return)

    outline = next(o for o in cut.workspace.record.outlines if o.pts == 800)
    assert (150, 110) == pytest.approx((outline.x + outline.w / 2, outline.y + outline.h / 2), abs=6)


def test_where_she_is_not_in_view_it_is_said_and_nothing_is_proposed(cut, qtbot):
    page = cut.pages["film"]
    page.player.go(Fraction(8, 5))
    wait_shown(cut, qtbot, 40)
    qtbot.keyClick(page, Qt.Key.Key_F2)
    before = page.cameras.current.edited_box()
    qtbot.waitUntil(lambda: "She was not found in this view" in cut.messages.text, timeout=20_000)

    assert before == page.cameras.current.edited_box()
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Escape)


def test_a_box_that_the_keeper_has_begun_to_move_is_left_alone(cut, qtbot):
    page = cut.pages["film"]
    page.player.go(Fraction(4, 5))
    wait_shown(cut, qtbot, 20)
    qtbot.keyClick(page, Qt.Key.Key_F2)
    began = page.cameras.current.edited_box()
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: not cut.workspace.tasks.tasks, timeout=20_000)

    assert "She is probably here" not in cut.messages.text
    assert began.x() + 1 == pytest.approx(page.cameras.current.edited_box().x(), abs=2)
    qtbot.keyClick(page.cameras.current, Qt.Key.Key_Escape)


def test_from_an_unknown_film_to_the_first_called_flag_in_at_most_five_presses(window, tmp_path, qtbot, monkeypatch):
    window.workspace.settings.put(declared.PASS_AT_ONCE, True)
    window.show_page("start")
    film = pulled(tmp_path / "unknown.mkv")
    presses = []
    monkeypatch.setattr("clipmark.window.main_window.QFileDialog.getOpenFileNames", lambda *_: ([str(film.path)], ""))

    def press(do, *args, **kwargs) -> None:
        presses.append(do)
        do(*args, **kwargs)

    page, workspace = window.pages["film"], window.workspace
    press(qtbot.keyClick, window, Qt.Key.Key_O, Qt.KeyboardModifier.ControlModifier)
    presses.append("the film in the dialog")
    wait_shown(window, qtbot, 0)

    view = page.cameras.current
    start, end = view.from_film(114, 86).toPoint(), view.from_film(206, 154).toPoint()
    press(qtbot.mousePress, view, Qt.MouseButton.LeftButton, pos=start)  # one press, drawn and let go
    qtbot.mouseMove(view, end)
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    with qtbot.waitSignal(page.passes.kept, timeout=60_000):
        press(qtbot.keyClick, view, Qt.Key.Key_Return)
    assert "pulls" == window.page
    press(qtbot.keyClick, window.pages["pulls"], Qt.Key.Key_1)

    (call,) = workspace.record.calls
    assert Decision.CONFIRMED == call.decision
    assert len(presses) <= 5


def test_who_goes_on_working_is_not_taken_to_the_flags(window, tmp_path, qtbot):
    window.workspace.settings.put(declared.PASS_AT_ONCE, True)
    window.show_page("film")
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, pulled(tmp_path / "pulled.mkv"))
    wait_shown(window, qtbot, 0)
    page = window.pages["film"]
    qtbot.keyClick(page, Qt.Key.Key_F2)
    with qtbot.waitSignal(page.passes.kept, timeout=60_000):
        draw_box(window, qtbot, 114, 86, 92, 68)
        qtbot.keyClick(page, Qt.Key.Key_Right)

    assert "film" == window.page


def test_one_press_in_the_middle_of_her_abdomen_proposes_its_outline(window, tmp_path, qtbot):
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, pulled(tmp_path / "pulled.mkv"))
    wait_shown(window, qtbot, 0)
    page = window.pages["film"]
    page.going.to_number(40)
    wait_shown(window, qtbot, 40)  # the first pull begins here
    view = page.cameras.current
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=view.from_film(160, 120).toPoint())
    qtbot.waitUntil(lambda: not window.workspace.tasks.tasks, timeout=20_000)
    box = view.edited_box()
    assert box is not None
    qtbot.keyClick(view, Qt.Key.Key_Return)

    (outline,) = window.workspace.record.outlines
    assert [160, 120] == pytest.approx([outline.x + outline.w / 2, outline.y + outline.h / 2], abs=20)
    assert [92, 68] == pytest.approx([outline.w, outline.h], rel=0.4)


def test_a_press_where_nothing_is_asks_for_a_box(window, tmp_path, qtbot):
    plain = np.full((96, 128), 90, np.uint8)
    grey = made.film(tmp_path / "grey.mkv", [40 * n for n in range(10)], draw=lambda _: plain, width=128, height=96)
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, grey)
    wait_shown(window, qtbot, 0)
    view = window.pages["film"].cameras.current
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=view.from_film(60, 40).toPoint())
    qtbot.waitUntil(lambda: "draw a box" in window.messages.text, timeout=20_000)

    assert view.edit is not None
    assert None is view.edited_box()
