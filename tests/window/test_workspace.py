"""The session on view, and edits through it."""

from __future__ import annotations

import os
import sqlite3
import threading
from datetime import datetime
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark import settings as declared
from clipmark.book.film.intake import clip_record
from clipmark.book.model import Actor, Call, Decision, FlagRecord, Mark, Session
from clipmark.book.store import Book
from clipmark.media.clip import open_clip
from clipmark.settings import Settings
from clipmark.window.workspace import Workspace
from tests import made
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


def spin(qtbot, until) -> None:
    qtbot.waitUntil(until, timeout=10_000)


def held_back(monkeypatch, name: str) -> threading.Event:
    """Film of this name is not opened before the returned event is set."""
    import clipmark.media.clip as clips

    let, real = threading.Event(), clips.open_clip

    def slow(path, *rest):
        if Path(path).name == name:
            let.wait(10)
        return real(path, *rest)

    monkeypatch.setattr(clips, "open_clip", slow)
    return let


def test_film_goes_into_the_session_that_it_was_chosen_for(workspace, film, qtbot, monkeypatch):
    book = workspace.book
    first, second = (book.add_session(Session(0, name, None, None)) for name in ("first", "second"))
    workspace.show_session(first.id)
    let = held_back(monkeypatch, film.path.name)
    workspace.add_film(film.path)
    workspace.show_session(second.id)
    let.set()
    spin(qtbot, lambda: len(book.session(first.id).clips) == 1)

    assert () == book.session(second.id).clips
    assert second.id == workspace.record.session.id


def test_film_of_one_book_is_not_shown_for_a_clip_of_another(workspace, film, tmp_path, qtbot, monkeypatch):
    short = made.film(tmp_path / "short.mkv", [40 * n for n in range(10)])
    other = Book.open(tmp_path / "other.book")
    session = other.add_session(Session(0, "other", None, None))
    other.add_clip(clip_record(open_clip(short.path), session.id))
    put_in(workspace, film)
    assert 1 == workspace.clip_id  # both books number their clips from 1
    spin(qtbot, lambda: not workspace.tasks.tasks)
    let = held_back(monkeypatch, film.path.name)
    workspace.reopen(1)
    workspace.change_book(other, session.id)
    spin(qtbot, lambda: workspace.film(1) is not None)
    let.set()
    spin(qtbot, lambda: not workspace.tasks.tasks)

    assert "short.mkv" == workspace.film(1).path.name


def test_an_unreadable_film_stops_no_other_and_each_is_told(workspace, film, tmp_path, qtbot):
    (tmp_path / "a.mkv").write_bytes(b"no film at all")
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe.mp4")
    said = []
    workspace.message.connect(lambda text, _: said.append(text))
    workspace.add_films([tmp_path / "a.mkv", tmp_path / "folder", tmp_path / "pipe.mp4", film.path])
    spin(qtbot, lambda: any("3 of 4 files could not be added" in text for text in said))

    assert [film.path.name] == [Path(clip.path).name for clip in workspace.record.clips]
    assert all(name in said[-1] for name in ("a.mkv", "folder", "pipe.mp4"))


def test_a_locked_book_is_a_message_and_the_session_stays(with_film, qtbot):
    said = []
    with_film.message.connect(lambda text, _: said.append(text))
    with_film.book._db.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(with_film.book.path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with_film.edit(with_film.book.add_mark, moment(with_film.clip_id, 0))
    with_film.look_again()
    other.execute("ROLLBACK")
    other.close()

    assert said
    assert with_film.record is not None
    with_film.look_again()
    assert () == with_film.record.marks


def test_a_session_that_is_gone_is_no_longer_on_view(with_film):
    with_film.book.remove_session(with_film.record.session.id)
    with_film.look_again()

    assert None is with_film.record


def test_the_day_of_a_new_session_is_that_of_its_film(workspace, film, qtbot):
    os.utime(film.path, (1_500_000_000, 1_500_000_000))
    with qtbot.waitSignal(workspace.clipReady):
        workspace.add_film(film.path)

    day = datetime.fromtimestamp(1_500_000_000 - 2.4).astimezone().date()
    assert day.isoformat() == workspace.record.session.date


def test_a_reviewer_belongs_to_a_session(workspace):
    first, second = (workspace.book.add_session(Session(0, name, None, None)) for name in ("first", "second"))
    workspace.show_session(first.id)
    workspace.set_reviewer("Ada")
    workspace.show_session(second.id)
    assert "Ada" == workspace.reviewer  # the name given last
    workspace.set_reviewer("Bo")
    workspace.show_session(first.id)

    assert "Ada" == workspace.reviewer
    assert {"Ada", "Bo"} == set(Settings().get(declared.REVIEWERS).values())


def two_sessions(workspace, film) -> tuple[int, int]:
    """Two sessions with a film each; the second is on view."""
    ids = []
    for name in ("first", "second"):
        workspace.show_session(workspace.book.add_session(Session(0, name, None, None)).id)
        put_in(workspace, film)
        ids.append(workspace.record.session.id)
    return ids[0], ids[1]


def test_undo_belongs_to_the_session_on_view(workspace, film, qtbot):
    first, second = two_sessions(workspace, film)
    workspace.edit(workspace.book.add_mark, moment(workspace.record.clips[0].id, 0))
    workspace.show_session(first)
    workspace.edit(workspace.book.add_mark, moment(workspace.record.clips[0].id, 0, "release"))
    workspace.show_session(second)
    assert "contact" in workspace.undo_labels()[0].lower()
    workspace.undo()

    assert () == workspace.record.marks
    assert ["release"] == [m.act for m in workspace.book.session(first).marks]
    workspace.redo()
    assert ["contact"] == [m.act for m in workspace.record.marks]


def test_a_finished_pass_is_taken_back_only_after_a_question(with_film):
    from clipmark.motion.result import Ticks, in_ticks
    from tests.window.film.test_pass_runner import result

    film = with_film.film(with_film.clip_id)
    with_film.edit(
        with_film.book.add_pass,
        with_film.clip_id,
        in_ticks(result(len(film.index)), Ticks(film.index.pts, film.index.end_pts)),
    )
    asked = []
    with_film.confirm = lambda text: bool(asked.append(text))
    with_film.undo()
    assert 1 == len(asked)
    assert 1 == len(with_film.record.passes)
    with_film.confirm = lambda _: True
    with_film.undo()

    assert () == with_film.record.passes


def test_a_step_of_another_window_is_taken_back_only_after_a_question(with_film):
    session = with_film.record.session
    with Book.open(with_film.book.path) as other:
        other.add_mark(moment(with_film.clip_id, 0))
    with_film.look_again()
    asked = []
    with_film.confirm = lambda text: bool(asked.append(text))
    with_film.undo()

    assert "another window" in asked[0]
    assert 1 == len(with_film.book.session(session.id).marks)
