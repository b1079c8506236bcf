"""Stretches of time: laws that hold for any, and the sampling example of TRADE 5.1."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clipmark.reading import spans
from clipmark.reading.numbers.sampling import instantaneous, one_zero
from clipmark.timebase import Span

instants = st.fractions(min_value=0, max_value=20, max_denominator=12)
few = settings(max_examples=40, deadline=None)
stretches = st.lists(st.tuples(instants, instants).map(lambda p: Span(min(p), max(p))), max_size=6)


@few
@given(stretches, stretches)
def test_what_both_cover_and_what_either_covers_add_up(a, b):
    assert spans.total(a) + spans.total(b) == spans.total([*a, *b]) + spans.total(spans.overlap(a, b))


@few
@given(stretches, stretches)
def test_a_stretch_is_what_is_left_of_it_and_what_was_cut_from_it(a, b):
    assert spans.total(a) == spans.total(spans.without(a, b)) + spans.total(spans.overlap(a, b))


@few
@given(stretches, instants)
def test_an_instant_lies_in_the_union_if_it_lies_in_one_of_them(a, at):
    assert any(at in span for span in a) == any(at in span for span in spans.union(a))


def test_stretches_that_touch_are_one():
    assert (Span(Fraction(0), Fraction(2)),) == spans.union(
        [Span(Fraction(1), Fraction(2)), Span(Fraction(0), Fraction(1))]
    )


EXAMPLE = [Span(Fraction(a), Fraction(b)) for a, b in ((3, 8), (21, 23), (40, 55))]
MINUTE = Span(Fraction(0), Fraction(60))


def test_looking_every_ten_seconds_and_asking_whether_at_all():
    """TV9, calculated: true share .3667, instantaneous .3333, one-zero .6667."""
    assert Fraction(22, 60) == spans.total(EXAMPLE) / MINUTE.duration
    assert Fraction(2, 6) == instantaneous(EXAMPLE, MINUTE, Fraction(10))
    assert Fraction(4, 6) == one_zero(EXAMPLE, MINUTE, Fraction(10))


@few
@given(stretches, st.sampled_from([Fraction(n, 2) for n in (1, 2, 4, 8, 10, 20)]))  # bins that fill the time
def test_asking_whether_at_all_never_understates(a, every):
    whole = Span(Fraction(0), Fraction(20))

    assert one_zero(a, whole, every) >= spans.total(a) / 20


def test_no_time_has_no_share():
    nothing = Span(Fraction(0), Fraction(0))

    assert instantaneous([], nothing, Fraction(1)) is None
    with pytest.raises(ValueError, match="positive"):
        one_zero([], MINUTE, Fraction(0))
