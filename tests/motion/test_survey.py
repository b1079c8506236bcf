"""The survey's parts on arrays with known truth."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
import pytest

from clipmark.motion.survey.camera import camera_move
from clipmark.motion.survey.change import change
from clipmark.motion.survey.look import Look, look_size
from clipmark.motion.survey.packets import packet_lane
from clipmark.motion.survey.run import survey

RATE = 20


def ground(seed: int, width: int = 336, height: int = 240) -> np.ndarray:
    rng = np.random.default_rng(seed)
    noise = sum(
        cv2.GaussianBlur(rng.normal(0, 30 * s, (height, width)).astype(np.float32), (0, 0), s) for s in (1, 3, 9)
    )
    return np.clip(120 + noise, 20, 230).astype(np.uint8)


class ArrayFilm:
    """Grey pictures made on demand, with noise; every 40th is a keyframe. `at(second)` says where the animal is."""

    def __init__(self, seconds: float, at, sizes=None, light=lambda t: 1.0, view=lambda t: 0, shift=lambda t: 0.0):
        self.times = np.arange(int(seconds * RATE)) / RATE
        self.keyframe = np.arange(len(self.times)) % 40 == 0
        self.order = np.arange(len(self.times))
        self.sizes = np.full(len(self.times), 1000) if sizes is None else sizes(self.times)
        self.size = (336, 240)
        self._at, self._light, self._view, self._shift = at, light, view, shift
        self._grounds = [ground(1, 360, 260), ground(2, 360, 260)]
        self._noise = np.random.default_rng(9).normal(0, 2.0, (250, 350)).astype(np.float32)
        self._animal = cv2.resize(ground(3, 40, 24), (30, 18))

    def picture(self, number: int) -> np.ndarray:
        t = self.times[number]
        canvas = self._grounds[self._view(t)].copy()
        x, y = self._at(t)
        canvas[int(y) : int(y) + 18, int(x) : int(x) + 30] = 40 + self._animal // 4
        matrix = np.array([[1, 0, -10 + self._shift(t)], [0, 1, -10]], np.float32)
        seen = cv2.warpAffine(canvas, matrix, (336, 240)).astype(np.float32) * self._light(t)
        noise = self._noise[number % 7 : number % 7 + 240, number % 13 : number % 13 + 336]
        return np.clip(seen + noise, 0, 255).astype(np.uint8)

    def keys(self, numbers: Sequence[int]) -> Iterator[tuple[int, np.ndarray]]:
        return ((n, self.picture(n)) for n in numbers)

    def run(self, start: int, stop: int) -> Iterator[tuple[int, np.ndarray]]:
        return ((n, self.picture(n)) for n in range(start, stop))


def walking(t: float) -> tuple[float, float]:
    """Still, but for the seconds from 5 to 8."""
    return 100 + 20 * np.clip(t - 5, 0, 3), 120


def still(t: float) -> tuple[float, float]:
    return 100, 120


def test_a_walk_is_a_stretch_and_stillness_is_none() -> None:
    found = survey(ArrayFilm(12, walking), 12.0)

    assert [(5.0, 8.0)] == [(one.start_s, one.end_s) for one in found.moving]


def test_what_moves_from_the_first_second_to_the_last_is_no_rest() -> None:
    found = survey(ArrayFilm(8, lambda t: (60 + 20 * t, 120)), 8.0)

    assert [(0.0, 8.0)] == [(one.start_s, one.end_s) for one in found.moving]


def test_the_place_of_what_moves_is_told_in_pixels_of_the_film() -> None:
    found = survey(ArrayFilm(9, walking), 9.0)

    x, y, w, h = found.moving[0].box or (0, 0, 0, 0)
    assert x == pytest.approx(90, abs=16)
    assert x + w == pytest.approx(180, abs=16)
    assert y == pytest.approx(110, abs=16)
    assert h < 50


def test_a_step_of_the_light_is_told_and_is_no_movement() -> None:
    found = survey(ArrayFilm(12, still, light=lambda t: 1.0 if t < 5.5 else 0.75), 12.0)

    assert () == found.moving
    assert [5.5] == pytest.approx(list(found.light_s), abs=0.1)


def test_a_cut_is_told_to_the_frame() -> None:
    found = survey(ArrayFilm(12, still, view=lambda t: int(t >= 5.35)), 12.0)

    assert [5.35] == pytest.approx(list(found.cuts_s))


def test_a_camera_that_is_knocked_is_no_animal() -> None:
    found = survey(ArrayFilm(12, still, shift=lambda t: 7.0 if t > 5.5 else 0.0), 12.0)

    assert () == found.moving
    assert 1 == len(found.camera)


def test_seconds_in_which_the_focus_hunts_are_said_to_be_unsure() -> None:
    film = ArrayFilm(30, still)
    sharp = film.picture
    film.picture = lambda n: (  # type: ignore[method-assign]
        cv2.GaussianBlur(sharp(n), (0, 0), 6) if 10.3 < film.times[n] < 10.9 else sharp(n)
    )

    found = survey(film, 30.0)

    assert [(10.0, 11.0)] == [(one.start_s, one.end_s) for one in found.unsure]
    assert () == found.moving


def test_the_move_of_the_camera_is_found_below_a_pixel() -> None:
    a = ground(1, 360, 260)
    matrix = np.array([[1.01, 0.0, 3.3], [0, 1.01, -2.0]], np.float32)
    width, height = look_size(360, 260)
    first, second = a[:height, :width], cv2.warpAffine(a, matrix, (width, height))

    move = camera_move(Look(0, first), Look(1, second))

    middle = matrix @ np.array([(width - 1) / 2, (height - 1) / 2, 1]) - [(width - 1) / 2, (height - 1) / 2]
    assert 2 * move.numbers[[0, 3]] == pytest.approx(middle, abs=0.15)
    assert move.likeness > 0.85


def test_dimmer_light_leaves_no_difference() -> None:
    a = ground(1, 336, 240)
    dim = (a * 0.7).astype(np.uint8)

    assert float(np.median(change(Look(0, a), Look(1, dim)).energy)) < 0.5
    assert np.log(0.7) == pytest.approx(change(Look(0, a), Look(1, dim)).light, abs=0.06)


def test_packets_larger_than_their_kind_tell_when_something_moves() -> None:
    rng = np.random.default_rng(5)
    times = np.arange(2400) / 30
    keyframe = np.arange(2400) % 60 == 0
    sizes = np.where(keyframe, 60000, np.where(np.arange(2400) % 3 == 1, 2000, 700)) * rng.normal(1, 0.04, 2400)
    sizes[(times > 40) & (times < 42)] *= 1.6

    lane = packet_lane(times, sizes.astype(np.int64), keyframe, np.arange(2400))

    assert lane.tells
    assert {40, 41} == set(np.flatnonzero(lane.lane > 8).tolist())


def test_packets_that_never_differ_are_said_to_tell_nothing() -> None:
    rng = np.random.default_rng(5)
    sizes = rng.normal(5000, 200, 2400).astype(np.int64)

    lane = packet_lane(np.arange(2400) / 30, sizes, np.arange(2400) % 60 == 0, np.arange(2400))

    assert not lane.tells
    assert "do not tell" in lane.why


def test_only_what_moves_is_given_out_and_the_rest_is_said_to_be_not_searched() -> None:
    from clipmark.motion.result import FrameSpan, ScanResult
    from clipmark.motion.survey.searched import Searched, told_what_was_searched

    film = ArrayFilm(20, still)
    film.width, film.height = 336, 240
    film.frames = film.run
    part = Searched(film, [(8.0, 9.0)], [0])

    given = [number for number, _ in part.frames()]
    assert [*range(0, 10), *range(130, 210)] == given
    whole = ScanResult((), None, (), (FrameSpan(0, 400),), (), "x", 1.0)  # type: ignore[arg-type]
    told = told_what_was_searched(whole, part.inside)
    assert {"not searched"} == {span.why for span in told.unwatched}
    assert [(0, 10), (130, 210)] == [(span.start, span.end) for span in told.watched]


def test_two_things_that_move_are_kept_apart_and_are_told_to_come_together() -> None:
    from clipmark.motion.survey.things import happenings, things

    def pair(at: float, *boxes: tuple[int, int, int, int]):
        from types import SimpleNamespace

        return SimpleNamespace(end_s=at, held=tuple(SimpleNamespace(box=box, blocks=9) for box in boxes))

    her = (200, 100, 40, 40)
    pairs = [pair(1 + 0.5 * k, (10 + 8 * k, 100, 40, 40), her) for k in range(20)]

    found = things(pairs, 2.0, 2.0)
    told = happenings(found, (), 60.0, (640, 480))

    assert 2 == len(found)
    assert {"things 1 and 2 come together", "nobody moves"} == {span.what for span in told}
    (meeting,) = (span for span in told if "together" in span.what)
    assert 9.5 <= meeting.end_s <= 10.5
