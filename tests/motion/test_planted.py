"""Watched means that a pull would have been found: what the planted pulls say."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from clipmark.motion.planted import Planted, smallest_found, too_faint
from clipmark.motion.result import UNWATCHED, Cause
from clipmark.motion.scan import scan
from tests.motion.test_scan import BOX, MadeFilm


class Faint(MadeFilm):
    """She shows nothing but noise; bright litter lies in the corners of the outline."""

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        draw = np.random.default_rng(3)
        noise = [draw.normal(0, 3, (240, 320)) for _ in range(16)]
        for i, _ in super().frames(start, stop):
            picture = np.full((240, 320), 30.0)
            for x, y in ((122, 94), (194, 95), (123, 140), (193, 142), (40, 60), (250, 200), (260, 50)):
                picture[y : y + 5, x : x + 6] = 150
            yield i, np.clip(picture + noise[i % 16], 0, 255).astype(np.uint8)


def test_in_a_clear_view_small_pulls_would_have_been_found_and_all_is_watched() -> None:
    result = scan(MadeFilm(onset=99.0, release=99.5, pull=0.0, seconds=16.0), [BOX])

    (shot,) = result.sensitivity
    assert shot.planted >= 5
    assert shot.smallest is not None
    assert shot.smallest <= 0.06
    assert () == result.unwatched


def test_where_only_litter_shows_nothing_is_called_watched() -> None:
    result = scan(Faint(onset=99.0, release=99.5, pull=0.0, seconds=16.0), [BOX])

    (shot,) = result.sensitivity
    assert shot.smallest is None
    assert UNWATCHED[Cause.FAINT] in {span.why for span in result.unwatched}
    assert sum(span.end - span.start for span in result.watched) < 0.35 * 400


def test_the_smallest_size_is_the_one_from_which_nine_of_ten_are_seen() -> None:
    planted = [Planted(i, size, size > 0.05) for i, size in enumerate([0.15, 0.06, 0.15, 0.04, 0.1])]

    assert 0.06 == smallest_found(planted)
    assert smallest_found([Planted(0, 0.15, False)]) is None


@pytest.mark.parametrize(("seen", "spans"), [((True, True, False, True), 0), ((*(True,) * 6, False, False), 1)])
def test_a_stretch_is_faint_where_two_large_ones_in_a_row_were_missed(seen: tuple[bool, ...], spans: int) -> None:
    assert spans == len(too_faint([Planted(4.0 * i, 0.15, one) for i, one in enumerate(seen)]))


def test_a_stretch_is_faint_too_where_large_ones_are_seen_only_now_and_then() -> None:
    spans = too_faint([Planted(4.0 * i, 0.15, i % 2 == 1) for i in range(4)])

    assert all(any(begin <= time <= end for begin, end in spans) for time in (0, 4, 8, 10))
