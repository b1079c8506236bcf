from fractions import Fraction

import pytest

from clipmark.timebase import Moment, Span, TimeUnreadable, clock, exact, parse_clock


def test_a_moment_is_exact_where_a_rate_would_drift():
    frame_time = Fraction(1001, 30000)

    assert 100_000 * frame_time == Moment(100_000 * 1001, Fraction(1, 30000)).seconds


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00.000"), (Fraction(5, 4), "0:01.250"), (3661, "1:01:01.000"), (Fraction(-1, 2), "−0:00.500")],
)
def test_the_keeper_reads_a_clock_and_the_clock_reads_back(seconds, text):
    assert text == clock(seconds)
    assert seconds == parse_clock(text)


def test_a_time_just_below_a_minute_does_not_show_sixty_seconds():
    assert clock(Fraction(599_996, 10_000)) == "1:00.000"


@pytest.mark.parametrize("text", ["", "soon", "1:75", "1:2:3:4", "1:60:00", "٣"])
def test_what_is_no_time_is_refused_with_an_example_of_one(text):
    with pytest.raises(TimeUnreadable, match=r"1:02:03\.250"):
        parse_clock(text)


def test_a_span_holds_its_start_but_not_its_end():
    span = Span(Fraction(1), Fraction(2))

    assert Fraction(1) in span
    assert Fraction(2) not in span


def test_a_span_cannot_end_before_it_starts():
    with pytest.raises(ValueError, match="before"):
        Span(Fraction(2), Fraction(1))


def test_a_rate_that_the_film_does_not_state_stays_unstated():
    assert exact(None) is None
    assert exact(Fraction(0, 1)) is None
    assert Fraction(25) == exact(Fraction(25, 1))
