from dataclasses import replace
from fractions import Fraction

from clipmark.book.model import Decision, Sign
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made


def test_the_one_line_tells_confirmed_of_judgeable_and_what_was_not_visible():
    made = Made()
    for at, decision in enumerate(
        [Decision.CONFIRMED] * 2 + [Decision.PROBABLE, Decision.ATTEMPT, Decision.NOT_SEEN]
    ):
        made.flag(100 + 20 * at, call=decision)
    made.flag(300)
    made.flag(320, call=Decision.OTHER)

    assert (
        "2 confirmed, 1 probable, 1 attempt, of 4 judgeable; 1 not visible; 1 flag not yet called; 1 something else; "
        "2 of the confirmed without stated signs"
    ) == read(made.record()).insertions.sentence


def test_a_weak_candidate_that_nobody_called_is_no_open_work():
    made = Made()
    made.flag(100, flagged=False)

    assert read(made.record()).insertions.uncalled == 0


def test_the_later_call_of_a_reviewer_replaces_the_earlier():
    made = Made()
    flag = made.flag(100, call=Decision.CONFIRMED)
    made.call(flag, Decision.ATTEMPT)

    insertions = read(made.record()).insertions

    assert (0, 1) == (insertions.confirmed, insertions.attempts)
    assert insertions.disputed == 0


def test_the_session_s_reviewer_decides_and_a_dispute_is_told():
    made = Made(reviewer="Ada")
    flag = made.flag(100, call=Decision.CONFIRMED, by="Ada")
    made.call(flag, Decision.ATTEMPT, by="Ben")

    reading = read(made.record())

    assert reading.insertions.confirmed == 1
    assert "On 1 candidate calls of several people or cameras differ." in reading.notes


def test_a_reading_of_one_reviewer_takes_only_that_one_s_calls():
    made = Made(reviewer="Ada")
    flag = made.flag(100, call=Decision.CONFIRMED, by="Ada")
    made.call(flag, Decision.ATTEMPT, by="Ben")

    assert read(made.record(), reviewer="Ben").insertions.attempts == 1


def test_one_insertion_flagged_on_two_cameras_counts_once():
    made = Made()
    made.clip(600)
    made.flag(100, release=103, call=Decision.NOT_SEEN)
    made.flag(100.1, release=103, clip=2, call=Decision.CONFIRMED)

    insertions = read(made.record()).insertions

    assert (1, 0) == (insertions.confirmed, insertions.not_visible)


def test_an_insertion_that_was_only_marked_is_probable():
    made = Made()
    made.mark("insertion left", 100, 105)

    assert read(made.record()).insertions.probable == 1


def test_a_marked_insertion_takes_the_call_of_the_flag_at_its_start():
    made = Made()
    made.mark("insertion left", 100, 105)
    made.flag(100.4, release=103, call=Decision.CONFIRMED)

    reading = read(made.record())

    assert (1, 0) == (reading.insertions.confirmed, reading.insertions.probable)
    assert reading.figure("time.inserted_confirmed").value == 5  # as marked
    assert reading.figure("insertions.left").value == 1


def test_a_flag_within_a_marked_insertion_that_was_something_else_changes_nothing():
    made = Made()
    made.mark("insertion", 100, 130)
    made.flag(120, call=Decision.OTHER)

    insertions = read(made.record()).insertions

    assert (1, 1) == (insertions.probable, insertions.other)


def test_a_marked_attempt_and_its_flag_called_attempt_are_one():
    made = Made()
    made.mark("attempt", 100, 104)
    made.flag(103, call=Decision.ATTEMPT)
    made.flag(103.5, call=Decision.CONFIRMED)

    insertions = read(made.record()).insertions

    assert (1, 1) == (insertions.attempts, insertions.confirmed)


def test_a_call_of_not_seen_does_not_take_back_what_was_marked():
    made = Made()
    made.mark("attempt", 100, 101)
    made.flag(100.2, call=Decision.NOT_SEEN)
    made.mark("insertion left", 200, 205)
    made.flag(200.2, call=Decision.NOT_SEEN)

    insertions = read(made.record()).insertions

    assert (1, 1, 0) == (insertions.attempts, insertions.probable, insertions.not_visible)


def test_a_marked_insertion_whose_flag_was_an_attempt_is_an_attempt():
    made = Made()
    made.mark("insertion left", 200, 205)
    made.flag(200.2, call=Decision.ATTEMPT)

    insertions = read(made.record()).insertions

    assert (1, 0) == (insertions.attempts, insertions.probable)


def test_insertion_time_whose_end_was_not_seen_is_at_least():
    made = Made()
    made.flag(100, release=103, call=Decision.CONFIRMED)
    made.flag(200, call=Decision.PROBABLE)

    inserted = read(made.record()).figure("time.inserted")

    assert Fraction(3) == inserted.at_least
    assert "at least 3.00 s; of 1 insertion the end was not seen" == inserted.text


def test_a_palp_told_both_ways_is_not_told():
    made = Made()
    made.mark("insertion left", 100, 105)
    made.flag(100.2, call=Decision.CONFIRMED, palp="right")

    assert read(made.record()).figure("insertions.palp_untold").value == 1


def test_a_palp_told_on_one_camera_is_told_for_the_other():
    made = Made()
    made.clip(600)
    made.mark("insertion", 100, 105)
    made.mark("insertion left", 100.5, 105, clip=2)

    reading = read(made.record())

    assert (1, 1) == (reading.insertions.probable, reading.figure("insertions.left").value)


def test_a_second_reviewer_changes_nothing_of_the_first_ones_reading():
    """Thirty drummings stay thirty under another person's longer ones, and one insertion stays one."""
    made = Made()
    for k in range(30):
        made.mark("drumming", 10 + 3 * k, 11 + 3 * k)
    made.mark("insertion left", 100, 105)
    alone = read(made.record())
    made.mark("drumming", 9, 98, by="Ben")
    made.mark("insertion right", 101, 106, by="Ben")
    made.call(made.flag(200), Decision.CONFIRMED, "Ben")
    both = read(made.record())

    assert 30 == both.figure("act.drumming.him.count").value == alone.figure("act.drumming.him.count").value
    assert (1, 0, 1) == (both.insertions.probable, both.insertions.confirmed, both.insertions.uncalled)
    assert 1 == both.figure("insertions.left").value
    of_ben = read(made.record(), "Ben")
    assert (1, 1) == (of_ben.figure("act.drumming.him.count").value, of_ben.insertions.confirmed)


def test_what_was_marked_without_a_name_is_the_sessions_own_reading():
    made = Made()
    made.mark("drumming", 10, 11)
    made.mark("drumming", 20, 21, by="")

    assert 2 == read(made.record()).figure("act.drumming.him.count").value
    assert 2 == read(made.record(), "Ada").figure("act.drumming.him.count").value


def test_where_the_reviewer_named_has_made_nothing_the_first_who_did_is_read():
    made = Made()
    made.mark("drumming", 10, 11, by="Ben")

    reading = read(made.record())

    assert "Ben" == reading.reviewer
    assert any("Ben" in note for note in reading.notes)


def test_something_else_beside_a_marked_insertion_is_a_contradiction_and_shown():
    made = Made()
    made.mark("insertion left", 100, 110)
    made.flag(100.2, call=Decision.OTHER)

    reading = read(made.record())

    [candidate] = reading.insertions.contradicted
    assert (0, 0, 1) == (reading.insertions.judgeable, reading.insertions.other, len(candidate.marks))
    assert 1 == reading.figure("insertions.contradicted").value
    assert "1 contradicted (marked as an insertion, called something else)" in reading.insertions.sentence
    assert any("called something else" in note for note in reading.notes)


def test_a_confirmed_call_without_signs_is_told_as_such():
    made = Made()
    made.call(made.flag(100), Decision.CONFIRMED)
    made.call(made.flag(200), Decision.CONFIRMED)
    made.calls[0] = replace(made.calls[0], signs=(Sign.PALPS_STILL,))

    reading = read(made.record())

    assert 1 == reading.insertions.unsigned
    assert "2 (1 without stated signs)" == reading.figure("insertions.confirmed").text
    assert "is not claimed for it" in reading.figure("insertions.confirmed").explanation


def test_each_count_knows_its_calls():
    made = Made()
    made.flag(100, call=Decision.PROBABLE)
    made.flag(120, call=Decision.CONFIRMED)

    assert (2,) == read(made.record()).figure("insertions.confirmed").calls
