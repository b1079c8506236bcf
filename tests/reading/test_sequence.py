"""What followed what: the calculated vectors of TRADE 5.3, and shuffles with a known answer."""

import numpy as np
import pytest

from clipmark.reading.sequence import acts_in_order, against_independence, shuffle_within_sessions, transitions
from clipmark.reading.session.measures import read
from tests.reading.made_records import Made

OFF_DIAGONAL = ~np.eye(3, dtype=bool)


def test_a_full_table_s_residuals():
    """Calculated in TRADE 5.3 (residual as of Haberman, from memory): z = +-3.9279."""
    table = against_independence("ab", np.array([[20, 10], [5, 25]]), np.ones((2, 2), bool))

    assert 3.9279 == pytest.approx(table.residual[0, 0], abs=5e-5)
    assert -3.9279 == pytest.approx(table.residual[0, 1], abs=5e-5)


def test_acts_that_cannot_follow_themselves():
    """TV8, calculated: expected 21 and 19, X2 24.7669, G 25.7253, df 1, p 6.47e-7."""
    counts = np.array([[0, 30, 10], [12, 0, 28], [28, 10, 0]])

    table = against_independence("abc", counts, OFF_DIAGONAL)

    assert np.array([[0, 21, 19], [21, 0, 19], [19, 19, 0]]) == pytest.approx(table.expected, abs=1e-6)
    assert 24.7669 == pytest.approx(table.chi2, abs=5e-5)
    assert 25.7253 == pytest.approx(table.g, abs=5e-5)
    assert 1 == table.df
    assert 6.47e-7 == pytest.approx(table.p, rel=1e-3)


def test_the_fit_round_empty_cells_agrees_with_a_poisson_regression():
    models = pytest.importorskip("statsmodels.genmod.generalized_linear_model")
    families = pytest.importorskip("statsmodels.genmod.families")
    random = np.random.default_rng(3)
    counts = random.poisson(8, (4, 4)) * ~np.eye(4, dtype=bool)
    row, column = np.nonzero(~np.eye(4, dtype=bool))
    design = np.column_stack([row == i for i in range(4)] + [column == j for j in range(1, 4)]).astype(float)
    theirs = models.GLM(counts[row, column], design, family=families.Poisson()).fit()

    ours = against_independence("abcd", counts, ~np.eye(4, dtype=bool))

    assert theirs.fittedvalues == pytest.approx(ours.expected[row, column], rel=1e-6)
    adjusted = theirs.resid_pearson / np.sqrt(1 - theirs.get_influence().hat_matrix_diag)
    assert adjusted == pytest.approx(ours.residual[row, column], rel=1e-5)
    assert theirs.df_resid == ours.df


def test_the_sequence_of_the_example():
    """Calculated in TRADE 5.3: V vibration, D drum, T tap, C clasp, I insertion, R release."""
    table = transitions(["DVDVTDVTCICIR"])
    at = {code: i for i, code in enumerate(table.codes)}

    def share(pair):
        return table.share[at[pair[0]], at[pair[1]]]

    assert 12 == table.n
    assert [1, 1 / 3, 2 / 3, 1 / 2, 1 / 2, 1, 1 / 2, 1 / 2] == pytest.approx(
        [share(p) for p in ("DV", "VD", "VT", "TC", "TD", "CI", "IC", "IR")]
    )


def test_a_row_without_a_successor_has_no_shares():
    table = transitions(["AB"])

    assert np.isnan(table.share[table.codes.index("B")]).all()


def test_two_sessions_are_never_glued_together():
    table = transitions(["AB", "CA"])

    assert 2 == table.n


def test_repeats_count_as_one_stay_unless_asked():
    assert 1 == transitions(["AAAB"]).n
    assert 3 == transitions(["AAAB"], repeats=True).n


def test_the_keeper_s_own_acts_are_no_behaviour():
    made = Made()
    made.mark("introduced", 1)
    made.mark("drumming", 5, 6)
    made.mark("out of view", 6, 7)
    made.mark("answering", 8, 9)

    assert ["drumming", "answering"] == acts_in_order(read(made.record()).occurrences)


def test_a_fixed_order_is_told_from_shuffles():
    test = shuffle_within_sessions(["ABCABCABCABC"] * 3, draws=199)

    assert 0.005 == pytest.approx(test.p)
    assert test.z[0, 1] > 3
    assert test.p_cell[0, 1] <= 0.05


def test_an_order_at_random_is_not():
    random = np.random.default_rng(11)
    p = [
        shuffle_within_sessions([list(random.permutation(list("AABBCCDD"))) for _ in range(4)], draws=99, seed=s).p
        for s in range(40)
    ]

    assert 0.3 < np.mean(p) < 0.7
    assert np.mean(np.array(p) <= 0.05) < 0.2


def test_sessions_that_each_hold_one_act_only_give_no_order():
    """Pooled blindly, "A then B" would seem to hold; within each session there is nothing to follow."""
    assert shuffle_within_sessions(["AAAA", "BBBB"]) is None


def test_the_same_seed_gives_the_same_answer():
    assert shuffle_within_sessions(["ABACAB"], seed=4).p == shuffle_within_sessions(["ABACAB"], seed=4).p


def test_no_acts_give_an_empty_table():
    table = transitions([[]])

    assert (0, None) == (table.n, table.chi2)


def test_shuffles_of_many_sessions_average_to_the_closed_form():
    """Of n acts in random order, n_a n_b / n steps lead from a to b (every place is as likely as any other)."""
    sequences = ["AABBC", "ABABA", "CCBAABCB", "AB"] * 30
    test = shuffle_within_sessions(sequences, draws=999)
    counts = [[session.count(code) for code in test.codes] for session in sequences]
    exact = sum(np.outer(n, n) / sum(n) for n in counts)
    np.fill_diagonal(exact, 0)

    assert np.abs(test.mean - exact).max() < 4 * test.sd.max() / np.sqrt(999)
    assert (test.counts == transitions(sequences).counts).all()
