"""Days as people type them."""

from datetime import date

import pytest

from clipmark.review.days import DayUnreadable, order_of, parse_day


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("2026-03-27", "dmy"), ("20260327", "mdy"), ("27.3.2026", "mdy"), ("27.03.26", "ymd"), ("27/3/2026", "dmy"),
        ("3/27/2026", "mdy"), ("2026/3/27", "mdy"), (" 2026-3-27 ", "mdy"), ("27. 3. 2026", "dmy"),
    ],
)  # fmt: skip
def test_a_day_is_read_by_the_standard_or_in_the_order_of_the_system(text, order):
    assert date(2026, 3, 27) == parse_day(text.replace(". ", "."), order)


@pytest.mark.parametrize("text", ["2026-02-30", "27.13.2026", "soon", "date not noted20261120", "1.1.0001", "3-3"])
def test_what_is_no_day_is_refused_in_words(text):
    with pytest.raises(DayUnreadable, match="is no day"):
        parse_day(text)


def test_nothing_is_no_day_and_no_mistake():
    assert None is parse_day("  ")


@pytest.mark.parametrize(
    ("pattern", "order"), [("dd.MM.yy", "dmy"), ("M/d/yy", "mdy"), ("yyyy-MM-dd", "ymd"), ("odd", "ymd")]
)
def test_the_order_of_the_system_is_read_off_its_format(pattern, order):
    assert order == order_of(pattern)
