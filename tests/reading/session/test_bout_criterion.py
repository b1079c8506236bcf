"""The bout criterion: calculated vectors of TRADE 5.4 (formula from memory), and gaps drawn with a known truth."""

import numpy as np
import pytest

from clipmark.motion.rhythm.bouts import GapModel, bout_criterion
from clipmark.reading.session.bouts import (
    find_criterion,
    into_bouts,
    misplaced,
)
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made


def test_the_criterion_of_the_two_examples():
    """TV7, calculated."""
    assert 6.2774 == pytest.approx(bout_criterion(GapModel(100, 1, 20, 0.01)), abs=5e-5)
    assert 2.5366 == pytest.approx(bout_criterion(GapModel(300, 2.5, 30, 0.05)), abs=5e-5)


def test_the_gaps_it_misplaces():
    """Calculated: 0.1878 gaps too long, 1.2169 too short."""
    model = GapModel(100, 1, 20, 0.01)

    assert (0.1878, 1.2169) == pytest.approx(misplaced(model, bout_criterion(model)), abs=5e-5)


@pytest.mark.parametrize("model", [GapModel(100, 0.01, 20, 1), GapModel(1, 1, 200, 0.01), GapModel(10, 1, 10, 1)])
def test_no_criterion_where_the_kinds_cannot_be_told_apart(model):
    assert bout_criterion(model) is None


def test_two_kinds_of_gaps_are_found_where_they_are():
    random = np.random.default_rng(5)
    gaps = np.concatenate([random.exponential(0.4, 300), random.exponential(20, 30)])

    found = find_criterion(gaps)

    assert 2.5366 == pytest.approx(found.seconds, rel=0.25)
    assert found.too_long + found.too_short < 10


def test_one_kind_of_gaps_has_no_criterion():
    gaps = np.random.default_rng(6).exponential(3, 200)

    found = find_criterion(gaps)

    assert found.seconds is None
    assert found.why.startswith("no criterion: ")


@pytest.mark.parametrize("gaps", [[], [1.0, 2.0], [1.0] * 20])
def test_few_or_equal_gaps_have_no_criterion(gaps):
    assert find_criterion(gaps).seconds is None


def test_a_gap_equal_to_the_criterion_belongs_to_the_bout():
    made = Made()
    for start, end in ((10, 11), (13, 14), (20, 21)):
        made.mark("drumming", start, end)
    drumming = read(made.record()).acts[0].occurrences

    assert [2, 1] == [len(bout) for bout in into_bouts(drumming, 2.0)]
