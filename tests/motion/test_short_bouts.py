"""Short bouts: five strikes at an even rate, among knocks and speech, or somewhere in the picture."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from clipmark.motion.rhythm.agreement import settle_double
from clipmark.motion.rhythm.beating import beatings, beatings_of
from clipmark.motion.rhythm.grid import Piece
from clipmark.motion.rhythm.heard import heard_bouts
from clipmark.motion.rhythm.trains import all_trains, trains_in
from clipmark.motion.rhythm.values import DOUBLE, Bout
from clipmark.progress import SILENT
from tests.film.courting import speech

RATE = 16_000


def sound(seed: int, bouts: list[tuple[float, float, int]], seconds: float = 12, voice: float = 0.0) -> np.ndarray:
    """Strikes of unequal loudness from (start, rate, count), single knocks, noise, and speech of this loudness."""
    rng = np.random.default_rng(seed)
    out = rng.normal(0, 0.01, int(seconds * RATE))
    hiss, tone = rng.normal(size=800), rng.uniform(200, 600)
    t = np.arange(800) / RATE

    def strike(at: float, loud: float, hz: float) -> None:
        one = (0.5 * hiss * np.exp(-t / 0.005) + np.sin(2 * np.pi * hz * t) * np.exp(-t / 0.015)) * loud
        out[int(at * RATE) : int(at * RATE) + 800] += one

    for start, rate, count in bouts:
        for k in range(count):
            strike(start + k / rate + rng.normal(0, 0.02) / rate, rng.uniform(0.3, 0.8), tone)
    for at in rng.uniform(0.5, seconds - 0.5, 6):
        strike(float(at), rng.uniform(0.2, 1.0), rng.uniform(100, 900))
    if voice:
        out += speech(rng, 3 * len(out), voice)[::3]
    return out.astype(np.float32)


@pytest.mark.parametrize("voice", [0.0, 0.3], ids=["quiet room", "speech"])
@pytest.mark.parametrize(("rate", "count"), [(3.5, 6), (6.0, 6), (11.0, 12)])
def test_a_short_bout_is_heard_among_knocks_and_speech(rate, count, voice):
    found = trains_in(sound(3, [(5.0, rate, count)], voice=voice), RATE)

    (train,) = [t for t in found if t.times[0] < 5.0 + count / rate and t.times[-1] > 5.0]
    assert rate == pytest.approx(train.rate_hz, rel=0.03)
    assert 5.0 == pytest.approx(train.times[0], abs=1.5 / rate)


def test_knocks_and_speech_without_a_bout_hold_hardly_any_train():
    false = sum(len(trains_in(sound(seed, [], voice=0.3), RATE)) for seed in range(5))

    assert false <= 2  # in a minute of speech


def test_trains_of_a_long_sound_are_those_of_its_pieces():
    bouts = [(118.2, 6.0, 12), (121.5, 9.0, 10)]  # one over the seam of two pieces, one just behind it
    found = all_trains(sound(1, bouts, seconds=125), RATE, 2.0)

    told = [(t.rate_hz, t.times[0]) for t in found if t.times[0] > 119]
    assert [(6.0, 120.2), (9.0, 123.5)] == [pytest.approx(pair, rel=0.02) for pair in told]


def test_a_long_regular_run_of_taps_that_is_no_train_is_told_too():
    strikes = np.arange(0.0, 8.0, 1 / 3)

    assert ["sound"] == [bout.source for bout in heard_bouts([], strikes)]


class Scene:
    """Ten seconds of a palp (a dark rod) on textured ground; it lifts at the strikes; a body walks past elsewhere."""

    width, height = 320, 180

    def __init__(self, strikes: list[float], rate: float = 30, uneven: bool = False, shaking: bool = False):
        rng = np.random.default_rng(7)
        n = int(10 * rate)
        gaps = rng.uniform(0.7, 1.3, n) / rate if uneven else np.full(n, 1 / rate)
        self.times = np.cumsum(gaps) - gaps[0]
        ground = cv2.GaussianBlur(rng.uniform(40, 160, (200, 340)).astype(np.float32), (0, 0), 2)
        s = np.array(strikes)
        sway = cv2.GaussianBlur(rng.normal(0, 6, (n, 2)), (1, 0), 4) if shaking else np.zeros((n, 2))
        y, x = np.mgrid[:200, :340].astype(np.float32)
        self._frames = []
        for i, t in enumerate(self.times):
            up = 0.0
            if s[0] <= t <= s[-1]:
                k = int(np.clip(np.searchsorted(s, t, side="right") - 1, 0, len(s) - 2))
                up = 4 * np.sin(np.pi * (t - s[k]) / (s[k + 1] - s[k])) ** 2
            palp = np.exp(-((x - 210) ** 2 / 30 + (y - 100 + up) ** 2 / 40))
            body = np.exp(-((x - 60 - 8 * t) ** 2 / 200 + (y - 50) ** 2 / 90))
            picture = ground * (1 - palp) * (1 - body) + 20 * palp + 15 * body
            moved = np.array([[1, 0, -10 + sway[i, 0]], [0, 1, -10 + sway[i, 1]]], np.float32)
            seen = cv2.warpAffine(picture, moved, (320, 180), borderMode=cv2.BORDER_REFLECT)
            self._frames.append(np.clip(seen + rng.normal(0, 2, seen.shape), 0, 255).astype(np.uint8))

    def frames(self) -> Iterator[tuple[int, np.ndarray]]:
        yield from enumerate(self._frames)


@pytest.mark.parametrize("shaking", [False, True], ids=["tripod", "handheld"])
@pytest.mark.parametrize(("rate", "count"), [(4.0, 5), (6.5, 9), (10.0, 10)])
def test_a_beating_palp_is_found_anywhere_in_the_picture(rate, count, shaking):
    strikes = [4.0 + k / rate for k in range(count)]

    (one,) = beatings(Scene(strikes, shaking=shaking), SILENT)

    assert rate == pytest.approx(one.bout.rate_hz, rel=0.03)
    assert (strikes[0], strikes[-1]) == pytest.approx((one.bout.start_s, one.bout.end_s), abs=0.25)
    assert (200 / 320, 90 / 180) == pytest.approx((one.place[0] + one.place[2] / 2, 0.5), abs=0.08)


def test_strikes_on_film_of_uneven_times_keep_their_rate():
    (one,) = beatings(Scene([4.0 + k / 7 for k in range(12)], uneven=True), SILENT)

    assert 7 == pytest.approx(one.bout.rate_hz, rel=0.03)


def test_a_body_that_walks_and_a_shaking_hand_are_no_bout():
    assert [] == beatings(Scene([99.0, 99.2], shaking=True), SILENT)


def test_the_sound_settles_which_of_two_rates_that_look_the_same_it_is():
    seen = Bout("picture", 1.0, 3.0, 6.0, 0.8, None, DOUBLE)
    heard = Bout("sound", 1.0, 3.1, 12.1, 0.9, 25)

    (told,) = settle_double([seen], [heard])

    assert (12.1, "") == (told.rate_hz, told.note)
    assert [seen] == settle_double([seen], [])


@pytest.mark.parametrize("seed", [2, 5, 8])
def test_the_still_noise_of_a_room_holds_no_train(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, 0.001, 16_000 * 20).astype(np.float32)

    assert [] == trains_in(noise, 16_000)


def test_a_strike_and_its_train_keep_how_they_sound():
    found = trains_in(sound(3, [(5.0, 6.0, 8)]), RATE)

    assert all(1.0 == pytest.approx(float(np.linalg.norm(train.timbre))) for train in found)


def test_a_restless_picture_holds_no_faint_bout():
    rng = np.random.default_rng(4)
    times = np.arange(0, 12, 0.04)
    levels = rng.normal(0, 1, (len(times), 1, 1)) * rng.normal(0, 6, (1, 45, 80)) + rng.normal(0, 2, (300, 45, 80))

    told = [one.bout for one in beatings_of(Piece(times, levels.astype(np.float32), (0.0, 13.0)))]

    assert [] == [bout for bout in told if bout.regularity < 0.72]
