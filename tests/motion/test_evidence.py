"""Did her body go along? What is dragged near the outline, and what moves farther out."""

import numpy as np
import pytest

from clipmark.motion.evidence import _as_a_body

NEAR, FAR = (slice(0, 10), slice(0, 20)), (slice(10, 20), slice(0, 20))


def told(went_near, went_far, apart):
    far, went = np.zeros((20, 20)), np.zeros((20, 20))
    far[FAR] = 1.0
    went[NEAR], went[FAR] = went_near, went_far
    return _as_a_body(far, went, np.full((20, 20), apart), gained=400.0, area=100.0)


def test_skin_that_is_dragged_near_the_outline_alone_is_not_a_body_that_walks():
    assert 0.3 == pytest.approx(told(went_near=5.0, went_far=0.0, apart=9.0))


def test_a_body_that_goes_along_farther_out_too_counts_in_full():
    assert 1.0 == pytest.approx(told(went_near=5.0, went_far=5.0, apart=9.0))


def test_where_nothing_farther_out_could_show_it_the_near_is_believed():
    assert 1.0 == pytest.approx(told(went_near=5.0, went_far=0.0, apart=0.5))
