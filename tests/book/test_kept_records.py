"""A session that was kept from the last look is the one that a fresh look gives, whoever wrote meanwhile."""

from __future__ import annotations

import random
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import Mark
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
from tests.book.made_book import add_pass, call_of, full_book, mark_of


def one_edit(book: Book, rng: random.Random) -> None:
    """One of the things that a window does to session 1."""
    record = book.session(1)
    what = rng.choice(
        ["mark", "mark", "mark", "many", "move", "remove", "call", "pass", "note", "undo", "redo", "odd"]
    )
    clip = rng.choice(record.clips)
    if what == "mark":
        book.add_mark(mark_of(clip.id, rng.choice(BUILT_IN).code, rng.randrange(50)), closing=rng.random() < 0.5)
    elif what == "many":
        with book.together("several"):
            for _ in range(3):
                book.add_mark(mark_of(clip.id, "searching", rng.randrange(50)), closing=False)
                assert len(book.session(1).marks) > len(record.marks)
    elif what == "move" and record.marks:
        mark = rng.choice(record.marks)
        book.change_mark(replace(mark, start_pts=rng.randrange(50), end_pts=None))
    elif what == "remove" and record.marks:
        book.remove_mark(rng.choice(record.marks).id)
    elif what == "call" and record.flags:
        book.add_call(call_of(rng.choice(record.flags).id))
    elif what == "pass":
        add_pass(book, clip, 10, 50, parameters=f"p-{rng.random()}")
    elif what == "note":
        book.change_session(replace(record.session, note=str(rng.random())))
    elif what == "undo":
        book.undo()
    elif what == "redo":
        book.redo()
    elif what == "odd":
        book.add_mark(mark_of(clip.id, f"act of nobody {rng.randrange(3)}", 3), closing=False)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_kept_is_what_a_fresh_look_gives(tmp_path: Path, seed: int) -> None:
    path, rng = tmp_path / "b.book", random.Random(seed)
    full_book(path).close()
    kept = 0
    with Book.open(path, backups=False) as one, Book.open(path, backups=False) as other:
        for _ in range(40):
            book = rng.choice([one, one, one, other])
            with suppress(ClipmarkError):  # an edit that the book does not take
                one_edit(book, rng)
            for looking in (one, other):
                if rng.random() < 0.7:
                    looked = looking.session(1)
                    kept += looked is looking.session(1)
                    with Book.open(path, read_only=True) as fresh:
                        assert fresh.session(1) == looked
    assert kept > 20


def test_a_change_that_was_given_up_is_not_seen(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        before = book.session(1)
        with pytest.raises(ZeroDivisionError), book.together("given up"):
            book.add_mark(mark_of(1, "searching", 5), closing=False)
            assert before != book.session(1)
            raise ZeroDivisionError
        assert before == book.session(1)


def rows_read(book: Book, marks: int) -> int:
    """How many rows of the session are looked at for one more mark in a session of so many."""
    with book.together("begin"):
        for number in range(marks):
            book.add_mark(mark_of(1, "searching", number % 50), closing=False)
    assert marks <= len(book.session(1).marks)
    seen: list[str] = []
    book._db.set_trace_callback(seen.append)
    book.add_mark(Mark(0, 1, "searching", "him", 7, None, False, "Ada"), closing=False)
    assert any(mark.start_pts == 7 for mark in book.session(1).marks)
    book._db.set_trace_callback(None)
    return sum('FROM "mark"' in one and "id IN (" not in one for one in seen)


def test_a_mark_does_not_cost_reading_all_the_others(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        assert 0 == rows_read(book, 300)
