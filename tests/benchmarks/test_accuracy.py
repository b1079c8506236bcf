"""The counting of the accuracy run, on results written by hand."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.accuracy import calibration, judge, match, summary


def _truth(pulls, hidden=None, seconds=10, rate=10):
    n = seconds * rate
    return {
        "profile": "by hand",
        "seed": 0,
        "frames": {
            "time_s": [k / rate for k in range(n)],
            "pts": list(range(n)),
            "box": [[0, 0, 9, 9]] * n,
            "hidden": hidden or [0.0] * n,
        },
        "pulls": pulls,
        "distractors": [],
        "cuts": [],
    }


def _pull(onset, release=None, hidden=0.0):
    return {
        "onset_s": onset,
        "full_s": onset + 0.1,
        "release_s": release,
        "released_s": None if release is None else release + 0.1,
        "onset_frame": round(onset * 10),
        "pull": 0.1,
        "moved_px": [8.0, 0.0],
        "tilt_deg": 2.0,
        "hidden": hidden,
        "abdomen_px": 80.0,
    }


def _flag(when, score=0.9, **more):
    return {"time_s": when, "score": score, "pull": 0.11, "tilt_deg": 3.0, "flagged": True, **more}


def _judged(truth, flags):
    n = len(truth["frames"]["pts"])
    return judge(truth, flags, np.ones(n, bool), np.ones(n))


def test_one_pull_takes_one_flag_and_the_second_is_false():
    outcome = _judged(_truth([_pull(2.0, 4.0)]), [_flag(2.0), _flag(2.4)])

    assert (1, 1) == (outcome.true_flags, len(outcome.false))


def test_a_flag_on_the_release_is_false_and_named():
    outcome = _judged(_truth([_pull(2.0, 4.0)]), [_flag(2.0), _flag(4.0)])

    assert ["release"] == [f["near"] for f in outcome.false]


def test_a_flag_counts_from_four_tenths_before_the_onset_to_six_tenths_after_the_full_pull():
    pull = _pull(2.0)

    assert [1, 1, 0, 0] == [len(match([_flag(t)], [pull])) for t in (1.61, 2.69, 1.59, 2.71)]


def test_a_pull_that_nobody_could_see_is_left_out_of_recall():
    figures = summary([_judged(_truth([_pull(2.0), _pull(5.0, hidden=0.8)]), [_flag(2.0)])])

    assert (1, 1.0) == (figures["pulls"], figures["recall"])


def test_a_hidden_stretch_that_is_called_watched_is_dishonest():
    hidden = [1.0 if 30 <= k < 50 else 0.0 for k in range(100)]
    truth = _truth([], hidden)
    watched = np.ones(100, bool)
    lied = judge(truth, [], watched, np.ones(100))
    watched[30:50] = False
    told = judge(truth, [], watched, np.ones(100))

    assert (1, 1, 20) == (lied.hidden_spans, lied.dishonest_spans, lied.dishonest_frames)
    assert (1, 0, 0) == (told.hidden_spans, told.dishonest_spans, told.dishonest_frames)


def test_errors_are_counted_in_frames_seconds_share_and_degrees():
    figures = summary([_judged(_truth([_pull(2.0)]), [_flag(2.2)])])

    assert 2.0 == figures["onset_frames_median"]
    assert 0.2 == round(figures["onset_s_median"], 6)
    assert 0.1 == round(figures["pull_error_median"], 6)
    assert 1.0 == figures["tilt_error_median"]


def test_a_score_that_is_no_number_counts_as_a_failure():
    figures = summary([_judged(_truth([_pull(2.0)]), [_flag(2.0), _flag(5.0, float("nan"), flagged=False)])])

    assert (1, 1.0) == (figures["failed"], figures["recall"])


def test_scores_that_mean_what_they_say_have_no_calibration_error():
    honest = [(0.75, True)] * 3 + [(0.75, False)]

    assert 0.0 == calibration(honest)[0]
    assert 0.75 == calibration([(0.75, False)])[0]
