"""Intervals for time that hangs together, against closed forms."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from clipmark.book.model import Actor
from clipmark.reading.numbers.block_bootstrap import block_length, bootstrapped, limits
from clipmark.reading.numbers.kappa import kappa
from clipmark.reading.sequence import scale_to_margins
from clipmark.reading.session.agreement import _event_value, compare
from tests.reading.made_records import Made


def chain(n, stay, seed):
    """A two-state Markov chain, half of the time in each state; its autocorrelation at lag k is (2 stay - 1)^k."""
    random = np.random.default_rng(seed)
    turns = random.random(n) > stay
    return (np.cumsum(turns) % 2).astype(np.int64)


def spread(series, length):
    return bootstrapped(series, 2, lambda counts: counts[1] / counts.sum(), length).std()


@pytest.mark.parametrize("stay", [0.5, 0.8, 0.95])
def test_the_spread_of_a_markov_chains_mean_is_that_of_the_closed_form(stay):
    """Var(mean) = p q / n (1 + r) / (1 - r), r = 2 stay - 1; units taken as independent would give p q / n."""
    n, r = 4000, 2 * stay - 1
    wanted = np.sqrt(0.25 / n * (1 + r) / (1 - r))
    found = [spread(x, block_length(x)) for x in (chain(n, stay, seed) for seed in range(12))]

    assert wanted == pytest.approx(np.mean(found), rel=0.15)


def test_independent_units_get_the_error_of_cohens_kappa():
    """Fleiss, Cohen and Everitt hold for independent units; statsmodels gives the same error."""
    inter_rater = pytest.importorskip("statsmodels.stats.inter_rater")
    random = np.random.default_rng(3)
    left = random.integers(0, 2, 3000)
    right = np.where(random.random(3000) < 0.8, left, random.integers(0, 2, 3000))
    table = np.bincount(left * 2 + right, minlength=4).reshape(2, 2)
    values = bootstrapped(left * 2 + right, 4, lambda c: kappa(c.reshape(2, 2)).value, block_length(left == right))

    assert inter_rater.cohens_kappa(table).std_kappa == pytest.approx(values.std(), rel=0.15)


def test_too_few_blocks_give_no_interval():
    assert limits(bootstrapped(chain(40, 0.9, 1), 2, lambda c: 1.0, 10)) is None


def two_hands(shift=0.0):
    """Ten minutes of long acts, marked by two people whose ends differ by some seconds; 200 s are out of view."""
    made, random = Made(length=600), np.random.default_rng(5)
    made.mark("introduced", 0)
    made.mark("out of view", 300, 500)
    for k in range(14):
        start = 5 + 40 * k
        made.mark("drumming", start, start + 20)
        made.mark("drumming", start + random.uniform(-4, 4) + shift, start + 20 + random.uniform(-4, 4), by="Ben")
    return made.record()


def test_units_that_hang_together_have_a_wider_interval_than_independent_ones():
    timed = compare(two_hands(), "Ada", "Ben").timed
    n, p = timed.units, timed.kappa.observed

    assert timed.block_units > 5
    assert timed.kappa.se > 2 * np.sqrt(p * (1 - p) / n) / (1 - timed.kappa.expected)
    assert timed.kappa.low < timed.kappa.value < timed.kappa.high


def test_time_out_of_view_is_not_compared():
    assert 400 * 5 == compare(two_hands(), "Ada", "Ben").timed.units


def test_units_agree_with_scikit_learn():
    metrics = pytest.importorskip("sklearn.metrics")
    timed = compare(two_hands(), "Ada", "Ben").timed
    middle = np.array([0.1 + 0.2 * k for k in range(3000) if not 300 <= 0.1 + 0.2 * k < 500])
    labels = []
    for who in ("Ada", "Ben"):
        on = np.zeros(len(middle), bool)
        for m in two_hands().marks:
            if m.reviewer == who and m.act == "drumming":
                on |= (middle >= m.start_pts / 1000) & (middle < m.end_pts / 1000)
        labels.append(on)

    assert metrics.cohen_kappa_score(*labels) == pytest.approx(timed.kappa.value, abs=0.002)


def test_events_have_an_interval_from_ten_on_and_no_grade_is_given_below_ten_things():
    made = two_hands()
    contact = [replace(m, id=100 + m.id, act="contact", actor=Actor.BOTH, lasting=False, end_pts=None)
               for m in made.marks if m.act == "drumming" and m.id % 3]  # fmt: skip
    events = compare(replace(made, marks=(*made.marks, *contact)), "Ada", "Ben", tolerance=Fraction(2)).events

    assert events.n > 10
    assert events.low < events.value < events.high
    assert "" == kappa([[3, 1], [1, 3]]).words
    assert "moderate" == kappa([[6, 2], [2, 6]]).words


def test_the_closed_form_of_the_kappa_of_events_is_that_of_the_fitted_margins():
    random = np.random.default_rng(8)
    for _ in range(5):
        table = random.integers(1, 9, (4, 4)).astype(float)
        table[-1, -1] = 0
        possible = np.ones((4, 4), bool)
        possible[-1, -1] = False
        n, chance = table.sum(), np.trace(scale_to_margins(table, possible)) / table.sum()
        assert (np.trace(table) / n - chance) / (1 - chance) == pytest.approx(_event_value(table), abs=1e-6)
