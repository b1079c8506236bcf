"""The scorer: fitted from answers, drawn to what it was, never worse on its validation."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from clipmark.motion.fit import SIGNS, TooFewCalls, calibration_error, fit_weights, log_loss, refit
from clipmark.motion.parameters import MotionParameters, ParametersUnreadable, load, write
from clipmark.motion.pulls import NAMES, score, shaped
from clipmark.motion.validation import (
    MORE_LOSS,
    Stand,
    Validation,
    ValidationUnreadable,
    load_validation,
    validation_document,
)


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


def test_a_measure_speaks_only_for_what_it_can_mean() -> None:
    features, pulled = calls(200)
    upside_down = [{**item, "quality": 0.2 if pull else 0.9} for item, pull in zip(features, pulled, strict=True)]

    free, signed = (fit_weights(upside_down, pulled, signed=choice) for choice in (False, True))
    assert free["quality"] < 0
    assert 0 == signed["quality"]
    assert set(SIGNS) <= set(shaped(features[0]))


def test_a_candidate_that_counts_twice_is_as_good_as_two() -> None:
    features, pulled = calls(40)

    twice = fit_weights(features + features[:10], pulled + pulled[:10])
    counted = fit_weights(features, pulled, counts=[2.0] * 10 + [1.0] * 30)
    assert twice == pytest.approx(counted, abs=2e-3)


# -- the validation films -----------------------------------------------------------------------------------------
def validation(count: int = 80, seed: int = 7) -> Validation:
    features, pulled = calls(count, seed)
    return Validation(tuple(features), tuple(pulled))


def sensible() -> MotionParameters:
    """A scorer that knows half of what the made calls can teach."""
    features, pulled = calls(400, 3)
    return MotionParameters("old", weights=fit_weights(features, pulled, strength=60.0))


def test_fitting_from_calls_keeps_the_old_value_and_names_the_new_one() -> None:
    old = sensible()
    features, pulled = calls(60)
    new = refit(old, features, pulled, "mine", validation())

    assert ("old", "mine") == (old.version, new.parameters.version)
    assert new.share > 0
    assert log_loss(features, pulled, new.parameters.weights) < log_loss(features, pulled, old.weights)


def test_calls_that_say_the_opposite_of_the_validation_films_change_nothing_for_the_worse() -> None:
    old, films = sensible(), validation()
    features, pulled = calls(200)
    new = refit(old, features, [not pull for pull in pulled], "mine", films)

    stood, stands = films.stand(old), films.stand(new.parameters)
    assert stands.false - stands.found <= stood.false - stood.found
    assert stands.false <= stood.false
    assert stands.loss <= stood.loss + MORE_LOSS
    assert new.share < 0.2
    assert "validation films" in new.said


def test_where_any_step_would_miss_a_pull_of_the_validation_films_the_old_weights_stay_and_it_says_so() -> None:
    features, _ = calls(60)
    old = sensible()
    edge = max((score(item, old), k) for k, item in enumerate(features))[1]  # a pull that is flagged by a hair
    old = replace(old, flag_at=score(features[edge], old))
    never = [False] * 40 + [True] * 20
    new = refit(old, [features[edge]] * 40 + features[:20], never, "mine", Validation((features[edge],), (True,)))

    assert 0.0 == new.share
    assert old.weights == new.parameters.weights
    assert "mine" == new.parameters.version
    assert "The old weights stay" in new.said
    assert "1 more of 1 pulls would be missed" in new.said


def test_what_is_worse_is_told_in_words() -> None:
    old = Stand(pulls=20, found=18, false=2, loss=0.2)

    assert "1 more of 20 pulls" in Stand(20, 17, 0, 0.1).worse_than(old)
    assert "2 more false flags" in Stand(20, 20, 4, 0.1).worse_than(old)
    assert "log loss 0.230 instead of 0.200" in Stand(20, 20, 0, 0.23).worse_than(old)
    assert "" == Stand(20, 18, 2, 0.205).worse_than(old)


def test_one_pull_in_fifty_may_be_paid_for_by_as_many_false_flags_less() -> None:
    old = Stand(pulls=50, found=48, false=5, loss=0.2)

    assert "" == Stand(50, 47, 4, 0.2).worse_than(old)
    assert "1 more of 50 pulls" in Stand(50, 47, 5, 0.2).worse_than(old)
    assert "2 more of 50 pulls" in Stand(50, 46, 0, 0.2).worse_than(old)


def test_the_validation_films_that_come_with_clipmark_fit_its_measures_and_its_scorer() -> None:
    films = load_validation()
    stands = films.stand(load())

    assert len(films.pulled) >= 100
    assert 20 <= sum(films.pulled) <= len(films.pulled) - 20
    assert stands.found > 0.9 * stands.pulls
    assert stands.false < 0.2 * (len(films.pulled) - stands.pulls)


def test_a_validation_table_is_read_back_and_one_for_other_measures_is_refused(tmp_path: Path) -> None:
    features, pulled = calls(5)
    path = tmp_path / "validation.json"
    path.write_text(validation_document(["film"] * 5, features, pulled, "here"), encoding="utf-8")

    films = load_validation(path)
    assert tuple(pulled) == films.pulled
    assert features[3] == pytest.approx(films.features[3], rel=1e-4)
    path.write_text(path.read_text(encoding="utf-8").replace('"features": "', '"features": "old-'), encoding="utf-8")
    with pytest.raises(ValidationUnreadable, match="made for measures old-"):
        load_validation(path)


def test_a_handful_of_calls_is_refused_in_words() -> None:
    features, pulled = calls(12)
    with pytest.raises(TooFewCalls, match="at least 10 of each"):
        refit(load(), features, pulled, "mine", validation())


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
