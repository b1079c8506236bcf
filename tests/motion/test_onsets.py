import mir_eval
import numpy as np
import pytest

from clipmark.motion.rhythm.onsets import onsets

RATE = 22_050


def taps(seed, seconds=12):
    """Taps in bouts of 2 to 12 a second, no two alike; the sound and the true times."""
    rng = np.random.default_rng(seed)
    sound, true, at = np.zeros(RATE * seconds), [], 1.0
    while at < seconds - 1:
        rate = rng.uniform(2, 12)
        for _ in range(rng.integers(5, 25)):
            if at > seconds - 1:
                break
            t = np.arange(int(0.05 * RATE)) / RATE
            hiss = rng.normal(size=len(t)) * np.exp(-t / rng.uniform(0.004, 0.01))
            knock = hiss * 0.7 + np.sin(2 * np.pi * rng.uniform(150, 700) * t) * np.exp(-t / 0.015)
            start = int(at * RATE)
            sound[start : start + len(t)] += rng.uniform(0.4, 1) * knock * np.minimum(1, t / 0.0005)
            true.append(at)
            at += (1 + rng.normal() * 0.03) / rate
        at += rng.uniform(0.6, 1.5)
    return sound, np.array(true)


def room(seed, n, decibels_below):
    rng = np.random.default_rng(seed)
    noise = np.cumsum(rng.normal(size=n)) * 0.02 + rng.normal(size=n)
    return noise / noise.std() * 0.5 * 10 ** (-decibels_below / 20)


def voice(seed, n, loud):
    """Speech-like: a gliding buzz shaped by three moving formants, in syllables with pauses, some with a hiss."""
    rng = np.random.default_rng(seed)
    out, at = np.zeros(n), 0
    while at < n - RATE // 2:
        length = int(rng.uniform(0.09, 0.3) * RATE)
        t = np.arange(length) / RATE
        pitch = np.linspace(rng.uniform(90, 200), rng.uniform(90, 200), length)
        phase = 2 * np.pi * np.cumsum(pitch) / RATE
        formants = rng.uniform([300, 900, 2200], [800, 2000, 3200])
        partials = np.arange(1, 30)
        heights = sum(1 / (1 + ((partials * pitch.mean() - f) / 120) ** 2) for f in formants)
        buzz = (np.sin(phase[:, None] * partials) * heights).sum(axis=1)
        shape = np.minimum(1, t / 0.03) * np.minimum(1, (t[-1] - t) / 0.05)
        if rng.random() < 0.4:
            buzz += rng.normal(size=length) * heights.max() * np.exp(-((t - 0.03) ** 2) / 0.0008)
        out[at : at + length] += buzz * shape
        at += length + int(rng.choice([0.02, 0.05, 0.4]) * RATE)
    return out / abs(out).max() * loud


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("noise_db", "speech"), [(60, 0.0), (20, 0.0), (10, 0.0), (20, 0.3), (10, 0.5)])
def test_taps_are_heard_under_room_noise_and_speech(seed, noise_db, speech):
    """Judged by mir_eval's onset measure at 50 ms."""
    sound, true = taps(seed)
    sound = sound + room(seed, len(sound), noise_db) + (voice(seed, len(sound), speech) if speech else 0)

    found = onsets(sound.astype(np.float32), RATE)

    assert mir_eval.onset.f_measure(true, found, window=0.05)[0] >= 0.95


def test_noise_and_silence_hold_no_taps():
    assert 0 == len(onsets(room(3, RATE * 10, 0).astype(np.float32), RATE))
    assert 0 == len(onsets(np.zeros(RATE * 2, np.float32), RATE))
    assert 0 == len(onsets(np.zeros(3, np.float32), RATE))


def test_stereo_is_a_callers_mistake():
    with pytest.raises(ValueError, match="one channel"):
        onsets(np.zeros((2, 100), np.float32), RATE)
