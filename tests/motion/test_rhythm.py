from pathlib import Path

import numpy as np
import pytest

from clipmark.motion.rhythm.agreement import agreements, doubt_folded
from clipmark.motion.rhythm.gathering import gather
from clipmark.motion.rhythm.heard import sound_bouts
from clipmark.motion.rhythm.onsets import onsets
from clipmark.motion.rhythm.seen import picture_bouts
from clipmark.motion.rhythm.values import DOUBLE, NOT_RESOLVABLE, Bout, folded, half_rate


class Made:
    """A film in memory: a small dark palp that beats on textured ground from `start` to `end`."""

    def __init__(
        self, rate, hz, *, seed=1, start=2.0, end=7.0, seconds=9.0, uneven=False, flicker=0.0, sharp=False,
        wander=False,
    ):  # fmt: skip
        import cv2

        rng = np.random.default_rng(seed)
        count = int(seconds * rate)
        gaps = rng.uniform(0.6, 1.4, count) / rate if uneven else np.full(count, 1 / rate)
        self.times = np.cumsum(gaps) - gaps[0]
        self.height, self.width = 90, 160
        ground = cv2.GaussianBlur(rng.uniform(60, 120, (90, 160)).astype(np.float32), (0, 0), 2)
        y, x = np.mgrid[:90, :160]
        self._frames = []
        aimless = cv2.GaussianBlur(rng.normal(0, 8, (1, count)), (0, 0), 0.6)[0]
        for i, t in enumerate(self.times):
            swing = 6 * np.sin(2 * np.pi * hz * t)
            if sharp:  # down for a quarter of the stroke
                swing = 12 * max(0.0, np.sin(np.pi * 4 * (hz * t % 1))) * (hz * t % 1 < 0.25)
            swing = aimless[i] if wander else swing
            swing = swing if start <= t < end and not flicker else 0.0
            mask = np.exp(-((x - 80) ** 2 / 18 + (y - 45 - swing) ** 2 / 40))
            picture = ground * (1 - mask) + 30 * mask + flicker * np.sin(2 * np.pi * hz * t)
            self._frames.append(np.clip(picture + rng.normal(0, 2, mask.shape), 0, 255).astype(np.uint8))

    def frames(self):
        yield from enumerate(self._frames)


REGION = (60, 25, 40, 40)


@pytest.mark.parametrize("uneven", [False, True], ids=["even", "uneven"])
@pytest.mark.parametrize("hz", [2, 3.3, 5, 8, 12])
def test_the_rate_of_a_beating_palp_is_right_within_three_in_a_hundred(hz, uneven):
    film = Made(30, hz, uneven=uneven)

    (bout,) = picture_bouts(*gather(film, REGION))

    assert hz == pytest.approx(bout.rate_hz, rel=0.03)
    assert 2.0 == pytest.approx(bout.start_s, abs=0.3)
    assert 7.0 == pytest.approx(bout.end_s, abs=0.3)


@pytest.mark.parametrize(("rate", "hz"), [(25, 9), (25, 9.6), (25, 10.4), (25, 11), (30, 9), (30, 11.5), (50, 9)])
def test_sharp_strikes_whose_multiples_fold_are_counted_right(rate, hz):
    (bout,) = picture_bouts(*gather(Made(rate, hz, sharp=True), REGION))

    assert hz == pytest.approx(bout.rate_hz, rel=0.03)
    assert "" == bout.note


@pytest.mark.parametrize("hz", [5, 10])
def test_where_sharp_strikes_and_ones_twice_as_fast_look_the_same_it_is_said(hz):
    """At 25 a second, strikes of 10 Hz fall on the same five pictures again and again, as those of 5 Hz do."""
    (bout,) = picture_bouts(*gather(Made(25, hz, sharp=True), REGION))
    (even,) = picture_bouts(*gather(Made(25, hz), REGION))

    assert DOUBLE == bout.note or hz == pytest.approx(bout.rate_hz, rel=0.03)
    assert hz == pytest.approx(even.rate_hz, rel=0.03)
    assert "" == even.note


def test_a_palp_that_moves_at_random_has_no_rhythm():
    assert [] == [
        bout for seed in range(4) for bout in picture_bouts(*gather(Made(25, 5, seed=seed, wander=True), REGION))
    ]


def test_a_still_palp_has_no_rhythm():
    assert [] == picture_bouts(*gather(Made(30, 5, start=99), REGION))


def test_a_flicker_of_the_whole_picture_is_told_as_such():
    (bout,) = picture_bouts(*gather(Made(30, 4, flicker=12.0), REGION))

    assert "whole picture" in bout.note


def test_twenty_strokes_a_second_on_film_of_twenty_five_would_show_as_five():
    """TRADE vector TV12, calculated."""
    assert 5 == folded(20, 25)


def test_a_rate_that_is_only_the_fold_of_a_faster_one_is_not_printed():
    film = Made(25, 20, seconds=6, start=0, end=6)
    strikes = np.arange(0.0, 6.0, 1 / 20)
    cells, whole = gather(film, REGION)
    seen = picture_bouts(cells, whole)
    heard = sound_bouts(strikes, half_rate(film.times))

    (bout,) = doubt_folded(seen, heard, film.times)

    assert 5 == pytest.approx(seen[0].rate_hz, rel=0.03)
    assert bout.rate_hz is None
    assert NOT_RESOLVABLE in bout.note
    assert NOT_RESOLVABLE in heard[0].note


def test_a_missed_and_a_doubled_strike_do_not_move_the_rate():
    strikes = np.arange(0, 5, 1 / 6.0)
    strikes = np.sort(np.append(np.delete(strikes, 7), strikes[12] + 0.05))

    (bout,) = sound_bouts(strikes)

    assert 6.0 == pytest.approx(bout.rate_hz, rel=0.01)


def test_irregular_knocks_are_no_drumming():
    rng = np.random.default_rng(2)

    assert [] == sound_bouts(np.cumsum(rng.exponential(0.4, 40)))


def test_picture_and_sound_agree_only_where_the_taps_keep_to_one_place_of_the_stroke():
    film = Made(30, 5, start=0, end=9)
    cells, whole = gather(film, REGION)
    seen = picture_bouts(cells, whole)
    true_taps = np.arange(0.05, 9, 1 / 5)
    rng = np.random.default_rng(3)
    strangers = np.sort(rng.uniform(0, 9, len(true_taps)))
    claimed = [Bout("sound", 0.0, 9.0, 5.0, 0.9, len(strangers))]

    (agreed,) = agreements(cells, seen, sound_bouts(true_taps), true_taps)

    assert 5 == pytest.approx(agreed.rate_hz, rel=0.03)
    assert [] == agreements(cells, seen, claimed, strangers)


def test_a_region_beside_the_picture_is_a_callers_mistake():
    with pytest.raises(ValueError, match="outside"):
        gather(Made(30, 5, seconds=1), (500, 10, 20, 20))


LOOPS = Path("/usr/share/sonic-pi/samples")


@pytest.mark.skipif(not LOOPS.is_dir(), reason="needs Debian's package sonic-pi-samples (CC0 drum loops)")
@pytest.mark.parametrize(("name", "beats"), [("loop_amen_full", 16), ("loop_breakbeat", 4)])
def test_real_drums_keep_the_beat_that_their_length_says(name, beats):
    """CC0 loops of Debian's sonic-pi-samples: the beat is length / beats; drummers strike on halves and quarters."""
    import av

    with av.open(str(LOOPS / f"{name}.flac")) as container:
        to_mono = av.AudioResampler(format="fltp", layout="mono", rate=22_050)
        parts = [p.to_ndarray()[0] for f in container.decode(audio=0) for p in to_mono.resample(f)]
    sound = np.concatenate(parts)

    (bout,) = sound_bouts(onsets(sound, 22_050))

    strikes_a_beat = bout.rate_hz * len(sound) / 22_050 / beats
    assert round(strikes_a_beat) in (1, 2, 4)
    assert round(strikes_a_beat) == pytest.approx(strikes_a_beat, rel=0.03)
