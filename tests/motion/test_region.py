"""A rough box or one press is enough: her abdomen is told from what moves as one."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from clipmark.motion.region import NothingThere, find_region
from clipmark.motion.result import Box, ScanResult
from clipmark.motion.scan import scan
from tests.motion.test_scan import BOX, MadeFilm


def onsets(result: ScanResult) -> list[int]:
    return [flag.onset for flag in result.flags if flag.flagged]


@pytest.mark.parametrize("box", [(140, 75, 60, 80), (90, 110, 110, 40), (100, 70, 120, 100)])
def test_a_box_half_wrong_in_place_and_size_finds_the_pull_and_not_its_release(
    box: tuple[float, float, float, float],
) -> None:
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.12), [Box(0, *box)])

    assert [75] == pytest.approx(onsets(result), abs=3)


def test_one_press_is_enough_and_the_length_comes_from_her_axis() -> None:
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.12), [Box(0, 165, 116, 0, 0)])

    (used,) = result.outlines
    assert [75] == pytest.approx(onsets(result), abs=3)
    assert ("pressed", True) == (used.source, used.fitted)
    assert 80 == pytest.approx(used.length, rel=0.12)
    assert 0 == pytest.approx(used.angle_deg, abs=8)


def test_a_box_drawn_while_she_is_drawn_finds_the_pull_all_the_same() -> None:
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.12), [Box(100, 130, 92, 80, 56)])

    assert [75] == pytest.approx(onsets(result), abs=3)


def test_a_press_on_still_ground_is_refused_in_a_sentence() -> None:
    with pytest.raises(NothingThere, match=r"nothing there moves as one; draw a box"):
        scan(MadeFilm(onset=3.0, release=5.0, pull=0.12), [Box(0, 40, 200, 0, 0)])


@pytest.mark.parametrize("grey", [0, 128])
def test_a_press_on_an_even_picture_is_refused(grey: int) -> None:
    pictures = [(i / 25, np.full((120, 160), grey, np.uint8)) for i in range(40)]

    with pytest.raises(NothingThere):
        find_region(pictures, 0, (80, 60))


def test_the_region_of_a_press_has_her_place_and_axis() -> None:
    film = MadeFilm(onset=1.0, release=2.0, pull=0.12, seconds=3.0)
    pictures = [(float(film.times[i]), picture) for i, picture in film.frames()]

    region = find_region(pictures, 0, (160, 120))

    assert "moved" == region.source
    assert (160, 120) == pytest.approx((region.centre.real, region.centre.imag), abs=5)
    assert (80, 56) == pytest.approx((region.length, region.width), rel=0.15)
    assert len(region.outline()) > 8


class Covered(MadeFilm):
    """A hand fills most of the picture for some frames; then the same view is back."""

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        hand = np.random.default_rng(9).normal(190, 12, (240, 320)).clip(0, 255).astype(np.uint8)
        for i, picture in super().frames(start, stop):
            if 90 <= i < 130:
                picture = picture.copy()
                picture[:, :290] = hand[:, :290]
            yield i, picture


def test_a_view_that_was_hidden_for_a_moment_is_the_same_view_when_it_is_back() -> None:
    result = scan(Covered(onset=6.0, release=7.0, pull=0.12), [BOX])

    assert 1 == len(result.shots)
    assert [150] == pytest.approx(onsets(result), abs=3)
    assert any(span.start <= 95 and span.end >= 125 for span in result.unwatched)
