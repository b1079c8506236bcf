"""The scorer: fitted from answers, drawn to what it was, never worse on what it was fitted to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from clipmark.motion.fit import TooFewCalls, calibration_error, fit_weights, log_loss, refit
from clipmark.motion.parameters import MotionParameters, ParametersUnreadable, load, write
from clipmark.motion.pulls import NAMES, score


def calls(count: int, seed: int = 0) -> tuple[list[dict[str, float]], list[bool]]:
    """Made candidates: pulls leave the surroundings where they are, walks take them along."""
    draw = np.random.default_rng(seed)
    features, pulled = [], []
    for _ in range(count):
        pull = bool(draw.random() < 0.5)
        item = dict.fromkeys(NAMES, 0.5)
        item["along"] = float(draw.normal(0.2 if pull else 0.9, 0.25))
        item["ratio"] = float(np.exp(draw.normal(2.5, 0.5)))
        features.append(item)
        pulled.append(pull)
    return features, pulled


def test_what_went_along_lowers_the_score_once_the_calls_say_so() -> None:
    features, pulled = calls(200)
    weights = fit_weights(features, pulled)
    fitted = MotionParameters(weights=weights)

    assert score({**features[0], "along": 0.0}, fitted) > 0.8
    assert score({**features[0], "along": 1.2}, fitted) < 0.2


def test_fitting_from_calls_keeps_the_old_value_and_names_the_new_one() -> None:
    old = load()
    features, pulled = calls(60)
    new = refit(old, features, pulled, "mine")

    assert ("pulls-1", "mine") == (old.version, new.version)
    assert log_loss(features, pulled, new.weights) <= log_loss(features, pulled, old.weights)


def test_a_handful_of_calls_is_refused_in_words() -> None:
    features, pulled = calls(12)
    with pytest.raises(TooFewCalls, match="at least 10 of each"):
        refit(load(), features, pulled, "mine")


def test_parameters_are_read_back_as_they_were_written(tmp_path: Path) -> None:
    mine = MotionParameters(version="mine", weights={"bias": -1.0, "along": -2.5})
    write(mine, tmp_path / "mine.json")

    assert mine == load(str(tmp_path / "mine.json"))


def test_a_file_that_holds_no_parameters_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "x.json").write_text("[]")
    with pytest.raises(ParametersUnreadable, match="does not hold parameters"):
        load(str(tmp_path / "x.json"))


def test_scores_that_are_right_as_often_as_they_say_are_calibrated() -> None:
    scores = [0.25] * 40 + [0.75] * 40
    pulled = [True] * 10 + [False] * 30 + [True] * 30 + [False] * 10

    assert 0.0 == pytest.approx(calibration_error(scores, pulled))
    assert 0.5 == pytest.approx(calibration_error([0.5] * 10, [True] * 10))
