"""Sound from any second on is the sound that a whole reading gives there."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from clipmark.media.clip import Clip, open_clip
from clipmark.media.sound.clip_sound import read_sound
from clipmark.media.sound.stream import sound_from
from tests import made

RATE = 16_000


@pytest.fixture
def clip(tmp_path: Path) -> Clip:
    """Four seconds of film and noise; the noise tells every place from every other."""
    noise = np.random.default_rng(1).uniform(-0.8, 0.8, 4 * RATE).astype(np.float32)
    film = made.film(tmp_path / "noise.mkv", [40 * n for n in range(100)], sound=noise, sound_rate=RATE)
    return open_clip(film.path)


@pytest.mark.parametrize("start", [Fraction(0), Fraction(1, 3), Fraction(9, 4), Fraction(39, 10)])
def test_sound_begins_with_the_sample_of_the_asked_second(clip: Clip, start: Fraction):
    whole = read_sound(clip)
    assert whole is not None
    heard = np.concatenate(list(sound_from(clip, start, RATE))) / 32768

    expected = whole.between(start, start + Fraction(1, 20))
    assert np.abs(expected - heard[: len(expected)]).max() < 2e-4


def test_sound_lasts_as_long_as_the_picture_and_is_silent_where_there_is_none(tmp_path: Path):
    noise = np.full(RATE, 0.5, np.float32)
    film = made.film(tmp_path / "short.mkv", [40 * n for n in range(50)], sound=noise, sound_rate=RATE)
    heard = np.concatenate(list(sound_from(open_clip(film.path), Fraction(0), RATE)))

    assert 2 * RATE == len(heard)
    assert 0 == np.abs(heard[RATE + 100 :]).max()


def test_silent_film_gives_no_sound(tmp_path: Path):
    film = made.film(tmp_path / "silent.mkv", [0, 40, 80])

    assert [] == list(sound_from(open_clip(film.path), Fraction(0), RATE))
