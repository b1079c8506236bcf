"""The tests of answers and order in words: what they find where there is something, and where there is nothing."""

import random

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.reading.session.how_sure import how_sure
from clipmark.reading.session.measures import read
from clipmark.reading.session.observed import watchable
from tests.reading.made_records import Made

LABELS = {act.code: act.label for act in BUILT_IN}


def by_key(readings, **options):
    return {row.key: row for row in how_sure(readings, LABELS, **options)}


def courtship(answered: bool, seed: int = 1, rounds: int = 12):
    """He drums every 40 s; she answers 2 s later each time, or at random times."""
    draw, made = random.Random(seed), Made(length=600)
    made.mark("introduced", 0)
    for k in range(rounds):
        made.mark("drumming", 10 + 40 * k, 14 + 40 * k)
        at = 12 + 40 * k if answered else draw.uniform(5, 590)
        made.mark("answering", at, at + 1)
    return read(made.record())


def test_answers_that_follow_each_drumming_are_told_from_chance():
    row = by_key([courtship(True)])["answers.her"]

    assert row.p is not None
    assert row.p <= 0.05
    assert 12 == row.n
    assert "Chance alone would seldom give that many." in row.found


def test_answers_at_random_show_nothing():
    found = [by_key([courtship(False, seed)], draws=199)["answers.her"] for seed in range(20)]

    assert sum(row.p <= 0.05 for row in found) <= 3
    assert any("it shows nothing" in row.found for row in found)


def test_too_little_is_not_tested_and_says_why():
    made = Made()
    made.mark("drumming", 10, 14)
    rows = by_key([read(made.record())])

    assert all(row.p is None for row in rows.values())
    assert "Not tested: 1 beginning of his drumming, fewer than 5." == rows["answers.her"].found
    assert "Not tested: 0 steps" in rows["order.shuffle"].found


def test_an_order_that_never_changes_is_found_and_one_of_chance_is_not():
    fixed, shuffled, draw = Made(length=900), Made(length=900), random.Random(3)
    codes = ["drumming", "answering", "leg play", "clasp"] * 12
    mixed = list(codes)
    draw.shuffle(mixed)
    for made, order in ((fixed, codes), (shuffled, mixed)):
        for k, code in enumerate(order):
            made.mark(code, 5 + 15 * k, 6 + 15 * k)
    assert by_key([read(fixed.record())])["order.shuffle"].p <= 0.01
    assert by_key([read(shuffled.record())])["order.shuffle"].p > 0.05


def test_a_table_of_small_counts_is_not_tested():
    row = by_key([courtship(False, rounds=6)])["order.table"]

    assert row.p is None
    assert "Not tested" in row.found


def test_every_row_says_what_it_takes_for_granted():
    for row in how_sure([courtship(True)], LABELS):
        assert "taken for granted" in row.assumes
        assert row.question.endswith("?")


def test_several_sessions_are_never_glued_together():
    one = by_key([courtship(True)])["order.shuffle"]
    two = by_key([courtship(True), courtship(True, 2)])["order.shuffle"]

    assert 2 * one.n == two.n
    assert "in 2 sessions" in two.found


def test_what_happened_and_what_was_seen_is_enough_for_the_tests():
    made = Made(length=600)
    made.mark("introduced", 0)
    for k in range(12):
        made.mark("drumming", 10 + 40 * k, 14 + 40 * k)
        made.mark("answering", 15 + 40 * k, 16 + 40 * k)
    record = made.record()

    assert how_sure([read(record)], LABELS) == how_sure([watchable(record)], LABELS)
