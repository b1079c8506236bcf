"""One shot computed anew and put in its place."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from clipmark.motion.part_of_film import PartOfFilm, joined
from clipmark.motion.result import Box, Ticks, in_ticks
from clipmark.motion.scan import scan
from tests.motion.test_scan import BOX, MadeFilm


def test_a_part_gives_the_pictures_of_the_film_counted_from_nought():
    film = MadeFilm(onset=3.0, release=5.0, pull=0.1)
    part = PartOfFilm(film, 30, 90)
    whole = dict(film.frames(40, 45))

    assert [10, 11, 12, 13, 14] == [number for number, _ in part.frames(10, 15)]
    assert all((picture == whole[number + 30]).all() for number, picture in part.frames(10, 15))
    assert [Box(5, 1, 2, 3, 4)] == part.boxes([Box(35, 1, 2, 3, 4), Box(90, 1, 2, 3, 4)])


def test_what_the_part_says_takes_the_place_of_what_the_whole_said_there_and_nothing_else_changes():
    film = MadeFilm(onset=3.0, release=5.0, pull=0.1)
    ticks = Ticks(np.arange(len(film.times)) * 40 + 7, len(film.times) * 40 + 7)
    whole = in_ticks(scan(film, [BOX]), ticks)
    start, stop = 60, len(film.times)
    part = scan(PartOfFilm(film, start, stop), [Box(0, BOX.x, BOX.y, BOX.w, BOX.h)])
    merged = joined(whole, part, start, stop)

    np.testing.assert_array_equal(whole.trace.x[:start], merged.trace.x[:start])
    np.testing.assert_array_equal(part.trace.x, merged.trace.x[start:stop])
    onsets = [flag.onset for flag in merged.flags if flag.flagged]
    assert [flag.onset for flag in whole.flags if flag.flagged] == pytest.approx(onsets, abs=1)
    assert all(flag.onset_pts == 40 * flag.onset + 7 for flag in merged.flags)
    edges = sorted((s.start, s.end) for s in (*merged.watched, *merged.unwatched))
    assert edges[0][0] == 0
    assert edges[-1][1] == len(film.times)
    assert all(one[1] == other[0] for one, other in pairwise(edges))
