"""Going from one mark to the next."""

from __future__ import annotations

from fractions import Fraction

import pytest

from clipmark.review.jumps import next_place

PLACES = [(Fraction(5), 2), (Fraction(1), 1), (Fraction(5), 3), (Fraction(9), 4)]


@pytest.mark.parametrize(
    ("here", "way", "selected", "expected"),
    [
        pytest.param(0, 1, None, 1, id="from before all"),
        pytest.param(1, 1, 1, 2, id="to the next"),
        pytest.param(5, 1, 2, 3, id="to the second at one place"),
        pytest.param(5, 1, 3, 4, id="on from the second"),
        pytest.param(9, 1, 4, None, id="none after the last"),
        pytest.param(9, -1, 4, 3, id="back"),
        pytest.param(5, -1, 3, 2, id="back at one place"),
        pytest.param(3, -1, None, 1, id="back from between"),
    ],
)
def test_things_are_gone_through_in_the_order_of_time(here, way, selected, expected):
    assert expected == next_place(PLACES, Fraction(here), way, selected)
