"""The motion pass on film made here, whose pull is known."""

from __future__ import annotations

import gc
import itertools
from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np
import pytest

from clipmark.motion.evidence import Sight
from clipmark.motion.parameters import DEFAULT
from clipmark.motion.pose import Follower
from clipmark.motion.result import Box, Cause
from clipmark.motion.scan import scan
from clipmark.motion.similarity import Similarity
from clipmark.progress import Cancelled


class MadeFilm:
    """An oval with a texture of its own on a textured ground, drawn aside at `onset` and let go at `release`."""

    width, height = 320, 240

    def __init__(
        self, onset: float, release: float, pull: float, seconds: float = 8.0, rate: int = 25,
        covered: tuple[int, int] = (0, 0),
    ):  # fmt: skip
        self._covered = range(*covered)
        self.times = np.arange(int(seconds * rate)) / rate
        draw = np.random.default_rng(5)
        self._ground = self._texture(draw, (240, 320), 110, 18)
        self._skin = self._texture(draw, (240, 320), 60, 12)
        self._noise = draw.normal(0, 2, (4, 240, 320))
        go = np.clip((self.times - onset) / 0.2, 0, 1)
        back = np.clip((self.times - release) / 0.2, 0, 1)
        self._aside = 80 * pull * (go - back)
        y, x = np.mgrid[0:240, 0:320]
        self._inside = (((x - 160) / 40) ** 2 + ((y - 120) / 28) ** 2 < 1).astype(np.float32)

    @staticmethod
    def _texture(draw: np.random.Generator, shape: tuple[int, int], mean: float, spread: float) -> np.ndarray:
        rough = cv2.GaussianBlur(draw.normal(0, 1, shape).astype(np.float32), (0, 0), 2)
        return mean + spread * rough / rough.std()

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        for i, aside in list(enumerate(self._aside))[start:stop]:
            move = np.float64([[1, 0, aside], [0, 1, 0]])
            inside = cv2.warpAffine(self._inside, move, (320, 240))
            skin = cv2.warpAffine(self._skin, move, (320, 240))
            picture = self._ground * (1 - inside) + skin * inside + self._noise[i % 4]
            if i in self._covered:
                picture[80:160, 110:210] = 200 + 2 * self._noise[i % 4][80:160, 110:210]
            yield i, np.clip(picture, 0, 255).astype(np.uint8)


BOX = Box(0, 120, 92, 80, 56)


class Dissolving:
    """Two views one after another, the second dissolving in from frame 60 to 84; she lies elsewhere in it."""

    width, height = 320, 240

    def __init__(self) -> None:
        self._one, self._other = MadeFilm(1.2, 9, 0.08, 6), MadeFilm(9, 9, 0.1, 6)
        self._other._ground = MadeFilm._texture(np.random.default_rng(8), (240, 320), 120, 25)
        self.times = self._one.times

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        for (i, one), (_, other) in zip(self._one.frames(start, stop), self._other.frames(start, stop), strict=True):
            share = np.clip((i - 59) / 26, 0, 1)
            moved = np.roll(other, (50, 60), (0, 1)).astype(float)
            yield i, (one * (1 - share) + moved * share).astype(np.uint8)


@pytest.mark.parametrize("frame", [90, 140])
def test_the_frames_of_a_dissolve_are_watched_in_neither_shot(frame: int) -> None:
    result = scan(Dissolving(), [BOX, Box(frame, 180, 142, 80, 56)])

    (first, second) = result.shots
    assert "dissolve" == second.begins
    assert (60, 85) == pytest.approx((second.start, second.whole), abs=2)
    assert (first.end, second.whole) in [(s.start, s.end) for s in result.unwatched if s.cause == Cause.BLENDED]
    assert not any(s.start < second.whole and s.end > second.start for s in result.watched)
    assert any(s.start == second.whole for s in result.watched)
    assert [30] == pytest.approx([flag.onset for flag in result.flags], abs=4)


def test_a_held_pull_is_flagged_once_with_its_onset_and_its_release():
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.08), [BOX])

    (flag,) = [flag for flag in result.flags if flag.flagged]
    assert pytest.approx(75, abs=2) == flag.onset
    assert flag.release is not None
    assert pytest.approx(125, abs=3) == flag.release
    assert pytest.approx(0.08, rel=0.1) == flag.pull
    assert pytest.approx(0, abs=5) == flag.direction_deg


def test_a_still_abdomen_gives_no_flag_and_is_watched_from_end_to_end():
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.0), [BOX])

    assert () == tuple(flag for flag in result.flags if flag.flagged)
    assert [(0, 200)] == [(span.start, span.end) for span in result.watched]


def test_a_shot_without_an_outline_is_unwatched_and_says_so():
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.1), [])

    assert ["no outline was drawn in this shot"] == [span.why for span in result.unwatched]
    assert () == result.flags


def test_while_something_lies_over_the_abdomen_it_is_not_watched_and_afterwards_it_is_again():
    result = scan(MadeFilm(onset=99.0, release=99.5, pull=0.0, covered=(80, 120)), [BOX])

    (hidden,) = result.unwatched
    assert 80 == hidden.start
    assert pytest.approx(120, abs=6) == hidden.end
    assert "covered" in hidden.why


def test_an_outline_drawn_in_the_middle_of_a_shot_is_followed_back_to_its_beginning():
    result = scan(MadeFilm(onset=2.0, release=3.5, pull=0.1), [Box(150, 120, 92, 80, 56)])

    assert [(0, 200)] == [(span.start, span.end) for span in result.watched]
    (flag,) = [flag for flag in result.flags if flag.flagged]
    assert pytest.approx(50, abs=2) == flag.onset


def test_the_release_belongs_to_its_pull_also_when_the_outline_was_drawn_between_them():
    drawn_while_held = Box(100, 126.4, 92, 80, 56)

    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.08), [drawn_while_held])

    (flag,) = [flag for flag in result.flags if flag.flagged]
    assert pytest.approx(75, abs=2) == flag.onset
    assert flag.release is not None
    assert pytest.approx(125, abs=3) == flag.release


def test_the_quick_end_of_a_slow_release_is_no_pull():
    film = MadeFilm(onset=3.0, release=90, pull=0.25)
    slowly = np.interp(film.times, [4.5, 5.3, 5.9, 6.05], [1.0, 0.55, 0.45, 0.0])
    film._aside = film._aside * slowly

    flags = [flag for flag in scan(film, [BOX]).flags if flag.flagged]

    assert [pytest.approx(75, abs=2)] == [flag.onset for flag in flags]


def test_an_abdomen_that_comes_back_at_another_place_is_found_there():
    film = MadeFilm(onset=90, release=95, pull=0.0)
    picture = next(film.frames())[1]
    away = np.clip(film._noise[0] * 3 + 120, 0, 255).astype(np.uint8)
    elsewhere = np.roll(picture, (-40, 70), axis=(0, 1))
    follower = Follower(picture, (BOX.x, BOX.y, BOX.w, BOX.h))

    looks = [follower.follow(p, Similarity(), 0.04) for p in [picture] * 10 + [away] * 10 + [elsewhere] * 30]

    assert looks[15].lost
    assert not looks[-1].lost
    assert pytest.approx(abs(follower.middle + complex(70, -40) - looks[-1].place.c), abs=1.0) == 0


def test_every_frame_is_either_watched_or_not_and_never_both():
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.1, covered=(20, 40)), [BOX])
    spans = sorted((span.start, span.end) for span in (*result.watched, *result.unwatched))

    assert 0 == spans[0][0]
    assert 200 == spans[-1][1]
    assert all(a[1] == b[0] for a, b in itertools.pairwise(spans))


def test_a_flag_says_why_in_a_sentence_and_names_the_parameters_that_made_it():
    result = scan(MadeFilm(onset=3.0, release=5.0, pull=0.1), [BOX])

    assert DEFAULT == result.parameters
    (flag,) = [flag for flag in result.flags if flag.flagged]
    assert flag.because.startswith("The abdomen was drawn by 10 % of its length")


def test_a_stop_that_was_asked_for_goes_through():
    class Stop:
        def advance(self, done: int, total: int) -> None:
            if done > 20:
                raise Cancelled

    with pytest.raises(Cancelled):
        scan(MadeFilm(onset=3.0, release=5.0, pull=0.1), [BOX], progress=Stop())


def test_pictures_of_outlines_that_have_ended_are_let_go():
    def kept_at_the_end(outlines: int) -> int:
        """How many cut-out pictures are held when the last frame has been followed."""
        held = []

        class Count:
            def advance(self, done: int, total: int) -> None:
                if done == total:
                    held.append(sum(isinstance(thing, Sight) for thing in gc.get_objects()))

        film = MadeFilm(onset=99.0, release=99.5, pull=0.0, seconds=16.0)
        scan(film, [replace(BOX, frame=round(k * 400 / outlines)) for k in range(outlines)], progress=Count())
        return held[-1]

    assert kept_at_the_end(4) <= kept_at_the_end(1)


def test_large_pictures_are_followed_back_in_smaller_blocks_with_the_same_outcome(monkeypatch):
    asked: list[int] = []

    class Counted(MadeFilm):
        def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
            if stop is not None:
                asked.append(stop - start)
            return super().frames(start, stop)

    outcomes = []
    for held in (128e6, 50 * 320 * 240):
        monkeypatch.setattr("clipmark.motion.scan._HELD", held)
        asked.clear()
        result = scan(Counted(onset=2.0, release=3.5, pull=0.1), [replace(BOX, frame=150)])
        outcomes.append([(flag.onset, flag.full, flag.score) for flag in result.flags])

    assert max(asked) <= 50
    assert outcomes[0] == outcomes[1]
