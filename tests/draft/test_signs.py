"""Signs of a pull, on pictures made by hand: what stirs, what turns, what gets longer, and what cannot be seen."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from clipmark.book.model import Sign
from clipmark.draft.sighting import Oval, Sight
from clipmark.draft.signs import figure_words, sign_words, signs_of
from clipmark.draft.values import ABDOMEN_DRAWN, ANGLE_CHANGED, MALE_STRETCHED, NEAR, PALPS_STILL, SIGNS, SignSeen
from clipmark.draft.whereabouts import well_followed

HER, HIM = Oval(60, 80, 25, 18), Oval(175, 80, 34, 20)
ONSET, FULL = 1.5, 1.7


def sight(
    palps: tuple[float, float] = (0.0, 9.0), turn: float = 0.0, longer: float = 0.0, jitter: float = 0.0
) -> Sight:
    """Her abdomen at 60, her carapace before it, his body at 175; from 1.5 to 1.7 s she turns and he gets longer.

    Args:
        palps: from when to when his palps beat at 5 Hz. jitter: pixels by which the whole picture shakes.
    """
    rng = np.random.default_rng(5)
    ground = cv2.GaussianBlur(rng.uniform(60, 140, (160, 240)).astype(np.float32), (0, 0), 1.5)
    fur = cv2.GaussianBlur(rng.uniform(0, 255, (160, 240)).astype(np.float32), (0, 0), 1.2)
    times = np.arange(0, 3.3, 0.04)
    pictures = []
    for t in times:
        done = float(np.clip((t - ONSET) / (FULL - ONSET), 0, 1))
        picture = ground.copy()
        for x, shift, degrees in ((60, 0, 0), (101, 0, turn * done), (192, 0, 0), (158, -longer * done, 0)):
            matrix = cv2.getRotationMatrix2D((x, 80), -degrees, 1.0)
            matrix[:, 2] += (shift, 0)
            mask = cv2.warpAffine(cv2.circle(np.zeros_like(fur), (x, 80), 17, 1.0, -1), matrix, (240, 160))
            picture = picture * (1 - mask) + mask * cv2.warpAffine(fur, matrix, (240, 160))
        if palps[0] <= t < palps[1]:
            at = 132 + 5 * np.sin(2 * np.pi * 5 * t)
            cv2.circle(picture, (round(at), 100), 5, 20.0, -1)
        else:
            cv2.circle(picture, (132, 100), 5, 20.0, -1)
        if jitter:
            move = np.array([[1, 0, rng.normal(0, jitter)], [0, 1, rng.normal(0, jitter)]])
            picture = cv2.warpAffine(picture, move, (240, 160), borderMode=cv2.BORDER_REFLECT)
        pictures.append(picture + rng.normal(0, 1, picture.shape))
    return Sight(times, np.array(pictures, np.float32), ONSET, FULL, 3.2, 50.0, 1.0, 1.0)


def told(seen: Sight, him: Oval | None = HIM, her: Oval | None = HER) -> dict[str, SignSeen]:
    return {one.sign: one for one in signs_of(seen, 0.12, her, him)}


def test_the_signs_are_those_of_the_book():
    assert set(SIGNS) <= {sign.value for sign in Sign}


def test_palps_that_stop_with_the_pull_went_still_and_those_that_go_on_did_not():
    stopped, went_on = told(sight((0.0, 1.6))), told(sight((0.0, 9.0)))

    assert stopped[PALPS_STILL].seen
    assert stopped[PALPS_STILL].figure > 80
    assert went_on[PALPS_STILL].seen is False


def test_where_nothing_stirred_before_nothing_went_still():
    found = told(sight((8.0, 9.0)))[PALPS_STILL]

    assert found.seen is False
    assert "before it" in found.because


def test_a_picture_that_shakes_all_over_does_not_show_whether_palps_stir():
    assert told(sight(jitter=2.5))[PALPS_STILL].seen is None


def test_her_body_angle_is_told_to_some_degrees_and_which_way():
    found = told(sight(turn=12.0))[ANGLE_CHANGED]

    assert found.seen
    assert 12 == pytest.approx(found.figure, abs=3)
    assert "clockwise" in found.because
    assert told(sight())[ANGLE_CHANGED].seen is False


def test_he_is_longer_where_his_front_goes_ahead_and_his_rear_stays():
    found = told(sight(longer=9.0))[MALE_STRETCHED]

    assert found.seen
    assert 13 == pytest.approx(found.figure, abs=3)
    assert told(sight())[MALE_STRETCHED].seen is False


def test_how_near_he_was_is_the_gap_in_her_abdomens_lengths():
    assert (175 - 34 - 60 - 25) / 50 == pytest.approx(told(sight())[NEAR].figure, abs=0.1)


def test_what_cannot_be_seen_is_said_to_be_so_with_its_cause():
    nowhere = told(sight(), him=None)

    assert [None, None, None] == [nowhere[sign].seen for sign in (ANGLE_CHANGED, MALE_STRETCHED, NEAR)]
    assert "outline him" in nowhere[MALE_STRETCHED].because
    assert all(one.seen is None for one in told(replace(sight(), until=1.75)).values() if one.sign != ABDOMEN_DRAWN)
    assert "not followed" in told(sight(), her=None)[PALPS_STILL].because
    assert told(sight(), him=Oval(235, 80, 34, 20))[MALE_STRETCHED].seen is None


def test_a_sign_in_words_has_its_figure():
    assert "9°" == figure_words(SignSeen(ANGLE_CHANGED, True, 9.0, "°", "clockwise"))
    assert "body angle changed: yes, 9° clockwise" == sign_words(SignSeen(ANGLE_CHANGED, True, 9.0, "°", "clockwise"))
    assert "male stretched: ?, cannot be seen" == sign_words(
        SignSeen(MALE_STRETCHED, None, None, "", "cannot be seen")
    )


def test_one_that_was_never_followed_is_no_measure():
    assert not well_followed(None)
