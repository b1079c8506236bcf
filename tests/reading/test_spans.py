"""Stretches of time: laws that hold for any, and the sampling example of TRADE 5.1."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from clipmark.reading import spans
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
