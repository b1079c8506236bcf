"""Before, after and what changed, on arrays whose truth is known."""

from types import SimpleNamespace

import numpy as np
import pytest

from clipmark.motion.similarity import Similarity
from clipmark.review.pull_pictures import camera_between, difference, direction_words, laid_on, pose, region


def speckled(seed: int = 1, height: int = 90, width: int = 120) -> np.ndarray:
    import cv2

    grain = np.random.default_rng(seed).uniform(40, 215, (height, width)).astype(np.float32)
    smooth = cv2.GaussianBlur(grain, (0, 0), 2.0)
    spread = np.clip((smooth - smooth.mean()) * 4 + 128, 0, 255)
    return np.repeat(spread[..., None], 3, axis=2).astype(np.uint8)


def moved(picture: np.ndarray, by: Similarity) -> np.ndarray:
    import cv2

    return cv2.warpAffine(picture, by.matrix(), picture.shape[1::-1], borderMode=cv2.BORDER_REPLICATE)


def test_a_picture_carried_back_by_its_own_movement_shows_no_change_inside() -> None:
    still = speckled()
    by = Similarity(np.exp(1j * np.radians(4)), 6 - 3j)

    back = laid_on(moved(still, by), by)

    inside = np.s_[20:-20, 20:-20]
    assert np.abs(back[inside].astype(int) - still[inside]).mean() < 6
    assert np.abs(moved(still, by)[inside].astype(int) - still[inside]).mean() > 20


def test_what_got_brighter_is_orange_and_what_got_darker_is_blue() -> None:
    before = np.full((60, 80, 3), 120, np.uint8)
    after = before.copy()
    after[20:40, 10:30] = 220
    after[20:40, 50:70] = 20

    shown = difference(before, after).astype(int)

    assert shown[30, 20, 0] > shown[30, 20, 2] + 100
    assert shown[30, 60, 2] > shown[30, 60, 0] + 100
    assert np.ptp(shown[5, 40]) < 5


def test_a_camera_that_drifts_one_pixel_a_frame_has_moved_five_after_five() -> None:
    n = 10
    trace = SimpleNamespace(
        camera_x=np.ones(n), camera_y=np.zeros(n), camera_angle=np.zeros(n), camera_scale=np.ones(n)
    )

    assert camera_between(trace, 2, 7).c == pytest.approx(5 + 0j)


def test_an_abdomen_that_was_not_followed_has_no_pose() -> None:
    trace = SimpleNamespace(
        x=np.array([10.0, np.nan]), y=np.array([20.0, np.nan]), angle=np.array([0.0, 0]), scale=np.array([1.0, 1])
    )

    assert pose(trace, 0) == Similarity(1 + 0j, 10 + 20j)
    assert pose(trace, 1) is None
    assert pose(trace, 2) is None


def test_the_cut_round_her_stays_inside_the_picture() -> None:
    assert region(5 + 5j, 60.0, 640, 360) == (0, 0, 192, 144)
    x, y, w, h = region(630 + 350j, 200.0, 640, 360)
    assert (x + w, y + h) == (640, 360)
    assert (w, h) == (640, 360)


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(0, "to the right"), (90, "downwards"), (-90, "upwards"), (181, "to the left"), (340, "to the right")],
)
def test_directions_are_told_as_seen_on_the_screen(degrees: float, words: str) -> None:
    assert direction_words(degrees) == words
