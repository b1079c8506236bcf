"""The session on view, and edits through it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from clipmark.book.model import Actor, Call, Decision, FlagRecord, Mark, Session
from clipmark.book.store import Book
from clipmark.settings import Settings
from clipmark.window.workspace import Workspace
from tests.window.conftest import put_in


def moment(clip_id: int, pts: int, act: str = "contact") -> Mark:
    return Mark(0, clip_id, act, Actor.BOTH, pts, None, False, "keeper")


@pytest.fixture
def with_film(workspace: Workspace, film, qtbot) -> Workspace:
    with qtbot.waitSignal(workspace.clipReady):
        put_in(workspace, film)
    return workspace


def test_a_session_comes_on_view_with_the_first_frame_of_its_first_clip(with_film):
    assert Fraction(0) == with_film.place
    assert with_film.record.clips[0].id == with_film.clip_id


def test_an_edit_gives_a_new_snapshot_and_tells_of_it(with_film, qtbot):
    with qtbot.waitSignal(with_film.recordChanged):
        with_film.edit(with_film.book.add_mark, moment(with_film.clip_id, 0))

    assert ["contact"] == [m.act for m in with_film.record.marks]


def test_a_failed_edit_is_said_and_changes_nothing(with_film, qtbot):
    with qtbot.waitSignal(with_film.message) as said:
        with_film.edit(with_film.book.add_mark, moment(999, 0))

    assert "wrong" == said.args[1]
    assert () == with_film.record.marks


def test_what_another_window_wrote_is_picked_up(with_film, qtbot):
    with Book.open(with_film.book.path) as other:
        other.add_mark(moment(with_film.clip_id, 0))

    qtbot.waitUntil(lambda: len(with_film.record.marks) == 1, timeout=5000)


def test_undo_works_after_the_window_was_closed_and_opened_again(with_film, qtbot):
    with_film.edit(with_film.book.add_mark, moment(with_film.clip_id, 0))
    session = with_film.record.session.id
    with Book.open(with_film.book.path) as book:
        again = Workspace(book, Settings())
        again.show_session(session)
        again.undo()

        assert () == again.record.marks
        again.redo()
        assert 1 == len(again.record.marks)
        again.shut()
        again.deleteLater()


def test_nothing_to_undo_is_said(workspace, qtbot):
    with qtbot.waitSignal(workspace.message) as said:
        workspace.undo()

    assert "nothing to undo" in said.args[0]


def test_a_mark_that_another_took_away_is_no_longer_selected(with_film):
    mark = with_film.edit(with_film.book.add_mark, moment(with_film.clip_id, 0))
    with_film.select_mark(mark.id)
    with_film.edit(with_film.book.remove_mark, mark.id)

    assert None is with_film.mark_id


def test_selecting_a_mark_goes_to_its_frame(with_film, film):
    mark = with_film.edit(with_film.book.add_mark, moment(with_film.clip_id, film.pts[20]))
    with_film.select_mark(mark.id)

    assert Fraction(film.pts[20], 1000) == with_film.place


def test_the_latest_call_of_a_reviewer_counts(with_film):
    book, clip = with_film.book, with_film.clip_id
    flag = book.add_flag(FlagRecord(0, clip, None, 0, 40, None, None, None, None, None, "by hand", by="A"))
    for who, decision in (("A", Decision.ATTEMPT), ("B", Decision.NOT_SEEN), ("A", Decision.CONFIRMED)):
        book.add_call(Call(0, flag.id, who, decision))
    with_film.refresh()

    assert Decision.CONFIRMED == with_film.call_of(flag.id, "A").decision
    assert Decision.NOT_SEEN == with_film.call_of(flag.id, "B").decision


def test_the_reviewer_is_kept_for_the_next_start(workspace):
    workspace.set_reviewer("Ines")

    assert "Ines" == Workspace.reviewer.fget(workspace)
    assert "Ines" == Settings().get(__import__("clipmark.settings").settings.REVIEWER)


def test_film_that_moved_away_is_told_in_words_and_found_again(with_film, film, tmp_path, qtbot):
    session, clip = with_film.record.session.id, with_film.clip_id
    moved = tmp_path / "elsewhere" / "plain.mkv"
    moved.parent.mkdir()
    film.path.rename(moved)
    with qtbot.waitSignal(with_film.clipLost):
        with_film.show_session(session)
    assert "plain.mkv" in with_film.lost(clip)

    with_film.edit(with_film.book.relink_clip, clip, moved)
    with qtbot.waitSignal(with_film.clipReady):
        with_film.reopen(clip)
    assert moved == with_film.film(clip).path


def test_another_film_under_the_same_name_is_not_taken_for_the_old_one(with_film, film, qtbot):
    from tests import made

    session = with_film.record.session.id
    made.film(film.path, [40 * n for n in range(10)])
    with qtbot.waitSignal(with_film.clipLost) as lost:
        with_film.show_session(session)

    assert "not the film that the book knows" in lost.args[1]


def test_a_file_that_is_no_film_adds_nothing_to_the_book(workspace, tmp_path, qtbot):
    (tmp_path / "notes.mp4").write_text("no film at all")
    with qtbot.waitSignal(workspace.message) as said:
        workspace.add_film(tmp_path / "notes.mp4")

    assert "wrong" == said.args[1]
    assert () == workspace.book.sessions()


def test_a_second_film_is_put_after_the_first(with_film, tmp_path, qtbot):
    from tests import made

    other = made.film(tmp_path / "second.mkv", [0, 40, 80])
    first = with_film.record.clips[0]
    with qtbot.waitSignal(with_film.clipReady):
        with_film.add_film(other.path)

    assert first.on_clock(first.end_pts) == with_film.record.clips[1].offset


def test_another_book_can_be_worked_on(with_film, tmp_path):
    other = Book.open(tmp_path / "other.book")
    session = other.add_session(Session(0, "Second book", None, None))
    before = with_film.book
    with_film.change_book(other, session.id)

    assert "Second book" == with_film.record.session.title
    with_film.change_book(Book.open(before.path))
    assert None is with_film.record
