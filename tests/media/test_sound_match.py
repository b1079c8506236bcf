"""Two cameras in one room: the shift that is put into made sound is the shift that is proposed."""

import numpy as np
import pytest

from clipmark.media.sound.loudness import levels
from clipmark.media.sound.match import NothingToCompare, match_sounds

RATE = 8_000


def taps(seconds: float, at: list[float], seed: int, gain: float = 0.5, noise: float = 0.01) -> np.ndarray:
    """A quiet room in which something is struck at the given times."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0, noise, int(seconds * RATE))
    for moment in at:
        first = int(moment * RATE)
        ring = np.arange(min(int(0.05 * RATE), len(sound) - first)) / RATE
        sound[first : first + len(ring)] += gain * np.exp(-ring / 0.01) * np.sin(2 * np.pi * 900 * ring)
    return sound.astype(np.float32)


def struck(seed: int, count: int, until: float) -> list[float]:
    return sorted(np.random.default_rng(seed).uniform(0.2, until, count).tolist())


@pytest.mark.parametrize("shift", [0.0, 3.217, 11.4, -4.093])
def test_the_shift_between_two_cameras_is_found_to_two_milliseconds(shift: float) -> None:
    times = struck(1, 40, 38)
    first = taps(40, times, seed=2)
    second = taps(30, [t - shift for t in times if 0 <= t - shift < 29.9], seed=3, gain=0.1, noise=0.004)

    match = match_sounds(first, second, RATE)

    assert match.shift_s == pytest.approx(shift, abs=0.002)
    assert match.clear


def test_two_rooms_give_no_clear_place() -> None:
    match = match_sounds(taps(40, struck(4, 40, 39), seed=5), taps(30, struck(6, 30, 29), seed=7), RATE)

    assert not match.clear


def test_silence_is_said_in_words() -> None:
    with pytest.raises(NothingToCompare, match="silent"):
        match_sounds(np.zeros(10 * RATE, np.float32), taps(10, [1, 2], seed=1), RATE)
    with pytest.raises(NothingToCompare, match=r"only 1\.0 s"):
        match_sounds(taps(1, [], seed=1), taps(10, [1, 2], seed=1), RATE)


def test_a_quiet_room_with_one_loud_moment_is_drawn_from_nothing_to_full() -> None:
    times, loud = levels(taps(8, [3.0], seed=8), RATE)

    assert times[int(np.argmax(loud))] == pytest.approx(3.0, abs=0.011)
    assert loud.max() == pytest.approx(1.0)
    assert np.median(loud) < 0.2
