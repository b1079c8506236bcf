"""Acts marked by one key each, on the frame that is shown."""

from __future__ import annotations

from PySide6.QtCore import Qt

from clipmark.window.main_window import MainWindow
from tests.window.conftest import put_in, wait_shown


def press(window: MainWindow, qtbot, key: Qt.Key, modifier=Qt.KeyboardModifier.NoModifier) -> None:
    qtbot.keyClick(window.pages["film"], key, modifier)
    window.workspace.settle()  # a person leaves the event loop time for it


def marks(window: MainWindow):
    window.workspace.settle()
    return window.workspace.record.marks


def pts_of(film, number: int) -> int:
    return film.pts[number]


def test_a_moment_is_marked_by_one_press_on_the_frame_that_is_shown(on_view, film, qtbot):
    for _ in range(7):
        press(on_view, qtbot, Qt.Key.Key_Right)
    wait_shown(on_view, qtbot, 7)
    press(on_view, qtbot, Qt.Key.Key_C)

    (mark,) = marks(on_view)
    assert ("contact", pts_of(film, 7), None, False) == (mark.act, mark.start_pts, mark.end_pts, mark.lasting)


def test_a_lasting_act_begins_with_one_press_and_ends_with_the_next(on_view, film, qtbot):
    page = on_view.pages["film"]
    page.going.to_number(10)
    wait_shown(on_view, qtbot, 10)
    press(on_view, qtbot, Qt.Key.Key_D)
    assert [True] == [m.open for m in marks(on_view)]
    page.going.to_number(25)
    wait_shown(on_view, qtbot, 25)
    press(on_view, qtbot, Qt.Key.Key_D)

    (mark,) = marks(on_view)
    assert (pts_of(film, 10), pts_of(film, 25)) == (mark.start_pts, mark.end_pts)


def test_an_act_ended_on_the_frame_where_it_began_lasts_that_frame(on_view, film, qtbot):
    for _ in range(2):
        press(on_view, qtbot, Qt.Key.Key_D)

    (mark,) = marks(on_view)
    assert (pts_of(film, 0), pts_of(film, 1)) == (mark.start_pts, mark.end_pts)


def test_an_act_cannot_end_before_it_began_and_the_reason_is_said(on_view, qtbot):
    page = on_view.pages["film"]
    page.going.to_number(30)
    wait_shown(on_view, qtbot, 30)
    press(on_view, qtbot, Qt.Key.Key_D)
    page.going.to_number(5)
    wait_shown(on_view, qtbot, 5)
    press(on_view, qtbot, Qt.Key.Key_D)

    assert [True] == [m.open for m in marks(on_view)]
    assert "cannot end before" in on_view.messages.text


def test_open_acts_are_listed_and_can_be_ended_from_there(on_view, qtbot):
    page = on_view.pages["film"]
    press(on_view, qtbot, Qt.Key.Key_D)
    page.going.to_number(20)
    wait_shown(on_view, qtbot, 20)

    (open_mark,) = page.marking.open_marks()
    page.board.endWanted.emit(open_mark.id)
    on_view.workspace.settle()

    assert () == page.marking.open_marks()


def test_all_open_acts_end_together(on_view, qtbot):
    page = on_view.pages["film"]
    press(on_view, qtbot, Qt.Key.Key_D)
    press(on_view, qtbot, Qt.Key.Key_A)
    page.going.to_number(20)
    wait_shown(on_view, qtbot, 20)
    press(on_view, qtbot, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)

    assert [False, False] == [m.open for m in marks(on_view)]


def test_shift_and_letter_is_another_act_than_the_letter(on_view, qtbot):
    press(on_view, qtbot, Qt.Key.Key_D, Qt.KeyboardModifier.ShiftModifier)

    assert ["leg drumming"] == [m.act for m in marks(on_view)]


def test_while_the_film_runs_a_mark_lands_on_the_frame_that_was_on_the_screen(on_view, film, qtbot):
    page = on_view.pages["film"]
    press(on_view, qtbot, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.player.shown_number(on_view.workspace.clip_id) >= 12)
    on_screen = page.cameras.current.picture.number
    press(on_view, qtbot, Qt.Key.Key_C)
    page.player.pause()

    assert [pts_of(film, on_screen)] == [m.start_pts for m in marks(on_view)]


def test_a_removed_act_comes_back_by_undo(on_view, qtbot):
    press(on_view, qtbot, Qt.Key.Key_C)
    press(on_view, qtbot, Qt.Key.Key_Delete)
    assert () == marks(on_view)
    press(on_view, qtbot, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)

    assert ["contact"] == [m.act for m in marks(on_view)]


def test_a_note_is_kept_when_the_line_is_left(on_view, qtbot):
    card = on_view.pages["film"].card
    press(on_view, qtbot, Qt.Key.Key_C)
    press(on_view, qtbot, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(card.note, "left first leg")
    qtbot.keyClick(card.note, Qt.Key.Key_Return)

    assert ["left first leg"] == [m.note for m in marks(on_view)]


def test_letters_typed_into_a_note_mark_nothing(on_view, qtbot):
    card = on_view.pages["film"].card
    press(on_view, qtbot, Qt.Key.Key_C)
    press(on_view, qtbot, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(card.note, "daca")

    assert ["contact"] == [m.act for m in marks(on_view)]


def test_a_typed_time_lands_on_the_frame_it_names(on_view, film, qtbot):
    from clipmark.timebase import clock

    card = on_view.pages["film"].card
    press(on_view, qtbot, Qt.Key.Key_C)
    card.begins.selectAll()
    qtbot.keyClicks(card.begins, clock(on_view.workspace.clip.on_clock(pts_of(film, 17))))
    qtbot.keyClick(card.begins, Qt.Key.Key_Return)

    assert [pts_of(film, 17)] == [m.start_pts for m in marks(on_view)]


def test_a_typed_end_before_the_begin_is_refused_in_words(on_view, film, qtbot):
    page, card = on_view.pages["film"], on_view.pages["film"].card
    page.going.to_number(20)
    wait_shown(on_view, qtbot, 20)
    press(on_view, qtbot, Qt.Key.Key_D)
    card.ends.selectAll()
    qtbot.keyClicks(card.ends, "0:00.000")
    qtbot.keyClick(card.ends, Qt.Key.Key_Return)

    assert [None] == [m.end_pts for m in marks(on_view)]
    assert "cannot end" in on_view.messages.text


def test_without_film_a_key_says_what_to_do(window, qtbot):
    from clipmark.book.model import Session

    session = window.workspace.book.add_session(Session(0, "Empty", None, None))
    window.workspace.show_session(session.id)
    press(window, qtbot, Qt.Key.Key_C)

    assert "no film" in window.messages.text
    assert () == window.workspace.record.marks


def test_marks_of_two_cameras_belong_to_the_current_one(on_view, film, tmp_path, qtbot):
    from tests import made

    other = made.film(tmp_path / "other.mkv", [33 * n for n in range(60)])
    with qtbot.waitSignal(on_view.workspace.clipReady):
        second = put_in(on_view.workspace, other)
    qtbot.waitUntil(lambda: len(on_view.workspace._films) == 2)
    press(on_view, qtbot, Qt.Key.Key_F4)
    qtbot.waitUntil(lambda: on_view.pages["film"].player.shown_number(second) is not None)
    press(on_view, qtbot, Qt.Key.Key_C)

    assert [second] == [m.clip_id for m in marks(on_view)]


def test_an_act_goes_on_over_the_seam_between_two_files_of_one_camera(on_view, film, tmp_path, qtbot):
    from fractions import Fraction

    from tests import made

    first = on_view.workspace.record.clips[0]
    seam = first.on_clock(first.end_pts)
    other = made.film(tmp_path / "other.mkv", [33 * n for n in range(60)])
    with qtbot.waitSignal(on_view.workspace.clipReady):
        second = put_in(on_view.workspace, other, offset=seam)
    page = on_view.pages["film"]
    page.going.to_number(10)
    wait_shown(on_view, qtbot, 10)
    press(on_view, qtbot, Qt.Key.Key_D)
    page.player.go(seam + Fraction(1, 2))
    qtbot.waitUntil(lambda: None is not page.player.shown_number(second) == page.player.number())
    press(on_view, qtbot, Qt.Key.Key_D)

    (mark,) = marks(on_view)
    clip = on_view.workspace.record.clip(mark.clip_id)
    assert first.id == clip.id
    assert abs(clip.on_clock(mark.end_pts) - (seam + Fraction(1, 2))) < Fraction(1, 20)
