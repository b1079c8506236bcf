"""What can be changed, and what the book does not take."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.book.errors import CannotKeep, NoSuchThing
from clipmark.book.model import (
    Act,
    Actor,
    Animal,
    FlagRecord,
    LifeEvent,
    Loan,
    Outcome,
    Outline,
    Reminder,
    Session,
    Sex,
    ShotRecord,
)  # fmt: skip
from clipmark.book.store import Book
from tests.book.made_book import add_pass, call_of, clip_of, full_book, mark_of, moment_of, new_session


@pytest.fixture
def book(tmp_path: Path):  # type: ignore[no-untyped-def]
    with Book.open(tmp_path / "b.book") as book:
        yield book


def test_a_lasting_act_is_open_until_it_is_ended(book: Book) -> None:
    _, clip = new_session(book)
    mark = book.add_mark(mark_of(clip.id, end=None))
    assert book.session(1).marks[0].open
    book.close_mark(mark.id, 207)

    assert 207 == book.session(1).marks[0].end_pts


def test_an_act_cannot_end_before_it_begins(book: Book) -> None:
    _, clip = new_session(book)
    mark = book.add_mark(mark_of(clip.id, start=207, end=None))
    with pytest.raises(CannotKeep, match="cannot end before it begins"):
        book.close_mark(mark.id, 206)

    assert book.session(1).marks[0].open


def test_marks_come_in_order_of_the_session_clock_not_of_marking(book: Book) -> None:
    session, first = new_session(book)
    second = book.add_clip(clip_of(session.id, Fraction(-1), "/films/early.mp4"))
    book.add_mark(mark_of(first.id, "drumming", 7))
    book.add_mark(mark_of(second.id, "searching", 507))
    book.add_mark(mark_of(second.id, "clasp", 1_507))

    assert ["searching", "drumming", "clasp"] == [mark.act for mark in book.session(1).marks]


def test_a_release_ends_the_clasp_and_the_insertion_in_the_same_step(book: Book) -> None:
    _, clip = new_session(book)
    book.add_mark(mark_of(clip.id, "clasp", 100, None))
    book.add_mark(mark_of(clip.id, "insertion left", 200, None))
    book.add_mark(moment_of(clip.id, "release", 300))
    assert [("clasp", 300), ("insertion left", 300), ("release", None)] == [
        (mark.act, mark.end_pts) for mark in book.session(1).marks
    ]
    book.undo()

    assert [True, True] == [mark.open for mark in book.session(1).marks]


def test_a_release_seen_by_the_other_camera_ends_the_clasp_at_the_same_time(book: Book) -> None:
    session, first = new_session(book)
    side = book.add_clip(clip_of(session.id, Fraction(1, 2), "/films/side.mp4"))
    book.add_mark(mark_of(first.id, "clasp", 1_007, None))  # at 1.000 s
    book.add_mark(moment_of(side.id, "release", 1_007))  # at 1.500 s

    assert 1_507 == next(mark for mark in book.session(1).marks if mark.act == "clasp").end_pts


def test_a_reviewers_release_leaves_the_other_reviewers_marks_open(book: Book) -> None:
    _, clip = new_session(book)
    book.add_mark(mark_of(clip.id, "clasp", 100, None, reviewer="Bo"))
    book.add_mark(moment_of(clip.id, "release", 300, reviewer="Ada"))

    assert book.session(1).marks[0].open


def test_an_outline_drawn_again_on_a_frame_replaces_the_first(book: Book) -> None:
    _, clip = new_session(book)
    book.add_outline(Outline(0, clip.id, 7, 1, 2, 3, 4))
    book.add_outline(Outline(0, clip.id, 7, 5, 6, 7, 8, "male"))
    book.add_outline(Outline(0, clip.id, 7, 9, 9, 9, 9))

    assert [(5, "male"), (9, "abdomen")] == [(one.x, one.part) for one in book.session(1).outlines]


def test_shots_are_replaced_as_a_whole(book: Book) -> None:
    _, clip = new_session(book)
    book.set_shots(clip.id, [ShotRecord(0, clip.id, 7, 4_007)])
    book.set_shots(clip.id, [ShotRecord(0, clip.id, 7, 2_007), ShotRecord(0, clip.id, 2_007, 4_007, "cut")])

    assert [(7, "film"), (2_007, "cut")] == [(shot.start_pts, shot.begins) for shot in book.session(1).shots]


def test_a_reminder_gets_a_lasting_name_for_calendars(book: Book) -> None:
    session, _ = new_session(book)
    first = book.add_reminder(Reminder(0, session.id, "2026-05-30", "pull the sac"))
    second = book.add_reminder(Reminder(0, session.id, "2026-05-30", "pull the sac"))
    book.change_reminder(replace(first, done=True))

    assert "" != first.uid != second.uid
    assert [(first.uid, True), (second.uid, False)] == [(one.uid, one.done) for one in book.reminders()]
    assert (second,) == book.reminders(done=False)


def test_an_animal_with_sessions_stays(book: Book) -> None:
    animal = book.add_animal(Animal(0, "Umbra", Sex.FEMALE))
    book.add_session(Session(0, "Visit", animal.id, None))
    with pytest.raises(CannotKeep, match="“Umbra” is in 1 session and stays"):
        book.remove_animal(animal.id)

    assert (animal,) == book.animals()


def test_two_entries_of_one_animal_become_one(book: Book) -> None:
    kept = book.add_animal(Animal(0, "Umbra", Sex.FEMALE, "Grammostola pulchra", note="calm"))
    twin = book.add_animal(Animal(0, "umbra", Sex.UNKNOWN, "G. pulchra", "2015", owner="Ada", note="big"))
    him = book.add_animal(Animal(0, "Tarn", Sex.MALE))
    session = book.add_session(Session(0, "Visit", twin.id, him.id, "2026-03-01"))
    book.add_life_event(LifeEvent(0, twin.id, "moult", "2025-09-12"))
    book.add_loan(Loan(0, twin.id, "Ada", "Bo", "2026-01-01"))
    merged = book.merge_animals(kept.id, [twin.id])

    expected = Animal(kept.id, "Umbra", Sex.FEMALE, "Grammostola pulchra", "2015", "", "Ada", "calm\nbig")
    assert expected == merged == book.animal(kept.id)
    assert [him, merged] == list(book.animals())
    assert (session.id,) == tuple(one.id for one in book.sessions_of(kept.id))
    assert 1 == len(book.life(kept.id)) == len(book.loans(kept.id))
    book.undo()
    assert twin == book.animal(twin.id)


def test_animals_that_were_paired_with_each_other_cannot_be_one(book: Book) -> None:
    one = book.add_animal(Animal(0, "A", Sex.UNKNOWN))
    other = book.add_animal(Animal(0, "B", Sex.UNKNOWN))
    book.add_session(Session(0, "Visit", one.id, other.id))
    with pytest.raises(CannotKeep, match="paired with each other"):
        book.merge_animals(one.id, [other.id])

    assert 2 == len(book.animals())


def test_a_female_and_a_male_cannot_be_one(book: Book) -> None:
    her = book.add_animal(Animal(0, "A", Sex.FEMALE))
    him = book.add_animal(Animal(0, "B", Sex.MALE))
    with pytest.raises(CannotKeep, match="different sexes"):
        book.merge_animals(her.id, [him.id])


def test_what_a_pass_proposed_cannot_be_changed_or_removed(book: Book) -> None:
    _, clip = new_session(book)
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]
    for attempt in (book.change_flag, book.add_flag):
        with pytest.raises(CannotKeep, match="stays as it is"):
            attempt(replace(flag, pull=9.0))
    with pytest.raises(CannotKeep, match="stays as it is"):
        book.remove_flag(flag.id)


def test_a_pull_seen_by_eye_names_who_saw_it(book: Book) -> None:
    _, clip = new_session(book)
    seen = FlagRecord(0, clip.id, None, 207, 247, None, None, None, None, None, "seen by eye")
    with pytest.raises(CannotKeep, match="who saw it"):
        book.add_flag(seen)
    kept = book.add_flag(replace(seen, by="Ada"))
    book.add_call(call_of(kept.id))

    assert (kept,) == book.session(1).flags
    book.remove_flag(kept.id)
    assert () == book.session(1).flags == book.session(1).calls


def test_several_reviewers_call_the_same_flag(book: Book) -> None:
    _, clip = new_session(book)
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]
    for reviewer in ("Ada", "Bo", "Ada"):
        book.add_call(call_of(flag.id, reviewer=reviewer))

    assert ["Ada", "Bo", "Ada"] == [call.reviewer for call in book.session(1).calls]


def test_calls_stand_in_the_order_they_were_made_even_if_the_clock_was_set_back(book: Book) -> None:
    _, clip = new_session(book)
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]
    book.add_call(replace(call_of(flag.id), made_at="2026-03-02T10:00:00Z", note="first"))
    book.add_call(replace(call_of(flag.id), made_at="2026-03-01T10:00:00Z", note="second"))

    assert ["first", "second"] == [call.note for call in book.session(1).calls]


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        (Animal(0, "  ", Sex.FEMALE), "needs a name"),
        (Animal(0, "Umbra", Sex.FEMALE, born="last year"), "“last year” is no date"),
        (Session(0, "Visit", None, None, "2026-02-30"), "“2026-02-30” is no date"),
        (Session(0, "Visit", None, None, "20260301"), "Write it as 2026-03-01"),
        (Session(0, "Visit", 1, 1), "cannot be the same animal"),
        (Session(0, "Visit", None, None, humidity_pct=140.0), "between 0 and 100"),
        (Session(0, "Visit", None, None, temperature_c=float("nan")), "finite"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(book: Book, value: object, sentence: str) -> None:
    book.add_animal(Animal(0, "Umbra", Sex.FEMALE))
    before = book.changed()
    with pytest.raises(CannotKeep, match=sentence):
        (book.add_animal if isinstance(value, Animal) else book.add_session)(value)  # type: ignore[operator]

    assert before == book.changed()


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda book, clip: book.add_outline(Outline(0, clip, 7, 1, 1, 0, 5)), "width and a height"),
        (lambda book, clip: book.add_outline(Outline(0, clip, 7, 1, 1, 5, 5, "leg")), "not of “leg”"),
        (lambda book, clip: book.add_mark(mark_of(clip, start=2**70)), "63 bits"),
        (lambda book, clip: book.add_mark(mark_of(clip, act=" ")), "needs an act"),
        (lambda book, clip: book.move_clip(clip, Fraction(1, 2**80)), "63 bits"),
        (lambda book, clip: book.add_call(replace(call_of(1), palp="both")), "left, right or not told"),
        (lambda book, clip: book.add_call(replace(call_of(1), decision="maybe")), "“maybe” is no decision"),
        (lambda book, clip: book.add_outcome(Outcome(0, 1, "laid", "2026-05-02", (("eggs", -1),))), "0 or more"),
        (lambda book, clip: book.add_reminder(Reminder(0, 1, "", "look")), "needs a date"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(book: Book, change, sentence: str) -> None:  # type: ignore[no-untyped-def]
    _, clip = new_session(book)
    add_pass(book, clip, 10)
    before = book.changed()
    with pytest.raises(CannotKeep, match=sentence):
        change(book, clip.id)

    assert before == book.changed()


def test_a_changed_act_keeps_its_marks(book: Book) -> None:
    _, clip = new_session(book)
    book.add_mark(mark_of(clip.id, "drumming"))
    book.set_acts([Act("drumming", "Palp drumming, loud", Actor.HIM, True, "my own rule", "X")])

    assert ["Palp drumming, loud"] == [book.session(1).act(mark.act).label for mark in book.session(1).marks]  # type: ignore[union-attr]


def test_an_act_taken_from_the_set_still_tells_what_old_marks_mean(book: Book) -> None:
    _, clip = new_session(book)
    book.add_mark(mark_of(clip.id, "drumming"))
    book.set_acts([Act("dance", "Dancing", Actor.HIM, True, "mine")], "mine")
    book.add_mark(mark_of(clip.id, "dance"))
    book.set_acts([Act("other", "Other", Actor.HIM, True, "mine")], "another")

    acts = book.session(1).acts
    assert ["Other", "Drumming with the palps", "Dancing"] == [act.label for act in acts]


def test_sets_of_acts_are_kept_by_name_and_chosen(book: Book) -> None:
    short = book.set_acts(book.acts()[:3], "short")
    book.set_acts(book.acts()[:1], "shorter")

    assert ("short", "shorter") == book.act_sets()
    assert short == book.use_acts("short") == book.acts()
    assert 40 < len(book.use_acts(None))
    with pytest.raises(NoSuchThing, match="set of acts called “long”"):
        book.use_acts("long")
    book.remove_acts("short")
    assert ("shorter",) == book.act_sets()


def test_a_set_of_acts_that_contradicts_itself_is_refused(book: Book) -> None:
    one = Act("a", "First", Actor.HIM, True, "", "K")
    with pytest.raises(CannotKeep, match="“First” and “Second” have the same key “K”"):
        book.set_acts([one, Act("b", "Second", Actor.HIM, True, "", "K")])
    with pytest.raises(CannotKeep, match="same code “a”"):
        book.set_acts([one, Act("a", "Second", Actor.HIM, True, "")])
    with pytest.raises(CannotKeep, match="at least one act"):
        book.set_acts([])


def test_what_was_watched_in_full_is_kept_by_reviewer(tmp_path: Path) -> None:
    with full_book(tmp_path / "full.book") as full:
        (stretch,) = full.session(1).reviewed
        assert ("Ada", 7, 4_007) == (stretch.reviewer, stretch.start_pts, stretch.end_pts)
        full.remove_reviewed(stretch.id)

        assert () == full.session(1).reviewed
