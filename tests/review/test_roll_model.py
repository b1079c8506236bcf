"""The log roll without a screen: lanes, columns, what is on view, what lies under a point, curves."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import (
    Actor,
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    Mark,
    PassRecord,
    Session,
    SessionRecord,
    ShotRecord,
    SpanRecord,
)
from clipmark.review.roll_geometry import View, columns, hit, ruler_step
from clipmark.review.roll_model import Curve, Lane, RollItem, Side, build, pack, shown_calls, snapped


def record_of(marks=(), flags=(), calls=(), offset: Fraction = Fraction(0)) -> SessionRecord:
    """A 60 s clip in milliseconds with a cut at 30 s, unwatched from 40 s to 45 s."""
    clip = ClipRecord(1, 1, "evening.mp4", 1, "f", offset, Fraction(1, 1000), 0, 60_000, 1_500, 640, 360)
    shots = (ShotRecord(1, 1, 0, 30_000), ShotRecord(2, 1, 30_000, 60_000, "cut"))
    spans = (SpanRecord(1, 0, 40_000), SpanRecord(1, 40_000, 45_000, "a leg lay over it"))
    passes = (PassRecord(1, 1, "pulls-1", "", 100.0),)
    return SessionRecord(
        Session(1, "t", None, None), None, None, (clip,), shots, (), BUILT_IN, tuple(marks), passes, tuple(flags), (),
        spans, tuple(calls), (), (),
    )  # fmt: skip


def mark(id: int, act: str, actor: Actor, start: int, end: int | None = None, lasting: bool = True) -> Mark:
    return Mark(id, 1, act, actor, start, end, lasting, "Ada")


def flag(id: int, onset: int, score: float = 0.9, flagged: bool = True) -> FlagRecord:
    return FlagRecord(id, 1, 1, onset, onset + 200, onset + 1_500, score, 0.2, 3.0, 0.0, "moved", flagged=flagged)


def test_his_acts_stand_left_hers_right_and_contact_on_the_line() -> None:
    model = build(
        record_of(
            [
                mark(1, "drumming", Actor.HIM, 1_000, 3_000),
                mark(2, "answering", Actor.HER, 2_000, 4_000),
                mark(3, "contact", Actor.BOTH, 9_000, None, lasting=False),
            ],
            [flag(1, 20_000)],
        )
    )

    assert [i.id for i in model.lanes[Side.HIM].items] == [1]
    assert [i.id for i in model.lanes[Side.HER].items] == [2]
    assert [i.key for i in model.lanes[Side.LINE].items] == [("mark", 3), ("flag", 1)]


def test_times_are_those_of_the_session_clock() -> None:
    model = build(record_of([mark(1, "drumming", Actor.HIM, 1_000, 3_000)], offset=Fraction(5, 2)))

    item = model.lanes[Side.HIM].items[0]
    assert (item.start, item.end) == (3.5, 5.5)
    assert (model.start, model.end) == (2.5, 62.5)
    assert model.cuts.tolist() == [32.5]
    assert (model.hatches[0].start, model.hatches[0].end, model.hatches[0].why) == (42.5, 47.5, "a leg lay over it")


def test_an_open_act_lasts_to_the_end_of_its_clip() -> None:
    item = build(record_of([mark(1, "clasp", Actor.HIM, 50_000)])).lanes[Side.HIM].items[0]

    assert item.open
    assert 60.0 == item.end


def test_acts_at_the_same_time_stand_beside_each_other() -> None:
    assert [0, 1, 0, 1] == pack([(0, 4), (1, 6), (4, 9), (7, 8)])


@pytest.mark.parametrize("seed", range(5))
def test_no_two_acts_in_one_column_overlap(seed: int) -> None:
    rng = np.random.default_rng(seed)
    starts = np.sort(rng.uniform(0, 50, 80))
    spans = [(float(s), float(s + e)) for s, e in zip(starts, rng.exponential(4, 80), strict=True)]
    placed = pack(spans)

    deepest = max(sum(a <= t < b for a, b in spans) for t, _ in spans)
    assert max(placed) + 1 == deepest
    for column in set(placed):
        mine = [span for span, c in zip(spans, placed, strict=True) if c == column]
        assert all(before[1] <= after[0] for before, after in pairwise(mine))


@pytest.mark.parametrize("seed", range(5))
def test_what_is_on_view_is_found_by_bisect_and_nothing_is_missed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    items = [
        RollItem("mark", n, 1, Side.HIM, float(s), float(s + e), "")
        for n, (s, e) in enumerate(zip(rng.uniform(0, 100, 300), rng.exponential(5, 300), strict=True))
    ]
    lane = Lane.of(items)

    shown = {lane.items[n].id for n in lane.between(40, 50)}

    assert {i.id for i in items if i.end >= 40 and i.start <= 50} <= shown
    assert len(shown) < 300


def test_a_second_reviewer_sees_only_her_own_calls_unless_told_otherwise() -> None:
    calls = [
        Call(1, 7, "Ada", Decision.CONFIRMED),
        Call(2, 8, "Ada", Decision.ATTEMPT),
        Call(3, 8, "Bo", Decision.NOT_SEEN),
        Call(4, 7, "Ada", Decision.PROBABLE),
    ]

    assert {8: Decision.NOT_SEEN} == {k: c.decision for k, c in shown_calls(calls, "Bo").items()}
    both = shown_calls(calls, "Bo", others=True)
    assert {7: Decision.PROBABLE, 8: Decision.NOT_SEEN} == {k: c.decision for k, c in both.items()}


def test_weak_candidates_stay_off_the_roll_until_asked_for() -> None:
    record = record_of(flags=[flag(1, 10_000), flag(2, 20_000, 0.2, flagged=False)])

    assert [1] == [i.id for i in build(record).lanes[Side.LINE].items]
    assert [1, 2] == [i.id for i in build(record, weak=True).lanes[Side.LINE].items]


def test_a_short_peak_is_not_lost_in_the_far_view() -> None:
    values = np.zeros(200_000)
    values[123_456] = 1.0
    curve = Curve(np.arange(200_000) / 30.0, values)

    rows = curve.rows(0, 200_000 / 30, 700)

    assert 1.0 == np.nanmax(rows)
    assert int(np.nanargmax(rows)) == int(123_456 / 200_000 * 700)


def test_between_two_samples_the_near_view_draws_a_straight_line() -> None:
    rows = Curve(np.array([0.0, 1.0]), np.array([0.0, 1.0])).rows(0, 1, 10)

    assert rows == pytest.approx(np.arange(10) / 10 + 0.05, abs=0.06)


def test_a_gap_in_the_trace_stays_a_gap() -> None:
    times = np.arange(0, 10, 0.01)
    values = np.where((times > 4) & (times < 6), np.nan, 1.0)

    rows = Curve(times, values).rows(0, 10, 100)

    assert np.isnan(rows[45:58]).all()
    assert np.isfinite(rows[:40]).all()


def test_zooming_keeps_the_time_under_the_pointer() -> None:
    view = View(10.0, 20.0, 600, 24.0)

    closer = view.zoomed(3.0, 200.0, 1.0, 2_000.0)

    assert closer.at(200.0) == pytest.approx(view.at(200.0))
    assert closer.scale == 60.0


def test_the_end_of_a_bar_can_be_grabbed_and_its_middle_only_chosen() -> None:
    model = build(record_of([mark(1, "clasp", Actor.HIM, 10_000, 20_000)]))
    across, view = columns(model, 500, 16, 60, False), View(0, 10, 700, 24)
    left, wide = across.bar_at(Side.HIM, 0)

    assert hit(model, view, across, left + wide / 2, view.y(20) + 1).end == "end"
    assert hit(model, view, across, left + wide / 2, view.y(10) - 1).end == "start"
    assert hit(model, view, across, left + wide / 2, view.y(15)).end == ""
    assert hit(model, view, across, across.width - 5, view.y(15)) is None


def test_the_ruler_writes_round_times_with_room_between_them() -> None:
    assert 0.5 == ruler_step(100.0, 40.0)
    assert 60.0 == ruler_step(1.0, 40.0)


def test_a_dragged_end_lands_on_a_frame() -> None:
    assert 0.08 == snapped(np.array([0.0, 0.04, 0.08, 0.2]), 0.1)
    assert 0.2 == snapped(np.array([0.0, 0.04, 0.08, 0.2]), 9.0)


def test_what_did_not_change_is_taken_over_from_the_roll_before_and_what_changed_is_not():
    marks = [mark(n, "drumming", Actor.HIM, 3_000 * n, 3_000 * n + 500) for n in range(1, 8)]
    first = record_of(marks)
    before = build(first)
    changed = replace(marks[0], start_pts=marks[0].start_pts + 40)
    after = build(replace(first, marks=(changed, *marks[1:])), before=before)
    fresh = build(replace(first, marks=(changed, *marks[1:])))

    assert fresh.in_order == after.in_order
    assert all(after.by_key["mark", m.id] is before.by_key["mark", m.id] for m in marks[1:])
    assert after.by_key["mark", changed.id] is not before.by_key["mark", changed.id]
