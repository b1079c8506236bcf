"""Which step is taken back next, seen from one session."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from clipmark.book.model import Animal, Session, Sex
from clipmark.book.store import Book
from tests.book.made_book import clip_of, moment_of


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.open(tmp_path / "steps.book") as opened:
        yield opened


def test_a_mark_of_another_session_is_passed_over(book: Book) -> None:
    one, two = (book.add_session(Session(0, name, None, None)) for name in ("one", "two"))
    clips = [book.add_clip(clip_of(session.id)) for session in (one, two)]
    book.add_mark(moment_of(clips[0].id, "contact", 7))
    book.add_mark(moment_of(clips[1].id, "release", 7))

    assert "contact" in book.next_step(one.id).label.lower()
    assert "release" in book.next_step(two.id).label.lower()
    assert "release" in book.next_step(None).label.lower()


def test_a_removed_clip_still_belongs_to_its_session(book: Book) -> None:
    one, two = (book.add_session(Session(0, name, None, None)) for name in ("one", "two"))
    clip = book.add_clip(clip_of(one.id))
    book.add_mark(moment_of(clip.id, "contact", 7))
    book.remove_clip(clip.id)

    assert book.next_step(one.id) == book.next_step(None)
    assert "two" in book.next_step(two.id).label


def test_an_animal_belongs_to_the_sessions_that_are_about_it(book: Book) -> None:
    mora = book.add_animal(Animal(0, "Mora", Sex.FEMALE))
    one = book.add_session(Session(0, "one", mora.id, None))
    two = book.add_session(Session(0, "two", None, None))
    book.change_animal(Animal(mora.id, "Mora", Sex.FEMALE, note="calm"))

    assert "Mora" in book.next_step(one.id).label
    assert "two" in book.next_step(two.id).label


def test_what_was_taken_back_is_done_again_in_its_session(book: Book) -> None:
    one, two = (book.add_session(Session(0, name, None, None)) for name in ("one", "two"))
    clip = book.add_clip(clip_of(one.id))
    book.add_mark(moment_of(clip.id, "contact", 7))
    step = book.next_step(one.id)
    book.replay_step(step, backwards=True)
    assert () == book.session(one.id).marks
    assert None is book.next_step(two.id, undone=True)
    book.replay_step(book.next_step(one.id, undone=True), backwards=False)

    assert 1 == len(book.session(one.id).marks)
