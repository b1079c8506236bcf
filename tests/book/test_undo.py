"""Taking changes back and doing them again, also after a restart."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import numpy as np
import pytest

from clipmark.book.errors import BookReadOnly, CannotKeep
from clipmark.book.exchange.book_json import document
from clipmark.book.model import Session
from clipmark.book.steps import journal
from clipmark.book.steps.journal import UndoImpossible
from clipmark.book.store import Book
from tests.book.made_book import add_pass, full_book, mark_of, new_session, trace_of


def test_nothing_is_there_to_take_back_in_a_new_book(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        assert (None, None, None) == (book.undo_label, book.undo(), book.redo())


def test_each_step_says_what_it_was(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        book.add_mark(mark_of(clip.id, "drumming", 1_257))

        assert "mark drumming at 0:01.250" == book.undo_label
        assert "mark drumming at 0:01.250" == book.undo()
        assert ("add the film visit.mp4", "mark drumming at 0:01.250") == (book.undo_label, book.redo_label)


def test_every_change_of_a_full_book_can_be_taken_back_and_done_again_across_restarts(tmp_path: Path) -> None:
    """Each state is compared as the whole exported book, traces included."""
    states = []
    book = full_book(tmp_path / "b.book")
    while True:
        states.append(document(book))
        book.close()
        book = Book.open(tmp_path / "b.book", backups=False)
        if book.undo() is None:
            break
    assert len(states) > 15
    assert [] == states[-1]["animals"] == states[-1]["sessions"] == states[-1]["act_sets"]
    for expected in reversed(states[:-1]):
        assert book.redo() is not None
        assert expected == document(book)
    assert book.redo() is None
    book.close()


def test_a_removed_session_comes_back_whole(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        before = document(book)
        book.remove_session(1)
        assert [] == document(book)["clips"] == document(book)["calls"] == document(book)["traces"]
        book.undo()

        assert before == document(book)


def test_a_new_change_forgets_what_was_taken_back(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        book.add_mark(mark_of(clip.id))
        book.undo()
        book.add_mark(mark_of(clip.id, "searching"))

        assert book.redo() is None
        assert ["searching"] == [mark.act for mark in book.session(1).marks]


def test_a_mark_comes_back_under_its_number_and_a_new_one_never_takes_it(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        first = book.add_mark(mark_of(clip.id))
        book.undo()
        book.redo()
        assert [first.id] == [mark.id for mark in book.session(1).marks]
        book.undo()

        assert first.id < book.add_mark(mark_of(clip.id)).id


def test_one_window_takes_back_what_the_other_did(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as one, Book.open(tmp_path / "b.book") as other:
        _, clip = new_session(one)
        one.add_mark(mark_of(clip.id))

        assert "mark drumming at 0:00.040" == other.undo()
        assert () == one.session(1).marks


def test_changes_made_together_are_one_step(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        with book.together("mark both"):
            book.add_mark(mark_of(clip.id))
            book.add_mark(mark_of(clip.id, "searching"))

        assert "mark both" == book.undo()
        assert () == book.session(1).marks


def test_of_changes_made_together_all_are_kept_or_none(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        with pytest.raises(CannotKeep), book.together("mark both"):
            book.add_mark(mark_of(clip.id))
            book.add_mark(mark_of(clip.id, start=80, end=40))

        assert () == book.session(1).marks
        assert "add the film visit.mp4" == book.undo_label


def test_a_failed_part_leaves_the_rest_of_a_step(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        with book.together("mark what can be marked"):
            book.add_mark(mark_of(clip.id))
            with pytest.raises(CannotKeep):
                book.set_shots(clip.id, [])
                book.add_mark(mark_of(clip.id, start=80, end=40))
        before = book.session(1)

        assert 1 == len(before.marks)
        book.undo()
        book.redo()
        assert before == book.session(1)


def test_a_change_that_changes_nothing_is_no_step(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        session, _ = new_session(book)
        book.change_session(session)

        assert "add the film visit.mp4" == book.undo_label


def test_what_another_program_changed_is_not_overwritten_by_undo(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book") as book:
        _, clip = new_session(book)
        book.add_mark(mark_of(clip.id))
        with sqlite3.connect(tmp_path / "b.book") as db:
            db.execute("UPDATE mark SET note = 'by hand'")
        db.close()
        with pytest.raises(UndoImpossible, match="mark drumming"):
            book.undo()

        assert "by hand" == book.session(1).marks[0].note


def test_a_book_opened_for_reading_takes_nothing_back(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    with Book.open(tmp_path / "b.book", read_only=True) as book, pytest.raises(BookReadOnly):
        book.undo()


def test_only_so_many_steps_are_kept_and_their_results_stay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal, "KEPT_STEPS", 3)
    with Book.open(tmp_path / "b.book") as book:
        for number in range(6):
            book.add_session(Session(0, f"Visit {number}", None, None))
        undone = 0
        while book.undo() is not None:
            undone += 1

        assert 3 == undone
        assert {"Visit 0", "Visit 1", "Visit 2"} == {row.title for row in book.sessions()}


def test_the_trace_of_a_pass_stays_as_long_as_undo_can_bring_it_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "KEPT_STEPS", 3)
    with Book.open(tmp_path / "b.book") as book:
        session, clip = new_session(book)
        number = add_pass(book, clip, 10)
        book.remove_session(session.id)
        book.undo()
        assert np.array_equal(trace_of().x, book.trace_of(number).x)
        book.remove_session(session.id)
        for title in ("a", "b", "c", "d"):
            book.add_session(Session(0, title, None, None))

        assert 0 == book._db.execute("SELECT count(*) FROM trace").fetchone()[0]
