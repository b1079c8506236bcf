"""What becomes of flags and calls when the motion pass is run again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from clipmark.book.errors import CannotKeep
from clipmark.book.film.intake import boxes_for
from clipmark.book.film.kept_pass import kept_pass
from clipmark.book.model import ClipRecord, Decision, FlagRecord, Outline
from clipmark.book.steps.carry_calls import same_pulls
from clipmark.book.store import Book
from clipmark.media.index.frame_index import frame_index
from clipmark.motion.result import Box, FrameSpan, Ticks
from tests.book.made_book import END, TICKS, add_pass, call_of, flag_of, new_session, result_of


@pytest.fixture
def book(tmp_path: Path):  # type: ignore[no-untyped-def]
    with Book.open(tmp_path / "b.book") as book:
        yield book


@pytest.fixture
def clip(book: Book) -> ClipRecord:
    return new_session(book)[1]


def seen_by_eye(clip: ClipRecord, frame: int) -> FlagRecord:
    at = int(TICKS[frame])
    return FlagRecord(0, clip.id, None, at, at + 160, None, None, None, None, None, "seen by eye", by="Ada")


def test_frames_of_a_pass_become_ticks_of_the_film(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    record = book.session(1)

    assert (407, 567, 1_207) == (
        record.flags[0].onset_pts, record.flags[0].full_pts, record.flags[0].release_pts,
    )  # fmt: skip
    assert [(7, 3_607, ""), (3_607, 4_007, "she is behind bark")] == [
        (span.start_pts, span.end_pts, span.why) for span in record.spans
    ]
    assert [(7, 2_407, "film"), (2_407, 4_007, "cut")] == [
        (shot.start_pts, shot.end_pts, shot.begins) for shot in record.shots
    ]


def test_a_flag_keeps_what_the_pass_said_of_it(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]

    assert (0.8, 0.3, -4.5, 90.0) == (flag.score, flag.pull, flag.tilt_deg, flag.direction_deg)
    assert ("Her abdomen was drawn in.", ("half hidden",), (("jump", 6.5),)) == (
        flag.because, flag.doubts, flag.features,
    )  # fmt: skip


def test_a_new_pass_takes_the_place_of_the_old_one_which_is_kept(book: Book, clip: ClipRecord) -> None:
    first = add_pass(book, clip, 10, 50)
    second = add_pass(book, clip, 80, parameters="pulls-2")
    record = book.session(1)

    assert [(first, False), (second, True)] == [(one.id, one.current) for one in record.passes]
    assert [80] == [int(np.searchsorted(TICKS, flag.onset_pts)) for flag in record.flags]
    assert [10, 50] == [int(np.searchsorted(TICKS, flag.onset_pts)) for flag in record.older_flags]
    assert "pulls-2" == book.current_pass(clip.id).parameters  # type: ignore[union-attr]


def test_a_call_is_carried_to_the_new_flag_of_the_same_pull_and_marked_as_carried(
    book: Book, clip: ClipRecord
) -> None:
    add_pass(book, clip, 10)
    old = book.add_call(call_of(book.session(1).flags[0].id))
    add_pass(book, clip, 14)
    record = book.session(1)

    assert [replace(old, id=2, flag_id=record.flags[0].id, carried_from=old.id)] == [
        call for call in record.calls if call.flag_id == record.flags[0].id
    ]
    assert [old] == [call for call in record.calls if call.flag_id == record.older_flags[0].id]


def test_only_a_reviewers_latest_call_is_carried_and_that_of_each_reviewer(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]
    book.add_call(call_of(flag.id, Decision.CONFIRMED, "Ada"))
    book.add_call(call_of(flag.id, Decision.NOT_SEEN, "Bo"))
    book.add_call(call_of(flag.id, Decision.ATTEMPT, "Ada"))
    add_pass(book, clip, 10)
    record = book.session(1)

    carried = {call.reviewer: call.decision for call in record.calls if call.flag_id == record.flags[0].id}
    assert {"Ada": Decision.ATTEMPT, "Bo": Decision.NOT_SEEN} == carried


@pytest.mark.parametrize(
    ("decision", "in_view"),
    [
        (Decision.CONFIRMED, 1),
        (Decision.PROBABLE, 1),
        (Decision.ATTEMPT, 1),
        (Decision.NOT_SEEN, 0),
        (Decision.OTHER, 0),
    ],
)
def test_a_pull_that_was_seen_stays_in_view_if_the_new_pass_does_not_propose_it(
    book: Book, clip: ClipRecord, decision: Decision, in_view: int
) -> None:
    add_pass(book, clip, 10)
    book.add_call(call_of(book.session(1).flags[0].id, decision))
    add_pass(book, clip)
    record = book.session(1)

    assert in_view == len(record.flags)
    shown = [flag.id for flag in record.flags]
    assert [decision] * in_view == [call.decision for call in record.calls if call.flag_id in shown]
    assert ["Ada"] * in_view == [flag.by for flag in record.flags]


def test_a_weak_candidate_does_not_hide_a_pull_that_was_seen(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    book.add_call(call_of(book.session(1).flags[0].id))
    book.add_pass(clip.id, result_of(flag_of(10, 0.1, flagged=False)))

    assert [True] == [flag.flagged for flag in book.session(1).flags if flag.by == "Ada"]


def test_a_pull_seen_by_eye_counts_once_when_a_pass_proposes_it_later(book: Book, clip: ClipRecord) -> None:
    own = book.add_flag(seen_by_eye(clip, 12))
    book.add_call(call_of(own.id))
    add_pass(book, clip, 10)
    record = book.session(1)

    assert [None] != [flag.pass_id for flag in record.flags]
    assert (1, [own.id]) == (len(record.flags), [flag.id for flag in record.older_flags])
    assert 1 == book.sessions()[0].flags == book.sessions()[0].confirmed


def test_a_pull_seen_by_eye_comes_back_when_a_still_newer_pass_does_not_propose_it(
    book: Book, clip: ClipRecord
) -> None:
    own = book.add_flag(seen_by_eye(clip, 12))
    add_pass(book, clip, 10)
    flag = book.session(1).flags[0]
    book.add_call(call_of(flag.id))
    add_pass(book, clip, 80)
    record = book.session(1)

    assert own.id in [one.id for one in record.flags]
    assert 2 == len(record.flags)
    assert [Decision.CONFIRMED] == [call.decision for call in record.calls if call.flag_id == own.id]


def test_a_pull_seen_by_eye_far_from_any_flag_stays_as_it_is(book: Book, clip: ClipRecord) -> None:
    own = book.add_flag(seen_by_eye(clip, 60))
    add_pass(book, clip, 10)

    assert own in book.session(1).flags


def test_keeping_a_pass_is_one_step_of_undo(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    book.add_call(call_of(book.session(1).flags[0].id))
    before = book.session(1)
    add_pass(book, clip, 11, 50)
    book.undo()

    assert before == book.session(1)


def test_a_pass_over_another_film_is_refused(book: Book, clip: ClipRecord) -> None:
    with pytest.raises(CannotKeep, match="covers 100 frames, the film has 99"):
        book.add_pass(clip.id, replace(result_of(), ticks=Ticks(TICKS[:99], END)))
    with pytest.raises(CannotKeep, match="names frame 101 of a film of 100"):
        book.add_pass(clip.id, replace(result_of(), watched=(FrameSpan(90, 101),)))
    with pytest.raises(CannotKeep, match="names tick 5000, which the film does not have"):
        book.add_pass(clip.id, replace(result_of(), flags=(replace(flag_of(10), onset_pts=5000),)))

    assert () == book.session(1).passes


def test_numbers_that_are_not_finite_are_kept_as_unknown(book: Book, clip: ClipRecord) -> None:
    flag = replace(flag_of(10), tilt_deg=float("nan"), features={"a": float("inf"), "b": 1.0})
    book.add_pass(clip.id, result_of(flag))

    assert (None, (("b", 1.0),)) == (book.session(1).flags[0].tilt_deg, book.session(1).flags[0].features)


def flags_at(*onsets: int) -> list[FlagRecord]:
    return [FlagRecord(0, 1, None, at, at, None, None, None, None, None, "") for at in onsets]


@pytest.mark.parametrize(
    ("older", "newer", "expected"),
    [
        ([], [5], {}),
        ([100], [], {}),
        ([100], [110], {0: 0}),
        ([100], [111], {}),
        ([100, 105], [104], {1: 0}),
        # taking the nearest pair first (106 with 105) would leave 100 and 115 alone
        ([100, 106], [105, 115], {0: 0, 1: 1}),
        ([100, 110, 120], [95, 118, 125], {0: 0, 1: 1, 2: 2}),
    ],
)
def test_pulls_of_two_passes_are_paired_one_to_one_as_many_as_possible(
    older: list[int], newer: list[int], expected: dict[int, int]
) -> None:
    assert expected == same_pulls(flags_at(*older), flags_at(*newer), Fraction(10))


def test_a_pass_keeps_her_region_and_how_small_a_pull_it_finds(book: Book, clip: ClipRecord) -> None:
    add_pass(book, clip, 10)
    record = book.session(1)

    assert [("drawn", 7, True), ("found", 2407, False)] == [(r.source, r.pts, r.fitted) for r in record.regions]
    assert [(30, 0.06), (12, None)] == [(s.planted, s.smallest_pull) for s in record.shots]


def test_a_pass_of_the_book_can_be_taken_up_again_as_it_was(book: Book, clip: ClipRecord) -> None:
    index = frame_index(TICKS, clip.time_base, np.ones(len(TICKS), bool), 40, None)
    made = add_pass(book, clip, 10, 50)
    kept = kept_pass(book.session(1), clip, book.trace_of(made), index)

    assert kept is not None
    was = result_of(flag_of(10), flag_of(50))
    assert (was.flags, was.shots) == (kept.flags, kept.shots)
    assert (was.watched, was.unwatched) == (kept.watched, kept.unwatched)
    assert (was.outlines, was.sensitivity) == (kept.outlines, kept.sensitivity)
    np.testing.assert_allclose(was.trace.x, kept.trace.x)


def test_a_press_stays_a_press_until_the_pass_begins(book: Book, clip: ClipRecord) -> None:
    index = frame_index(TICKS, clip.time_base, np.ones(len(TICKS), bool), 40, None)
    book.add_outline(Outline(0, clip.id, 87, 100.0, 50.0, 80.0, 60.0, press_x=140.0, press_y=82.0))
    (outline,) = book.session(1).outlines

    assert outline.pressed
    assert [Box(2, 140.0, 82.0, 0.0, 0.0)] == boxes_for(book.session(1), clip, index)
    with pytest.raises(CannotKeep, match="needs both its places"):
        book.add_outline(Outline(0, clip.id, 127, 100.0, 50.0, 80.0, 60.0, press_x=140.0))
