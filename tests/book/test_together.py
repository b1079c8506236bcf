"""Two who have one book open: each writes what it changed, and whose step is taken back is known."""

from dataclasses import replace
from fractions import Fraction

import pytest

from clipmark.book.errors import CannotKeep, ChangedMeanwhile, StepGone
from clipmark.book.model import Animal, Mark, Session
from clipmark.book.store import Book
from tests.book import made_book


@pytest.fixture
def two(tmp_path):
    with Book.open(tmp_path / "b.book", by="Ada") as ada, Book.open(tmp_path / "b.book", by="Bo") as bo:
        ada.add_session(Session(0, "one", None, None, place="shed"))
        yield ada, bo


def test_two_who_change_different_fields_keep_both(two):
    ada, bo = two
    before = ada.session(1).session, bo.session(1).session

    bo.change_session(replace(before[1], place="kitchen"))
    stands = ada.change_session(replace(before[0], note="she drummed first"))

    assert ("kitchen", "she drummed first") == (stands.place, stands.note)
    assert stands == bo.session(1).session


def test_a_value_that_somebody_changed_to_something_else_is_told_and_left(two):
    ada, bo = two
    was = ada.session(1).session
    bo.change_session(replace(was, note="his"))

    with pytest.raises(ChangedMeanwhile, match="“his” now") as told:
        ada.change_session(replace(was, note="hers"), was)
    assert ("note", "his") == (told.value.field, told.value.theirs)
    assert "his" == ada.session(1).session.note


def test_the_same_change_twice_is_no_clash(two):
    ada, bo = two
    was = ada.session(1).session
    bo.change_session(replace(was, note="same"))

    assert "same" == ada.change_session(replace(was, note="same"), was).note


def test_a_change_that_starts_from_an_older_value_names_it(two):
    """A dialog was opened, the window was refreshed behind it, and now the dialog is closed."""
    ada, bo = two
    was = ada.session(1).session
    bo.change_session(replace(was, place="kitchen"))
    ada.session(1)

    assert "kitchen" == ada.change_session(replace(was, note="x"), was).place


def test_two_changes_that_do_not_go_together_are_refused(two):
    ada, bo = two
    her, him = bo.add_animal(Animal(0, "Vega", "unknown")), bo.add_animal(Animal(0, "Rigel", "unknown"))
    was = bo.change_session(replace(ada.session(1).session, female_id=her.id))
    ada.change_session(replace(was, female_id=him.id), was)

    with pytest.raises(CannotKeep, match="cannot be the same animal"):
        bo.change_session(replace(was, male_id=him.id), was)
    assert None is bo.session(1).session.male_id


def test_ending_an_act_keeps_what_was_noted_on_it_meanwhile(tmp_path):
    with Book.open(tmp_path / "b.book") as ada, Book.open(tmp_path / "b.book") as bo:
        ada.add_session(Session(0, "one", None, None))
        clip = ada.add_clip(made_book.clip_of(1))
        mark = ada.add_mark(Mark(0, clip.id, "clasp", "him", 10, None, True, "Ada"))
        bo.session(1)
        ada.change_mark(replace(mark, note="firm"))

        assert "firm" == bo.close_mark(mark.id, 90).note


def test_the_next_undo_says_whose_step_it_is(two):
    ada, bo = two
    bo.add_session(Session(0, "two", None, None))

    step = ada.undo_step
    assert ("add the session two", "Bo", False, True) == (step.label, step.by, ada.is_mine(step), bo.is_mine(step))


def test_ones_own_steps_from_before_are_ones_own_and_anothers_are_not(tmp_path):
    with Book.open(tmp_path / "b.book", by="Ada") as book:
        book.add_session(Session(0, "one", None, None))
    with Book.open(tmp_path / "b.book", by="Ada") as later, Book.open(tmp_path / "b.book", by="Bo") as bo:
        assert later.is_mine(later.undo_step)
        assert not bo.is_mine(bo.undo_step)


def test_an_undo_that_meant_another_step_takes_nothing_back(two):
    ada, bo = two
    meant = ada.undo_step
    bo.add_session(Session(0, "two", None, None))

    with pytest.raises(StepGone, match="nothing was taken back"):
        ada.undo(meant.id)
    assert 2 == len(ada.sessions())
    assert "add the session two" == bo.undo(bo.undo_step.id)
    assert "add the session two" == ada.redo(ada.redo_step.id)


def test_what_is_asked_for_again_is_as_it_stands_in_the_book(two):
    ada, bo = two
    for place in ("a", "b", "c"):
        bo.change_session(replace(bo.session(1).session, place=place))
        assert place == ada.session(1).session.place
    bo.undo()
    assert "b" == ada.session(1).session.place


def test_marks_of_clips_with_odd_clocks_come_in_the_exact_order_of_time(tmp_path):
    with Book.open(tmp_path / "b.book") as book:
        book.add_session(Session(0, "one", None, None))
        third, off = (Fraction(1, 3), Fraction(1001, 30_000)), (Fraction(-7, 11), Fraction(1, 24))
        bases = [(Fraction(0), Fraction(1, 90_000)), third, off]
        for offset, base in bases:
            book.add_clip(replace(made_book.clip_of(1), offset=offset, time_base=base, first_pts=5, end_pts=10**9))
        for number in range(60):
            clip = 1 + number % 3
            tick = 5 + (number * 37) % (90_000, 40, 30)[clip - 1]
            book.add_mark(Mark(0, clip, "retreat", "him", tick, None, False, "A"))
        record = book.session(1)

    exactly = sorted(record.marks, key=lambda mark: (record.clip(mark.clip_id).on_clock(mark.start_pts), mark.id))
    assert exactly == list(record.marks)
