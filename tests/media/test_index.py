"""Which frames exist and when: found through the index, never by a rate."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from clipmark.media.index.frame_index import FrameIndex, frame_index

MS = Fraction(1, 1000)


def index(pts: list[int], time_base: Fraction = MS, last: int = 0, rate: Fraction | None = None) -> FrameIndex:
    keyframe = np.zeros(len(pts), bool)
    keyframe[0] = True
    return frame_index(np.array(pts, np.int64), time_base, keyframe, last, rate)


def test_the_frame_on_screen_is_the_last_one_that_has_begun() -> None:
    film = index([0, 33, 67, 100])

    assert [1, 2, 2, 3] == [film.at_or_before(pts) for pts in (66, 67, 99, 5000)]


def test_before_the_first_frame_the_first_frame_is_on_screen() -> None:
    assert 0 == index([500, 540]).at_or_before(3)


def test_seconds_count_from_the_first_frame_of_a_film_that_starts_late() -> None:
    film = index([1520, 1560, 1601])

    assert [0.0, 0.04, 0.081] == pytest.approx(film.seconds().tolist())
    assert Fraction(81, 1000) == film.exact_seconds(2)
    assert 1 == film.frame_at(0.06)


def test_a_time_that_a_frame_begins_at_finds_that_frame_exactly() -> None:
    ntsc = index([n * 1001 for n in range(200)], Fraction(1, 30000))

    assert list(range(200)) == [ntsc.frame_at(ntsc.exact_seconds(n)) for n in range(200)]


def test_of_two_frames_at_one_time_the_second_is_on_screen() -> None:
    assert 2 == index([0, 40, 40, 80]).at_or_before(40)


def test_times_rounded_to_milliseconds_are_still_even() -> None:
    film = index([round(n * 1001 / 30) for n in range(500)], rate=Fraction(30000, 1001))

    assert film.even
    assert Fraction(30000, 1001) == film.rate


def test_one_frame_too_late_makes_a_film_uneven() -> None:
    assert not index([0, 40, 80, 125, 160, 200], rate=Fraction(25)).even


def test_a_rate_that_the_times_do_not_bear_out_is_not_believed() -> None:
    film = index([0, 125, 167, 208, 250], rate=Fraction(24))

    assert not film.even
    assert Fraction(16) == film.rate


def test_an_even_film_whose_header_lies_shows_its_true_rate() -> None:
    film = index([n * 3750 for n in range(100)], Fraction(1, 90000), rate=Fraction(25))

    assert film.even
    assert Fraction(24) == film.rate


def test_the_last_frame_lasts_as_long_as_the_file_says_else_as_long_as_most_do() -> None:
    assert 150 == index([0, 40, 80], last=70).end_pts
    assert Fraction(3, 25) == index([0, 40, 80]).end_seconds()


def test_a_film_of_one_frame_has_an_end_and_no_rate_of_its_own() -> None:
    assert (40, Fraction(25)) == (index([0], rate=Fraction(25)).end_pts, index([0], rate=Fraction(25)).rate)
    assert index([0]).rate is None


def test_a_frame_number_outside_the_film_is_an_error_not_a_wrap_round() -> None:
    with pytest.raises(IndexError):
        index([0, 40]).exact_seconds(-1)
