import numpy as np
import pytest

from clipmark.motion.rhythm.bouts import GapModel, bout_criterion, fit_gaps, split


@pytest.mark.parametrize(
    ("model", "criterion"),
    [(GapModel(100, 1.0, 20, 0.01), 6.2774), (GapModel(300, 2.5, 30, 0.05), 2.5366)],
)
def test_the_bout_criterion_lies_where_the_two_kinds_of_gaps_are_equally_likely(model, criterion):
    """Calculated vectors for the formula of Slater & Lester 1982 (formula from memory)."""
    assert criterion == pytest.approx(bout_criterion(model), abs=5e-5)


@pytest.mark.parametrize("model", [GapModel(100, 1.0, 20, 1.0), GapModel(1, 1.0, 200, 0.9)])
def test_gaps_of_one_kind_give_no_criterion(model):
    assert bout_criterion(model) is None


def test_a_mixture_of_gaps_is_taken_apart_again():
    rng = np.random.default_rng(4)
    gaps = np.concatenate([rng.exponential(0.2, 3000), rng.exponential(8.0, 600)])

    model = fit_gaps(gaps)

    assert model is not None
    assert 5.0 == pytest.approx(model.rate_fast, rel=0.08)
    assert 0.125 == pytest.approx(model.rate_slow, rel=0.08)


def test_few_or_equal_gaps_are_not_fitted():
    assert fit_gaps(np.array([0.1, 0.2, 3.0])) is None
    assert fit_gaps(np.full(40, 0.2)) is None


def test_a_long_gap_ends_a_bout_and_single_strikes_are_none():
    runs = split(np.array([0.0, 0.2, 0.4, 5.0, 9.0, 9.2, 9.4, 9.6]), 1.0)

    assert [[0.0, 0.2, 0.4], [9.0, 9.2, 9.4, 9.6]] == [run.tolist() for run in runs]
