"""Published and calculated vectors of TRADE 5.5, 5.7, 6.1, 6.2; each check says of which kind its value is."""

import numpy as np
import pytest

from clipmark.reading.numbers.detection import Found, corrected, sensitivity
from clipmark.reading.numbers.kappa import band, kappa
from clipmark.reading.numbers.proportions import fisher, newcombe, wilson

K1 = [[88, 10, 2], [14, 40, 6], [18, 10, 12]]
K2_WEIGHTS = [[0, 1, 3], [1, 0, 6], [3, 6, 0]]


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),  # published, Newcombe 1998 Table I [NEt]
        (15, 148, 0.0624, 0.1605),  # published [NEt]
        (0, 20, 0.0, 0.1611),  # published [NEt]
        (1, 29, 0.0061, 0.1718),  # published [NEt]
        (29, 29, 0.8830, 1.0),  # listed with the same table [NEt]
        (0, 5, 0.0, 0.4345),  # calculated, and so the rest
        (1, 5, 0.0362, 0.6245),
        (3, 5, 0.2307, 0.8824),
        (5, 5, 0.5655, 1.0),
        (3, 3, 0.4385, 1.0),
        (11, 14, 0.5241, 0.9243),
        (3, 25, 0.0417, 0.2996),
    ],
)
def test_wilson_s_interval_is_that_of_the_table(k, n, low, high):
    share = wilson(k, n)

    assert (low, high) == (pytest.approx(share.low, abs=5e-5), pytest.approx(share.high, abs=5e-5))


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [(81, 263, 0.2535, 0.3682), (15, 148, 0.0598, 0.1644), (0, 20, 0.0, 0.2005), (1, 29, 0.0018, 0.1963)],
)
def test_wilson_s_interval_with_continuity_correction(k, n, low, high):
    """Calculated in TRADE 6.1."""
    share = wilson(k, n, corrected=True)

    assert (low, high) == (pytest.approx(share.low, abs=5e-5), pytest.approx(share.high, abs=5e-5))


def test_wilson_s_interval_agrees_with_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    for k, n in ((0, 1), (3, 7), (19, 20), (250, 500)):
        share = wilson(k, n)
        assert (share.low, share.high) == pytest.approx(proportion.proportion_confint(k, n, method="wilson"))


def test_no_cases_give_no_interval():
    assert wilson(0, 0).share is None
    assert "0 of 0" == wilson(0, 0).text


def test_below_five_cases_only_counts_are_shown():
    assert "3 of 4" == wilson(3, 4).text
    assert "11 of 14 (79 %, 52 to 92 %)" == wilson(11, 14).text


def test_more_than_all_is_no_share():
    with pytest.raises(ValueError, match="6 of 5"):
        wilson(6, 5)


@pytest.mark.parametrize(
    ("a", "b", "low", "high"), [((56, 70), (48, 80), 0.0524, 0.3339), ((9, 10), (3, 10), 0.1705, 0.8090)]
)
def test_the_difference_of_two_shares_has_newcombe_s_interval(a, b, low, high):
    """Calculated in TRADE 6.1; from memory also in Newcombe 1998, Stat. Med. 17:873-890."""
    difference = newcombe(wilson(*a), wilson(*b))

    assert (low, high) == (pytest.approx(difference.low, abs=5e-5), pytest.approx(difference.high, abs=5e-5))


def test_newcombe_s_interval_agrees_with_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    ours = newcombe(wilson(7, 12), wilson(2, 9))
    theirs = proportion.confint_proportions_2indep(7, 12, 2, 9, method="newcomb")

    assert (ours.low, ours.high) == pytest.approx(theirs)


@pytest.mark.parametrize(
    ("table", "greater", "two_sided"),
    [
        ([[3, 1], [1, 3]], 17 / 70, 34 / 70),  # tea tasting: one-sided published [RF], two-sided calculated
        ([[4, 0], [0, 4]], 1 / 70, 2 / 70),  # 70 arrangements [LT]
        ([[8, 2], [1, 5]], 0.0244755, 0.0349650),  # calculated
    ],
)
def test_fisher_s_tea_and_its_kin(table, greater, two_sided):
    exact = fisher(table)

    assert (greater, two_sided) == (pytest.approx(exact.p_greater, rel=1e-5), pytest.approx(exact.p, rel=1e-5))


@pytest.mark.parametrize("table", [[[2, 15], [10, 3]], [[2, 10], [15, 3]]])
def test_fisher_s_twins_and_their_transpose(table):
    """Table published [RF]; p calculated in TRADE 6.2."""
    exact = fisher(table)

    assert 0.0004652 == pytest.approx(exact.p_less, abs=5e-8)
    assert 0.0005367 == pytest.approx(exact.p, abs=5e-8)


def test_the_odds_ratios_of_the_tea():
    """Calculated in TRADE 6.2."""
    exact = fisher([[3, 1], [1, 3]])

    assert exact.odds_ratio == 9
    assert 6.4083 == pytest.approx(exact.odds_ratio_ml, abs=1e-4)


def test_fisher_s_test_agrees_with_scipy():
    stats = pytest.importorskip("scipy.stats")
    contingency = pytest.importorskip("scipy.stats.contingency")
    for table in ([[3, 1], [1, 3]], [[8, 2], [1, 5]], [[0, 6], [4, 9]], [[40, 31], [22, 60]], [[5, 0], [0, 5]]):
        ours = fisher(table)
        assert ours.p == pytest.approx(stats.fisher_exact(table).pvalue)
        assert ours.p_less == pytest.approx(stats.fisher_exact(table, alternative="less").pvalue)
        assert ours.p_greater == pytest.approx(stats.fisher_exact(table, alternative="greater").pvalue)
        likely = contingency.odds_ratio(np.array(table)).statistic
        assert ours.odds_ratio_ml == pytest.approx(likely, rel=1e-4)


def test_wilson_s_corrected_interval_agrees_with_scipy():
    stats = pytest.importorskip("scipy.stats")
    for k, n in ((0, 3), (3, 3), (1, 9), (40, 41), (77, 300)):
        share = wilson(k, n, corrected=True)
        theirs = stats.binomtest(k, n).proportion_ci(method="wilsoncc")
        assert (share.low, share.high) == pytest.approx((theirs.low, theirs.high))


def test_an_empty_row_has_no_odds_ratio():
    assert fisher([[0, 0], [3, 2]]).odds_ratio is None


def test_cohen_s_kappa_of_1960_style():
    """K1: kappa published [C68]; the errors calculated in TRADE 5.5."""
    k = kappa(K1)

    assert 0.491525 == pytest.approx(k.value, abs=5e-7)
    assert (0.70, 0.41) == (pytest.approx(k.observed), pytest.approx(k.expected))
    assert 0.05492 == pytest.approx(k.se_classic, abs=5e-6)
    assert 0.05895 == pytest.approx(k.se_classic_null, abs=5e-6)
    assert 0.05100 == pytest.approx(k.se, abs=5e-6)
    assert 0.05198 == pytest.approx(k.se_null, abs=5e-6)
    assert 0.83051 == pytest.approx(k.maximum, abs=5e-6)


def test_cohen_s_weighted_kappa_of_1968():
    """K2: kappa, .0901, .0916 and z 3.80 published [C68]; .0755 calculated."""
    k = kappa(K1, K2_WEIGHTS)

    assert 0.348 == pytest.approx(k.value, abs=5e-4)
    assert 0.0901 == pytest.approx(k.se_classic, abs=5e-5)
    assert 0.0916 == pytest.approx(k.se_classic_null, abs=5e-5)
    assert 3.80 == pytest.approx(k.value / k.se_classic_null, abs=5e-3)
    assert 0.0755 == pytest.approx(k.se, abs=5e-5)


@pytest.mark.parametrize(
    ("table", "value", "se"),
    [
        ([[75, 1, 4], [5, 4, 1], [0, 0, 10]], 0.676471, 0.08770),  # K3, calculated
        ([[20, 5], [10, 15]], 0.400000, 0.12700),  # K4, teaching table, from memory
        ([[45, 15], [25, 15]], 0.130435, 0.09866),  # K5
        ([[25, 35], [5, 35]], 0.259259, 0.07716),  # K6: same agreement as K5, another kappa
    ],
)
def test_kappa_of_the_teaching_tables(table, value, se):
    k = kappa(table)

    assert (value, se) == (pytest.approx(k.value, abs=5e-7), pytest.approx(k.se, abs=5e-6))


def test_percent_agreement_misleads_on_rare_acts():
    """K7, calculated: agreement .9967, chance .9900, kappa .665."""
    k = kappa([[3, 1], [2, 894]])

    assert 0.9967 == pytest.approx(k.observed, abs=5e-5)
    assert 0.9900 == pytest.approx(k.expected, abs=5e-5)
    assert 0.665012 == pytest.approx(k.value, abs=5e-7)


def test_kappa_agrees_with_statsmodels():
    inter_rater = pytest.importorskip("statsmodels.stats.inter_rater")
    for weights in (None, K2_WEIGHTS):
        theirs = inter_rater.cohens_kappa(K1, weights=None if weights is None else np.array(weights))
        ours = kappa(K1, weights)
        assert ours.value == pytest.approx(theirs.kappa)
        assert ours.se == pytest.approx(theirs.std_kappa)
        assert ours.se_null == pytest.approx(theirs.std_kappa0)


def test_kappa_agrees_with_scikit_learn():
    metrics = pytest.importorskip("sklearn.metrics")
    a = [0] * 20 + [1] * 15 + [2] * 9
    b = [0, 1] * 10 + [1] * 10 + [2] * 5 + [2, 0, 1] * 3
    table = metrics.confusion_matrix(a, b)

    assert kappa(table).value == pytest.approx(metrics.cohen_kappa_score(a, b))
    square = [[(i - j) ** 2 for j in range(3)] for i in range(3)]
    assert kappa(table, square).value == pytest.approx(metrics.cohen_kappa_score(a, b, weights="quadratic"))


def test_kappa_is_undefined_where_both_used_one_word_only():
    assert kappa([[7, 0], [0, 0]]).value is None
    assert "" == kappa([[7, 0], [0, 0]]).words


@pytest.mark.parametrize("table", [[[1, 2]], [[0, 0], [0, 0]], []])
def test_kappa_of_no_table_is_refused(table):
    with pytest.raises(ValueError, match="square table"):
        kappa(table)


def test_the_bands_go_by_the_unrounded_value():
    """[LK]; the edge rule is a proposal: .205 lies above .20."""
    assert ["poor", "slight", "fair", "fair", "moderate", "substantial", "almost perfect"] == [
        band(v) for v in (-0.01, 0.20, 0.205, 0.40, 0.41, 0.80, 0.81)
    ]


def test_the_detection_counts_of_the_handout():
    """D1: hit rate .80, false alarms .10 published [SD]; the rest calculated in TRADE 5.7."""
    found = Found(hits=40, false=5, missed=10, rightly_left=45)

    assert found.recall == 0.8
    assert 0.8889 == pytest.approx(found.precision, abs=5e-5)
    assert 0.8421 == pytest.approx(found.f1, abs=5e-5)
    assert found.accuracy == 0.85
    assert 0.70353 == pytest.approx(found.correlation, abs=5e-6)


@pytest.mark.parametrize(
    ("hit", "alarm", "d", "beta", "c"),
    [(0.70, 0.10, 1.806, 1.981, 0.3786), (0.50, 0.40, 0.253, 1.033, 0.1267), (0.85, 0.05, 2.681, 2.261, 0.3042)],
)
def test_d_prime_and_beta_are_those_of_the_handout(hit, alarm, d, beta, c):
    """D2 to D4: d' and beta published [SD]; c calculated. The handout rounds z to three places first."""
    s = sensitivity(hit, alarm)

    assert (d, beta, c) == (
        pytest.approx(s.d_prime, abs=1e-3),
        pytest.approx(s.beta, abs=1e-3),
        pytest.approx(s.criterion, abs=1e-4),
    )


def test_d_prime_from_counts_with_and_without_correction():
    """D5, calculated."""
    assert 2.1232 == pytest.approx(sensitivity(0.8, 0.1).d_prime, abs=5e-5)
    assert 2.0589 == pytest.approx(corrected(Found(40, 5, 10, 45)).d_prime, abs=5e-5)


def test_nothing_found_and_nothing_there_have_no_measure():
    assert Found(0, 0, 3).precision is None
    assert Found(0, 2, 0).recall is None
    assert sensitivity(1.0, 0.1) is None
