"""Sound as numbers, each sample at its exact place in the film's time."""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import film_recipes as recipes
import numpy as np
import pytest

from clipmark.media.clip import open_clip
from clipmark.media.sound.clip_sound import Sound, _Laid, read_sound, sane
from tests import made

needs_ffmpeg = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg makes the films of this test")


def clicks(at: list[float], seconds: float, rate: int = 16000) -> np.ndarray:
    """Silence with single loud samples."""
    sound = np.zeros(round(seconds * rate), np.float32)
    sound[[round(moment * rate) for moment in at]] = 0.9
    return sound


def heard(sound: Sound) -> list[Fraction]:
    """Seconds from the first frame at which the clicks lie."""
    return [sound.start + Fraction(int(place), sound.rate) for place in np.flatnonzero(np.abs(sound.samples) > 0.5)]


def test_sound_comes_back_sample_for_sample(tmp_path: Path) -> None:
    wave = np.sin(np.arange(20000) / 16000 * 2 * np.pi * 220).astype(np.float32) / 2
    clip = open_clip(made.film(tmp_path / "film.mkv", range(0, 1250, 50), sound=wave).path)

    sound = read_sound(clip)

    assert sound is not None
    assert (16000, 0, 20000) == (sound.rate, sound.start, len(sound.samples))
    assert np.abs(sound.samples - wave).max() <= 1 / 32768


def test_a_click_lies_where_it_was_heard_also_when_the_picture_starts_later(tmp_path: Path) -> None:
    film = made.film(tmp_path / "film.mkv", range(300, 1500, 40), sound=clicks([0.1, 0.75], 1.5))

    sound = read_sound(open_clip(film.path))

    assert sound is not None
    assert [Fraction(-200, 1000), Fraction(450, 1000)] == heard(sound)


def test_a_silent_film_has_no_sound(tmp_path: Path) -> None:
    clip = open_clip(made.film(tmp_path / "film.mkv", [0, 40]).path)

    assert clip.sound is None
    assert read_sound(clip) is None


def test_sound_in_another_rate_keeps_its_place(tmp_path: Path) -> None:
    film = made.film(tmp_path / "film.mkv", range(0, 2000, 40), sound=clicks([1.25], 2))

    sound = read_sound(open_clip(film.path), rate=8000)

    assert sound is not None
    assert (8000, 16000) == (sound.rate, len(sound.samples))
    assert 10000 == int(np.argmax(np.abs(sound.samples)))


def test_a_stretch_of_sound_is_cut_out_exactly_and_is_silent_where_there_is_none() -> None:
    sound = Sound(np.arange(1, 11, dtype=np.float32), 10, Fraction(1, 2))

    assert [0, 0, 1, 2] == sound.between(Fraction(3, 10), Fraction(7, 10)).tolist()
    assert [10, 0] == sound.between(Fraction(14, 10), Fraction(16, 10)).tolist()
    assert [] == sound.between(2, 1).tolist()
    assert Fraction(3, 2) == sound.end


@needs_ffmpeg
@pytest.mark.parametrize(("offset", "begins"), [("0.7", 0.7), ("-0.7", -0.7)])
def test_sound_that_starts_late_or_early_is_placed_by_the_files_times(
    tmp_path: Path, offset: str, begins: float
) -> None:
    tone = ("-f", "lavfi", "-i", "sine=frequency=440:duration=3:sample_rate=16000")
    options = ("-c:v", "ffv1", "-pix_fmt", "gray", "-c:a", "pcm_s16le")
    path = recipes.encode(
        tmp_path, "film.mkv", *options, frames=50, size=(64, 48), before=("-itsoffset", offset, *tone)
    )

    sound = read_sound(open_clip(path))

    assert sound is not None
    assert begins == pytest.approx(float(sound.start), abs=0.001)
    assert begins + 3 == pytest.approx(float(sound.end), abs=0.001)


@needs_ffmpeg
def test_sound_of_several_channels_is_their_mean(tmp_path: Path) -> None:
    both = ("-f", "lavfi", "-i", "aevalsrc=0.5|-0.25:duration=1:sample_rate=8000")
    path = recipes.encode(
        tmp_path,
        "film.mkv",
        "-c:v",
        "ffv1",
        "-pix_fmt",
        "gray",
        "-c:a",
        "pcm_s16le",
        frames=25,
        size=(64, 48),
        before=both,
    )

    sound = read_sound(open_clip(path))

    assert sound is not None
    assert 0.125 == pytest.approx(float(sound.samples.mean()), abs=1e-4)
    assert 8000 == len(sound.samples)


@needs_ffmpeg
def test_a_gap_in_the_sound_becomes_silence_and_what_follows_stays_in_place(tmp_path: Path) -> None:
    tone = ("-f", "lavfi", "-i", "sine=frequency=440:duration=4:sample_rate=16000")
    whole = recipes.encode(
        tmp_path,
        "whole.mkv",
        "-c:v",
        "ffv1",
        "-pix_fmt",
        "gray",
        "-c:a",
        "pcm_s16le",
        frames=100,
        size=(64, 48),
        before=tone,
    )
    gap = recipes.copied(tmp_path, "gap.mkv", whole, "-bsf:a", "noise=drop='between(pts,1000,2000)'")

    sound = read_sound(open_clip(gap))

    assert sound is not None
    assert 4 == pytest.approx(float(sound.end), abs=0.02)
    assert 0 == np.abs(sound.between(1.2, 1.8)).max()
    assert 0.05 < np.abs(sound.between(2.2, 2.4)).max()


class Stated:
    """A frame of sound as the decoder gives it: one second of a tone, at a stated time."""

    def __init__(self, at: float, rate: int = 8_000):
        self.pts, self.time_base, self.sample_rate = round(at * 1000), Fraction(1, 1000), rate
        self.layout, self.format = SimpleNamespace(nb_channels=1), SimpleNamespace(is_planar=True)

    def to_ndarray(self) -> np.ndarray:
        return np.full((1, self.sample_rate), 0.5, np.float32)


def laid(*frames: Stated, until: int = 3_600) -> int:
    parts = _Laid(None, Fraction(until))
    for frame in frames:
        if not parts.lay(frame):  # type: ignore[arg-type]
            break
    sound = parts.sound(Fraction(0))
    return 0 if sound is None else len(sound.samples)


def test_a_gap_becomes_silence_and_a_time_beyond_all_reason_ends_the_sound() -> None:
    assert 11 * 8_000 == laid(Stated(0), Stated(10))
    assert 8_000 == laid(Stated(0), Stated(5_000), Stated(1))


def test_damaged_times_cannot_fill_the_memory_with_silence() -> None:
    frames = (Stated(1_000.0 * n, 200_000) for n in range(10_000))

    assert laid(*(next(frames) for _ in range(3)), until=10**9) <= 100_000_000 + 3 * 200_000


def test_a_frame_of_sound_that_states_dozens_of_channels_is_damage_and_left_out() -> None:
    good, bad = Stated(0), Stated(1)
    bad.layout = SimpleNamespace(nb_channels=25)

    assert [good] == list(sane([good, bad]))  # type: ignore[list-item]
