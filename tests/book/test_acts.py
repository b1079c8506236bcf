"""The built-in acts and what they have to do with each other."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from clipmark.book.meaning.acts import BUILT_IN, INSERTIONS
from clipmark.book.meaning.rules import ended_by, hints
from clipmark.book.model import Actor, ClipRecord, Mark
from tests.book.made_book import clip_of, mark_of, moment_of

CLIP = ClipRecord(1, *(getattr(clip_of(1), name) for name in ClipRecord.__slots__[1:]))


def test_each_act_has_a_code_and_a_key_of_its_own() -> None:
    assert len(BUILT_IN) == len({act.code for act in BUILT_IN}) == len({act.key for act in BUILT_IN})


def test_codes_are_plain_lowercase_words() -> None:
    assert [] == [act.code for act in BUILT_IN if not re.fullmatch(r"[a-z]+(-[a-z]+)?( [a-z]+)*", act.code)]


def test_keys_are_letters_and_leave_those_of_the_windows_commands_alone() -> None:
    assert [] == [act.key for act in BUILT_IN if not re.fullmatch(r"(Shift\+)?[A-Y]", act.key)]


def test_each_act_says_where_it_begins_and_where_it_comes_from() -> None:
    assert [] == [act.code for act in BUILT_IN if len(act.definition) < 30 or not act.source or not act.label]


@pytest.mark.parametrize(
    ("code", "actor", "lasting"),
    [
        # TRADE 1.3: actor and type of each
        ("introduced", Actor.KEEPER, False),
        ("searching", Actor.HIM, True),
        ("drumming", Actor.HIM, True),
        ("body shaking", Actor.HIM, True),
        ("jerk", Actor.HIM, False),
        ("answering", Actor.HER, True),
        ("contact", Actor.BOTH, False),
        ("clasp", Actor.HIM, True),
        ("insertion left", Actor.HIM, True),
        ("insertion right", Actor.HIM, True),
        ("withdrawal", Actor.HIM, False),
        ("abdomen pull", Actor.HER, False),
        ("release", Actor.HIM, False),
        ("lunge", Actor.HER, True),
        ("out of view", Actor.NOBODY, True),
        ("separated", Actor.KEEPER, False),
    ],
)
def test_acts_are_done_by_whom_and_last_as_the_trade_reference_says(code: str, actor: Actor, lasting: bool) -> None:
    (act,) = [act for act in BUILT_IN if act.code == code]

    assert (actor, lasting) == (act.actor, act.lasting)


def ends(mark: Mark, *others: Mark) -> list[tuple[str, int | None]]:
    return [(one.act, one.end_pts) for one in ended_by(mark, CLIP, others, [CLIP])]


def test_a_release_closes_the_clasp_and_any_open_insertion() -> None:  # TRADE TV13
    others = [mark_of(1, act, 100, None) for act in ("clasp", "insertion right", "leg play")]

    assert [("clasp", 300), ("insertion right", 300)] == ends(moment_of(1, "release", 300), *others)


def test_a_withdrawal_closes_the_insertion_only() -> None:
    others = [mark_of(1, act, 100, None) for act in ("clasp", "insertion left")]

    assert [("insertion left", 300)] == ends(moment_of(1, "withdrawal", 300), *others)


@pytest.mark.parametrize("act", sorted(INSERTIONS))
def test_of_the_insertions_only_one_goes_on(act: str) -> None:
    assert [("insertion left", 300)] == ends(mark_of(1, act, 300), mark_of(1, "insertion left", 100, None))


def test_what_is_closed_already_or_begins_later_is_left_alone() -> None:
    others = [mark_of(1, "clasp", 100, 200), mark_of(1, "clasp", 400, None), moment_of(1, "contact", 50)]

    assert [] == ends(moment_of(1, "release", 300), *others)


def test_an_insertion_outside_clasp_and_knock_down_is_hinted_at() -> None:  # TRADE TV13, a hint and no lock
    lone = mark_of(1, "insertion right", 300)
    (hint,) = hints(lone, CLIP, [mark_of(1, "clasp", 400, 500)], [CLIP])
    assert "outside a clasp or knock-down" in hint

    assert () == hints(lone, CLIP, [mark_of(1, "clasp", 200, 500)], [CLIP])
    assert () == hints(lone, CLIP, [mark_of(1, "knock-down", 200, None)], [CLIP])


def test_two_insertions_at_once_are_hinted_at() -> None:
    others = [mark_of(1, "clasp", 100, 900), mark_of(1, "insertion left", 200, 400)]

    (hint,) = hints(mark_of(1, "insertion right", 300), CLIP, others, [CLIP])
    assert "while “insertion left” goes on" in hint
    assert () == hints(mark_of(1, "insertion right", 400), CLIP, others, [CLIP])  # half-open: it ended here


def test_a_clasp_seen_by_the_other_camera_counts() -> None:
    side = ClipRecord(2, *(getattr(clip_of(1, Fraction(1)), name) for name in ClipRecord.__slots__[1:]))
    clasp = mark_of(2, "clasp", 7, 1_007)  # from 1.000 s to 2.000 s

    assert () == hints(mark_of(1, "insertion left", 1_507), CLIP, [clasp], [CLIP, side])
    assert 1 == len(hints(mark_of(1, "insertion left", 2_007), CLIP, [clasp], [CLIP, side]))


def test_another_reviewers_clasp_does_not_count() -> None:
    theirs, own = mark_of(1, "clasp", 100, 900, reviewer="Bo"), mark_of(1, "clasp", 600, 900)

    assert 1 == len(hints(mark_of(1, "insertion left", 300), CLIP, [theirs, own], [CLIP]))


def test_where_no_clasp_is_marked_at_all_none_is_missed() -> None:
    assert () == hints(mark_of(1, "insertion left", 300), CLIP, [mark_of(1, "drumming", 100, 200)], [CLIP])
