"""Kaplan-Meier and its kin on published data (Freireich et al. 1963 [FR63]) and against lifelines and scipy."""

import numpy as np
import pytest

from clipmark.reading.numbers.survival import cumulative_incidence, kaplan_meier, last_with, logrank

SIX_MP = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"
BREEDER = "32 41 45+ 58 70+ 96 120+"


def waited(text):
    """Durations and whether the event came; a plus stands for "not yet"."""
    words = text.split()
    return [float(w.rstrip("+")) for w in words], [not w.endswith("+") for w in words]


def test_freireich_s_curve_is_that_of_the_table():
    """S, at-risk and limits published [FRt]; SE at 6, 7 and 10 published, the rest calculated."""
    curve = kaplan_meier(*waited(SIX_MP))

    assert [6, 7, 10, 13, 16, 22, 23] == curve.times.tolist()
    assert [21, 17, 15, 12, 11, 7, 6] == curve.at_risk.tolist()
    assert [3, 1, 1, 1, 1, 1, 1] == curve.events.tolist()
    assert [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482] == pytest.approx(
        curve.survival.tolist(), abs=5e-5
    )
    assert [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346] == pytest.approx(curve.se.tolist(), abs=5e-5)
    assert [0.620, 0.563, 0.503, 0.432, 0.368, 0.268, 0.188] == pytest.approx(curve.low.tolist(), abs=5e-4)
    assert [0.952, 0.923, 0.889, 0.849, 0.805, 0.747, 0.680] == pytest.approx(curve.high.tolist(), abs=6e-4)


def test_freireich_s_medians():
    """Published [FRt]: 23 and 8 weeks."""
    assert kaplan_meier(*waited(SIX_MP)).median == 23
    assert kaplan_meier(*waited(PLACEBO)).median == 8


def test_freireich_s_placebo_curve():
    """Calculated in TRADE 6.3."""
    curve = kaplan_meier(*waited(PLACEBO))

    assert [1, 2, 3, 4, 5, 8, 11, 12, 15, 17, 22, 23] == curve.times.tolist()
    assert [
        0.9048,
        0.8095,
        0.7619,
        0.6667,
        0.5714,
        0.3810,
        0.2857,
        0.1905,
        0.1429,
        0.0952,
        0.0476,
        0,
    ] == pytest.approx(curve.survival.tolist(), abs=5e-5)


def test_freireich_s_log_rank():
    """chi2 16.79 and expected 19.25 published [FRt]; the rest calculated. The crude sum of (O-E)2/E gives 15.23."""
    test = logrank([waited(SIX_MP), waited(PLACEBO)])

    assert 16.7929 == pytest.approx(test.chi2, abs=5e-5)
    assert 4.17e-5 == pytest.approx(test.p, rel=1e-3)
    assert (1, (9, 21)) == (test.df, test.observed)
    assert (19.25, 10.75) == pytest.approx(test.expected, abs=5e-3)


def test_the_small_check():
    """Published [FRt] and calculated: S .75 (SE .2165064, limits .127947 to .960549), .375, 0."""
    curve = kaplan_meier([1, 2, 3, 4], [True, False, True, True])

    assert [0.75, 0.375, 0] == curve.survival.tolist()
    assert 0.2165064 == pytest.approx(curve.se[0], abs=5e-8)
    assert (0.127947, 0.960549) == (pytest.approx(curve.low[0], abs=5e-7), pytest.approx(curve.high[0], abs=5e-7))
    assert np.isnan(curve.se[2])


def test_a_breeder_s_seven_pairings():
    """Calculated in TRADE 6.3."""
    curve = kaplan_meier(*waited(BREEDER))

    assert [7, 6, 4, 2] == curve.at_risk.tolist()
    assert [0.8571, 0.7143, 0.5357, 0.2679] == pytest.approx(curve.survival.tolist(), abs=5e-5)
    assert curve.median == 96


def test_when_all_still_wait_there_is_no_median():
    curve = kaplan_meier([10, 20], [False, False])

    assert curve.median is None
    assert curve.at(1000) == 1.0


def test_kaplan_meier_agrees_with_lifelines_on_random_waits():
    lifelines = pytest.importorskip("lifelines")
    random = np.random.default_rng(7)
    for _ in range(5):
        time, came = random.integers(1, 30, 40), random.random(40) < 0.6
        curve = kaplan_meier(time, came)
        theirs = lifelines.KaplanMeierFitter().fit(time, came)
        limits = theirs.confidence_interval_.loc[curve.times].to_numpy()
        assert curve.survival == pytest.approx(theirs.survival_function_.loc[curve.times].to_numpy()[:, 0])
        inside = curve.survival > 0
        assert curve.low[inside] == pytest.approx(limits[inside, 0])
        assert curve.high[inside] == pytest.approx(limits[inside, 1])


def test_the_log_rank_agrees_with_lifelines_and_scipy():
    statistics = pytest.importorskip("lifelines.statistics")
    stats = pytest.importorskip("scipy.stats")
    random = np.random.default_rng(8)
    groups = [(random.exponential(scale, 25).round(1) + 0.1, random.random(25) < 0.7) for scale in (5, 8, 6)]
    three = logrank(groups)
    theirs = statistics.multivariate_logrank_test(
        np.concatenate([g[0] for g in groups]), np.repeat([0, 1, 2], 25), np.concatenate([g[1] for g in groups])
    )
    assert three.chi2 == pytest.approx(theirs.test_statistic)
    assert three.p == pytest.approx(theirs.p_value)

    two = logrank(groups[:2])
    sides = [stats.CensoredData.right_censored(time, ~came) for time, came in groups[:2]]
    assert two.p == pytest.approx(stats.logrank(*sides).pvalue)


def test_a_log_rank_without_events_or_a_second_group_is_none():
    assert logrank([([1, 2], [False, False]), ([3], [False])]) is None
    assert logrank([([1, 2], [True, True]), ([], [])]) is None


def test_competing_moults_and_sacs_add_up_with_those_who_wait():
    ends = ["sac", "moult", "", "sac", "moult", "sac", ""]
    incidence = cumulative_incidence([32, 41, 45, 58, 70, 96, 120], ends)

    assert np.ones(5) == pytest.approx(incidence.share["sac"] + incidence.share["moult"] + incidence.waiting)


def test_merely_censoring_moults_overstates_the_chance_of_a_sac():
    """The warning of TRADE 6.3, shown on a case by hand: 4 females, moult at 10, sacs at 20 and 30, one waits."""
    sac = cumulative_incidence([10, 20, 30, 40], ["moult", "sac", "sac", ""]).share["sac"][-1]
    naive = 1 - kaplan_meier([10, 20, 30, 40], [False, True, True, False]).survival[-1]

    assert 0.5 == pytest.approx(sac)
    assert 2 / 3 == pytest.approx(naive)


def test_cumulative_incidence_agrees_with_lifelines():
    lifelines = pytest.importorskip("lifelines")
    random = np.random.default_rng(9)
    time = random.permutation(np.arange(1, 61))  # no ties: lifelines breaks them at random
    ends = random.choice(["", "sac", "moult"], 60)
    ours = cumulative_incidence(time, ends)
    codes = np.array([{"": 0, "sac": 1, "moult": 2}[e] for e in ends])
    theirs = lifelines.AalenJohansenFitter(calculate_variance=False).fit(time, codes, event_of_interest=1)

    assert ours.share["sac"][-1] == pytest.approx(theirs.cumulative_density_.to_numpy()[-1, 0])


def test_the_limits_of_an_incidence_agree_with_lifelines():
    """lifelines.AalenJohansenFitter: variance and log-log limits at every time."""
    lifelines = pytest.importorskip("lifelines")
    random = np.random.default_rng(10)
    time = random.permutation(np.arange(1, 61))
    ends = random.choice(["", "sac", "moult"], 60)
    ours = cumulative_incidence(time, ends)
    codes = np.array([{"": 0, "sac": 1, "moult": 2}[e] for e in ends])
    for way, code in (("sac", 1), ("moult", 2)):
        theirs = lifelines.AalenJohansenFitter(calculate_variance=True).fit(time, codes, event_of_interest=code)
        variance = theirs.variance_.loc[ours.times].to_numpy()
        limits = theirs.confidence_interval_.loc[ours.times].to_numpy()
        some = (ours.share[way] > 0) & (np.arange(60)[: len(ours.times)] < len(ours.times) - 1)
        assert ours.se[way][some] ** 2 == pytest.approx(variance[some], abs=1e-12)
        assert ours.low[way][some] == pytest.approx(limits[some, 0], abs=1e-9)
        assert ours.high[way][some] == pytest.approx(limits[some, 1], abs=1e-9)


def test_the_limits_of_the_median_agree_with_lifelines():
    lifelines = pytest.importorskip("lifelines")
    from lifelines.utils import median_survival_times

    random = np.random.default_rng(11)
    for _ in range(5):
        time, came = random.integers(1, 40, 50), random.random(50) < 0.7
        theirs = lifelines.KaplanMeierFitter().fit(time, came)
        low, high = median_survival_times(theirs.confidence_interval_).to_numpy()[0]
        assert kaplan_meier(time, came).median_limits == tuple(None if np.isinf(x) else x for x in (low, high))


def test_nothing_is_told_where_fewer_than_five_are_at_risk():
    curve = kaplan_meier(range(1, 11), [True] * 10).until(5)

    assert [1, 2, 3, 4, 5, 6] == curve.times.tolist()
    assert 6 == last_with(list(range(1, 11)), 5)
    assert last_with([1, 2], 5) is None
    assert [1, 2, 3] == cumulative_incidence(range(1, 8), ["sac"] * 7).until(5).times.tolist()


def test_a_negative_wait_is_refused():
    with pytest.raises(ValueError, match="not negative"):
        kaplan_meier([-1], [True])
