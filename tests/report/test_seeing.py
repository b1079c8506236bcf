"""Rhythm in the picture, gathered beside the motion pass."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from clipmark.motion.result import Box, Shot
from clipmark.motion.rhythm.values import Bout
from clipmark.report.films.seeing import Seeing, keep_seen, kept_seen


class Palps:
    """Ten seconds at 25 a second: a palp at the left beats at 5 Hz from 2 s to 7 s, one at the right at 3 Hz."""

    width, height = 160, 90
    times = np.arange(250) / 25

    def __init__(self) -> None:
        self.reads = 0

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        self.reads += 1
        draw = np.random.default_rng(1)
        ground = draw.uniform(80, 110, (90, 160))
        y, x = np.mgrid[:90, :160]
        for i, t in list(enumerate(self.times))[start:stop]:
            picture = ground.copy()
            for middle, hz in ((40, 5.0), (120, 3.0)):
                swing = 6 * np.sin(2 * np.pi * hz * t) if 2 <= t < 7 else 0.0
                body = np.exp(-((x - middle) ** 2 / 18 + (y - 45 - swing) ** 2 / 40))
                picture = picture * (1 - body) + 30 * body
            yield i, np.clip(picture + draw.normal(0, 2, picture.shape), 0, 255).astype(np.uint8)


HIM, HER = Box(100, 20, 25, 40, 40, "male"), Box(0, 110, 35, 20, 20)


def test_his_outline_is_looked_at_where_it_was_drawn_and_else_what_is_round_her_abdomen():
    both = Seeing(Palps(), [HIM, HER])
    alone = Seeing(Palps(), [HER])
    list(both.frames())
    list(alone.frames())

    (his,) = both.bouts([Shot(0, 250)])
    (hers,) = alone.bouts([Shot(0, 250)])

    assert 5.0 == pytest.approx(his.rate_hz, rel=0.03)
    assert 3.0 == pytest.approx(hers.rate_hz, rel=0.03)
    assert (2.0, 7.0) == pytest.approx((his.start_s, his.end_s), abs=0.3)


def test_the_film_is_read_no_second_time_for_it_and_an_outline_speaks_for_its_own_shot_alone():
    film = Palps()
    seeing = Seeing(film, [HIM, HER])
    list(seeing.frames())
    list(seeing.frames(10, 20))  # as when the pass follows an outline back

    first, second = seeing.bouts([Shot(0, 90), Shot(90, 250, "cut")])

    assert (3.0, 5.0) == pytest.approx((first.rate_hz, second.rate_hz), rel=0.03)
    assert first.end_s < 3.6 <= second.start_s
    assert 2 == film.reads


def test_what_was_seen_is_kept_by_the_films_fingerprint():
    bouts = (Bout("picture", 2.0, 7.0, 5.0, 0.8), Bout("picture", 8.0, 9.0, None, 0.5, None, "too fast"))
    keep_seen("a" * 16, bouts)

    assert bouts == kept_seen("a" * 16)
    assert kept_seen("b" * 16) is None
