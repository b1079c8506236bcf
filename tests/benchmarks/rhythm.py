"""How well rhythm is measured, in picture and sound, on made film, made taps and real drums.

    python -m tests.benchmarks.rhythm               # all three tables
    python -m tests.benchmarks.rhythm --only sound

Picture: a palp that beats on textured ground for five seconds, evenly (a sine) or in sharp strikes (down for a
quarter of the stroke), at 24 to 50 frames a second, even and uneven times. Sound: taps of four kinds, 2 to 12 a
second, in three rooms (echoes die away within 0.05, 0.25 and 0.5 s), under room noise and speech (espeak-ng where it
is installed), judged by mir_eval's onset measure at 50 ms; levels are those of the strongest tap against noise or
voice.
"""

from __future__ import annotations

import argparse
import io
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from clipmark.motion.rhythm.gathering import gather
from clipmark.motion.rhythm.heard import sound_bouts
from clipmark.motion.rhythm.onsets import onsets
from clipmark.motion.rhythm.seen import picture_bouts

RATE = 22_050
FILM_RATES = (24, 25, 30, 50)
TAPS = ("hard", "soft", "dull", "scratchy")
ROOMS = {"dry": 0.05, "room": 0.25, "hall": 0.5}
LOOPS = Path("/usr/share/sonic-pi/samples")


class Palp:
    """A small dark palp that beats at `hz` from 2 s to 7 s of 9."""

    width, height = 160, 90

    def __init__(self, rate: float, hz: float, sharp: bool, uneven: bool, seed: int):
        import cv2

        rng = np.random.default_rng(seed)
        count = int(9 * rate)
        gaps = rng.uniform(0.6, 1.4, count) / rate if uneven else np.full(count, 1 / rate)
        self.times = np.cumsum(gaps) - gaps[0]
        ground = cv2.GaussianBlur(rng.uniform(60, 120, (90, 160)).astype(np.float32), (0, 0), 2)
        y, x = np.mgrid[:90, :160]
        self._frames = []
        start = rng.uniform(0, 1)
        for t in self.times:
            turn = (hz * t + start) % 1.0
            down = max(0.0, np.sin(np.pi * turn / 0.25)) * 12 if sharp and turn < 0.25 else 0.0
            swing = down if sharp else 6 * np.sin(2 * np.pi * turn)
            swing = swing if 2 <= t < 7 else 0.0
            body = np.exp(-((x - 80) ** 2 / 18 + (y - 45 - swing) ** 2 / 40))
            picture = ground * (1 - body) + 30 * body
            self._frames.append(np.clip(picture + rng.normal(0, 2, body.shape), 0, 255).astype(np.uint8))

    def frames(self):  # type: ignore[no-untyped-def]
        yield from enumerate(self._frames)


def picture_case(rate: float, hz: float, sharp: bool, uneven: bool, seed: int) -> float | None:
    """The rate found in hertz: of the bout that covers most of the beating; None where there is none."""
    film = Palp(rate, hz, sharp, uneven, seed)
    bouts = picture_bouts(*gather(film, (60, 25, 40, 40)))
    best = max(bouts, key=lambda b: min(b.end_s, 7) - max(b.start_s, 2), default=None)
    return best.rate_hz if best is not None and min(best.end_s, 7) - max(best.start_s, 2) > 2.5 else None


def picture_table(seeds: int = 1) -> Iterator[str]:
    yield ("frames/s | stroke | times | found | right within 3 % | worst of those | wrong: true -> told")
    for rate in FILM_RATES:
        for sharp in (False, True):
            for uneven in (False, True):
                top = min(12.0, 0.46 * rate)
                rates = [hz for hz in (2, 3, 4, 5, 6.2, 7, 8, 9, 9.6, 10, 10.4, 11, 11.5, 12) if hz <= top]
                told = [(hz, picture_case(rate, hz, sharp, uneven, 10 * s + 1)) for hz in rates for s in range(seeds)]
                found = [(hz, got) for hz, got in told if got is not None]
                right = [abs(got / hz - 1) for hz, got in found if abs(got / hz - 1) <= 0.03]
                wrong = ", ".join(f"{hz:g} -> {got:.2f}" for hz, got in found if abs(got / hz - 1) > 0.03)
                yield (
                    f"{rate} | {'sharp' if sharp else 'even'} | {'uneven' if uneven else 'even'} | "
                    f"{len(found)} of {len(told)} | {len(right)} of {len(found)} | "
                    f"{100 * max(right, default=0):.1f} % | {wrong or '-'}"
                )


def tap(rng: np.random.Generator, kind: str) -> np.ndarray:
    """One strike, cut off after 60 ms, strongest at 1."""
    t = np.arange(int(0.06 * RATE)) / RATE
    hiss = rng.normal(size=len(t))
    if kind == "hard":
        sound = hiss * np.exp(-t / 0.004) + np.sin(2 * np.pi * rng.uniform(300, 900) * t) * np.exp(-t / 0.01)
    elif kind == "soft":
        dull = np.convolve(hiss, np.ones(6) / 6, mode="same")
        sound = dull * np.minimum(1, t / 0.004) * np.exp(-t / 0.012)
    elif kind == "dull":
        sound = np.sin(2 * np.pi * rng.uniform(110, 260) * t) * np.exp(-t / 0.02) + 0.15 * hiss * np.exp(-t / 0.005)
    else:
        sound = hiss * np.exp(-t / 0.012) * (0.6 + 0.4 * np.sign(np.sin(2 * np.pi * 160 * t)))
    return sound * np.minimum(1, t / 0.0004) / np.abs(sound).max()


def taps(rng: np.random.Generator, kind: str, room: str, seconds: float = 12) -> tuple[np.ndarray, np.ndarray]:
    """Bouts of 2 to 12 strikes a second in a room, and the true times."""
    sound, true, at = np.zeros(int(RATE * seconds)), [], 1.0
    while at < seconds - 1:
        rate = rng.uniform(2, 12)
        for _ in range(int(rng.integers(5, 25))):
            if at > seconds - 1:
                break
            one, start = tap(rng, kind), int(at * RATE)
            sound[start : start + len(one)] += rng.uniform(0.5, 1) * one[: len(sound) - start]
            true.append(at)
            at += (1 + rng.normal() * 0.03) / rate
        at += rng.uniform(0.6, 1.5)
    length = int(ROOMS[room] * RATE)
    tail = rng.normal(size=length) * 10 ** (-3 * np.arange(length) / length) * 0.02  # 60 dB down at the end
    tail[0] = 1.0
    return np.convolve(sound, tail)[: len(sound)], np.array(true)


def noise(rng: np.random.Generator, n: int, below_db: float) -> np.ndarray:
    """Room noise, more of it low, so far below the strongest tap (effective level against peak)."""
    made = np.cumsum(rng.normal(size=n)) * 0.02 + rng.normal(size=n)
    made -= made.mean()
    return made / made.std() * 0.35 * 10 ** (-below_db / 20)


SAID = (
    "Here he comes. Wait, he has found her burrow. Look at the palps, do you see that? She taps back, she does. "
    "Keep the brush ready, please, and take your time. Two minutes now. Did you note that? Talk to me quietly."
)


def speech(rng: np.random.Generator, n: int, loud: float) -> np.ndarray:
    """A voice by espeak-ng, its loudest sample at `loud`; it begins anywhere and goes on all the time."""
    command = ["espeak-ng", "--stdout", "-s", str(int(rng.integers(140, 190))), "-p", str(int(rng.integers(20, 80)))]
    wave = subprocess.run([*command, SAID], check=True, capture_output=True).stdout
    voice = np.frombuffer(wave[wave.index(b"data") + 8 :][: len(wave) // 2 * 2 - 64], np.int16).astype(float)
    voice = np.resize(np.roll(voice, int(rng.integers(0, len(voice)))), n)
    return voice / np.abs(voice).max() * loud


CONDITIONS = (
    ("quiet", 60.0, 0.0), ("noise 20 dB below", 20.0, 0.0), ("noise 10 dB below", 10.0, 0.0),
    ("noise 6 dB below", 6.0, 0.0), ("speech 14 dB below", 40.0, 0.2), ("speech 6 dB below", 40.0, 0.5),
    ("speech as loud", 40.0, 1.0), ("noise 10, speech 6 dB below", 10.0, 0.5),
)  # fmt: skip


def onset_scores(kind: str, room: str, below_db: float, voice: float, seeds: range) -> tuple[float, float, float]:
    """F measure, precision and recall at 50 ms, means over seeds."""
    import mir_eval

    scores = []
    for seed in seeds:
        rng = np.random.default_rng([seed, TAPS.index(kind), list(ROOMS).index(room)])
        sound, true = taps(rng, kind, room)
        sound = sound + noise(rng, len(sound), below_db)
        if voice:
            sound = sound + speech(rng, len(sound), voice)
        scores.append(mir_eval.onset.f_measure(true, onsets(sound.astype(np.float32), RATE), window=0.05))
    f, precision, recall = np.mean(scores, axis=0)
    return float(f), float(precision), float(recall)


def sound_table(seeds: range = range(3)) -> Iterator[str]:
    yield "F at 50 ms | " + " | ".join(f"{kind}, {room}" for kind in TAPS for room in ROOMS)
    for name, below, voice in CONDITIONS:
        if voice and shutil.which("espeak-ng") is None:
            continue
        scores = [onset_scores(kind, room, below, voice, seeds) for kind in TAPS for room in ROOMS]
        yield f"{name} | " + " | ".join(f"{f:.2f} ({p:.2f} {r:.2f})" for f, p, r in scores)


def decoded(path: Path) -> np.ndarray:
    import av

    with av.open(io.BytesIO(path.read_bytes())) as container:
        to_mono = av.AudioResampler(format="fltp", layout="mono", rate=RATE)
        parts = [p.to_ndarray()[0] for f in container.decode(audio=0) for p in to_mono.resample(f)]
    return np.concatenate(parts)


def loop_table() -> Iterator[str]:
    """Debian's sonic-pi-samples (CC0): the beat is length / beats; drummers strike on beats, halves and quarters."""
    yield "loop | beat by its length | rate told | strikes a beat | error"
    for name, beats in (("loop_amen_full", 16), ("loop_breakbeat", 4), ("loop_amen", 4)):
        path = LOOPS / f"{name}.flac"
        if not path.exists():
            continue
        sound = decoded(path)
        true = beats / (len(sound) / RATE)
        for bout in sound_bouts(onsets(sound, RATE)):
            ratio = (bout.rate_hz or 0.0) / true
            error = abs(ratio / max(round(ratio), 1) - 1)
            yield f"{name} | {true:.3f} Hz | {bout.rate_hz:.3f} Hz | {round(ratio)} | {100 * error:.1f} %"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", choices=("picture", "sound", "loops"))
    chosen = parser.parse_args().only
    for name, table in (("loops", loop_table), ("picture", picture_table), ("sound", sound_table)):
        if chosen in (None, name):
            for line in table():
                print(line, flush=True)
            print()


if __name__ == "__main__":
    main()
