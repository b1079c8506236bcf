"""Sound of a courtship: strikes on the ground, a room, somebody who speaks, knocks. Mono, 48 kHz, -1 to 1."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RATE = 48_000
Sound = NDArray[np.float32]


def strike(rng: np.random.Generator, loud: float) -> Sound:
    """One tap on bark or soil: a dull ring of 120-420 Hz with a short noisy start, 60 ms."""
    t = np.arange(int(0.06 * RATE)) / RATE
    ring = sum(np.sin(2 * np.pi * f * t) for f in rng.uniform(120, 420, 3))
    tap = rng.normal(0, 1, len(t)) * np.exp(-t / 0.002)
    return np.asarray(loud * (0.4 * ring * np.exp(-t / 0.016) + 0.5 * tap), np.float32)


def knock(rng: np.random.Generator) -> Sound:
    """A knock on the table: lower and longer than a strike."""
    t = np.arange(int(0.25 * RATE)) / RATE
    return np.asarray(0.5 * np.sin(2 * np.pi * rng.uniform(60, 110) * t) * np.exp(-t / 0.05), np.float32)


def speech(rng: np.random.Generator, seconds: float) -> Sound:
    """Speech-like sound: a falling voice, uneven syllables 3 to 6 a second, two moving formants."""
    n = int(seconds * RATE)
    t = np.arange(n) / RATE
    pitch = rng.uniform(105, 210) * (1 + 0.12 * np.sin(2 * np.pi * 0.4 * t) - 0.1 * t / seconds)
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    voice = np.zeros(n)
    formants = (500 + 220 * np.sin(2 * np.pi * 1.3 * t), 1500 + 500 * np.sin(2 * np.pi * 0.9 * t + 1))
    for harmonic in range(1, 22):
        f = harmonic * pitch
        gain = sum(np.exp(-(((f - form) / 180) ** 2)) for form in formants) + 0.05
        voice += gain * np.sin(harmonic * phase) / harmonic**0.4
    envelope = np.zeros(n)
    at = 0.0
    while at < seconds:
        takes, pause = rng.uniform(0.1, 0.28), rng.choice([0.03, 0.06, 0.3], p=[0.5, 0.35, 0.15])
        a, b = int(at * RATE), min(int((at + takes) * RATE), n)
        if b > a:
            envelope[a:b] = np.hanning(b - a) * rng.uniform(0.5, 1.0)
        at += takes + pause
    voice *= envelope
    return np.asarray(0.12 * voice / (np.abs(voice).max() + 1e-9), np.float32)


def room(rng: np.random.Generator, seconds: float, loud: float) -> Sound:
    """Hum and hiss of a room."""
    n = int(seconds * RATE)
    hiss = np.convolve(rng.normal(0, 1, n), np.ones(6) / 6, "same")
    hum = np.sin(2 * np.pi * 50 * np.arange(n) / RATE) + 0.4 * np.sin(2 * np.pi * 150 * np.arange(n) / RATE)
    return np.asarray(loud * (hiss + 0.5 * hum), np.float32)


def add(track: Sound, piece: Sound, at: float) -> None:
    """Mix `piece` into `track` at `at` seconds, in place."""
    a = int(at * RATE)
    b = min(a + len(piece), len(track))
    if 0 <= a < b:
        track[a:b] += piece[: b - a]
