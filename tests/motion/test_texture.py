"""Dense alignment: against a known motion, and against the published displacement of a real stereo pair."""

from __future__ import annotations

import cmath
import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Texture


def ground(seed: int = 2) -> np.ndarray:
    rough = cv2.GaussianBlur(np.random.default_rng(seed).normal(0, 1, (160, 200)).astype(np.float32), (0, 0), 2)
    return 20 * rough / rough.std()


def patch(picture: np.ndarray, middle: complex, size: tuple[int, int] = (60, 44)) -> Texture:
    blank = Texture(np.zeros(size[::-1], np.float32), np.ones(size[::-1], np.float32))
    return Texture(blank.cut(picture, Similarity(1 + 0j, middle)), np.ones(size[::-1], np.float32))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(x=st.floats(-1.5, 1.5), y=st.floats(-1.5, 1.5), degrees=st.floats(-2, 2), size=st.floats(0.985, 1.015))
def test_a_patch_that_was_moved_turned_and_grown_is_found_to_a_tenth_of_a_pixel(
    x: float, y: float, degrees: float, size: float
) -> None:
    picture, middle = ground(), complex(100, 80)
    move = Similarity(cmath.rect(size, math.radians(degrees)), 0j)
    move = Similarity(move.m, middle - move.m * middle + complex(x, y))
    moved = cv2.warpAffine(picture, move.matrix(), (200, 160), borderMode=cv2.BORDER_REFLECT)

    fit = patch(picture, middle).find(moved, Similarity(1 + 0j, middle), 1.0, 12)

    assert abs(fit.place.c - move(middle)) < 0.1
    assert fit.place.angle_deg == pytest.approx(degrees, abs=0.3)


def test_something_in_front_of_a_third_of_the_patch_does_not_pull_it_away() -> None:
    picture, middle = ground(), complex(100, 80)
    moved = cv2.warpAffine(picture, np.float64([[1, 0, 1.5], [0, 1, 0]]), (200, 160))
    moved[:, 72:90] = ground(9)[:, 72:90]

    fit = patch(picture, middle).find(moved, Similarity(1 + 0j, middle), 1.0, 12)

    assert fit.place.c == pytest.approx(middle + 1.5, abs=0.15)
    assert fit.seen == pytest.approx(0.7, abs=0.12)


def test_brighter_light_is_no_motion() -> None:
    picture, middle = ground(), complex(100, 80)

    fit = patch(picture, middle).find(1.4 * picture + 10, Similarity(1 + 0j, middle), 1.0, 8)

    assert fit.place.c == pytest.approx(middle, abs=0.02)
    assert fit.gain == pytest.approx(1.4, abs=0.02)


def test_undoing_a_map_gives_the_same_point_back() -> None:
    bent = Similarity(1.1 + 0.2j, 5 - 3j, 0.1 - 0.05j)

    assert bent.inverse(bent(7 + 2j)) == pytest.approx(7 + 2j)
    assert bent.after(bent.inverse)(1 + 1j) == pytest.approx(1 + 1j)


def test_patches_of_a_real_stereo_pair_are_displaced_as_published() -> None:
    """scikit-image's motorcycle pair (Middlebury 2014): horizontal displacement is minus the disparity."""
    data = pytest.importorskip("skimage.data")
    left, right, disparity = data.stereo_motorcycle()
    left, right = (cv2.cvtColor(side, cv2.COLOR_RGB2GRAY).astype(np.float32) for side in (left, right))
    errors = []
    for y in range(60, left.shape[0] - 60, 20):
        for x in range(150, left.shape[1] - 60, 20):
            here = disparity[y - 12 : y + 13, x - 12 : x + 13]
            if not np.isfinite(here).all() or np.ptp(here) > 2:
                continue
            strip = right[y - 12 : y + 13, x - 12 - 70 : x + 13]
            score = cv2.matchTemplate(strip, left[y - 12 : y + 13, x - 12 : x + 13], cv2.TM_CCOEFF_NORMED)
            rough = complex(x - 70 + int(score.argmax()), y)
            fit = patch(left, complex(x, y), (25, 25)).find(right, Similarity(1 + 0j, rough), 4.0, 10)
            errors.append(abs(fit.place.c.real - (x - disparity[y, x])))

    assert len(errors) > 50
    assert float(np.median(errors)) <= 0.5
