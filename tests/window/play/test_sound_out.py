"""Sound to the loudspeaker, with a device made up for the test that plays only what the test lets it play."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from clipmark.media.clip import open_clip
from clipmark.window.play.sound_out import SoundOut
from tests import made

RATE = 16_000


class MadeDevice:
    rate = RATE

    def __init__(self, size: int = 4000):
        self._size, self._waiting, self.played, self.closed = size, b"", b"", False

    def free(self) -> int:
        return self._size - len(self._waiting)

    def size(self) -> int:
        return self._size

    def write(self, data: bytes) -> None:
        assert len(data) <= self.free()
        self._waiting += data

    def close(self) -> None:
        self.closed = True

    def play(self, samples: int) -> None:
        self.played += self._waiting[: samples * 2]
        self._waiting = self._waiting[samples * 2 :]


@pytest.fixture
def clip(tmp_path: Path):
    steps = np.repeat(np.arange(40, dtype=np.float32) / 64, RATE // 20)  # each twentieth of a second its own level
    return open_clip(
        made.film(tmp_path / "steps.mkv", [40 * n for n in range(50)], sound=steps, sound_rate=RATE).path
    )


@pytest.fixture
def out(qapp):
    made_out = SoundOut()
    yield made_out
    made_out.stop()
    made_out.deleteLater()


def test_what_still_waits_in_the_device_was_not_heard(out, clip, qtbot):
    device = MadeDevice()
    out.start(clip, Fraction(0), device)
    qtbot.waitUntil(lambda: device.free() == 0)

    assert 0.0 == out.seconds()
    device.play(800)
    assert pytest.approx(800 / RATE, abs=0.021) == out.seconds()


def test_the_first_sample_heard_is_that_of_the_place_where_the_film_stands(out, clip, qtbot):
    device = MadeDevice()
    out.start(clip, Fraction(1), device)
    qtbot.waitUntil(lambda: device.free() == 0)
    device.play(2)

    first = np.frombuffer(device.played, np.int16)[0] / 32768
    assert pytest.approx(20 / 64, abs=0.01) == first


def test_a_new_start_closes_the_device_before_it(out, clip, qtbot):
    first, second = MadeDevice(), MadeDevice()
    out.start(clip, Fraction(0), first)
    out.start(clip, Fraction(1), second)

    assert first.closed
    assert not second.closed


def test_nothing_is_heard_once_it_stopped(out, clip):
    out.start(clip, Fraction(0), MadeDevice())
    out.stop()

    assert None is out.seconds()
