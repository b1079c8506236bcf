"""How well short bouts are found, heard and seen, on rendered courtship with truth (tests/film/courting.py).

    python -m tests.benchmarks.short_bouts sound 0 16       no film is rendered: some seconds a seed
    python -m tests.benchmarks.short_bouts picture 0 4      renders, about a minute a seed
    python -m tests.benchmarks.short_bouts sound 5000 5012  sealed seeds: sums only

A bout counts as found where a bout told shares half of the time of both together with it.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

import numpy as np
from scipy.signal import resample_poly

from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.motion.rhythm.beating import beatings
from clipmark.motion.rhythm.trains import all_trains
from tests.film.courting import court, plan, shown_px, sound

Told = tuple[float, float, float]  # start, end (seconds), rate (hertz)
LEAST_PX = 2.0  # a limb that moves less is not asked for in the picture,
LEAST_AREA = 40.0  # nor one that changes fewer pixels of it: it beats under her or behind a leg


def heard(seed: int) -> tuple[list[Told], list[Told]]:
    """Bouts told of a film's sound, and those that can be heard."""
    film, rng = plan(seed)
    samples = resample_poly(sound(film, rng), 1, 3).astype(np.float32)
    bouts = [b for b in film.story.bouts if b.heard]  # type: ignore[attr-defined]
    true = [(float(b.strikes[0]), float(b.strikes[-1]), 1 / float(np.diff(b.strikes).mean())) for b in bouts]
    told = [(float(t.times[0]), float(t.times[-1]), t.rate_hz) for t in all_trains(samples, 16_000)]
    return told, true


def seen(seed: int) -> tuple[list[Told], list[Told]]:
    """Bouts told of a film's picture, and those that can be seen."""
    path, truth = court(seed)
    changed = shown_px(seed)
    bouts = [
        b for b, area in zip(truth["bouts"], changed, strict=True)
        if b["seen"] and b["lift_px"] >= LEAST_PX and area >= LEAST_AREA
    ]  # fmt: skip
    true = [(b["start_s"], b["end_s"], b["rate_hz"]) for b in bouts]
    hidden = [(b["start_s"], b["end_s"]) for b in truth["bouts"] if b["seen"] and b not in bouts]
    found = [one.bout for one in beatings(GreyFilm(open_clip(path)))]
    found = [b for b in found if all(_shared((b.start_s, b.end_s), span) < 0.5 for span in hidden)]
    return [(b.start_s, b.end_s, b.rate_hz or 0.0) for b in found], true


def _shared(one: tuple[float, float], other: tuple[float, float]) -> float:
    return (min(one[1], other[1]) - max(one[0], other[0])) / (max(one[1], other[1]) - min(one[0], other[0]))


def scored(told: Sequence[Told], true: Sequence[Told]) -> tuple[int, int, int, int]:
    """Found, missed, false, and how many of the found have their rate within 3 %."""
    left, found, right = list(told), 0, 0
    for start, end, rate in true:
        shares = [(min(b, end) - max(a, start)) / (max(b, end) - min(a, start)) for a, b, _ in left]
        best = int(np.argmax(shares)) if shares else -1
        if best >= 0 and shares[best] >= 0.5:
            right += abs(left.pop(best)[2] / rate - 1) <= 0.03
            found += 1
    return found, len(true) - found, len(left), right


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("sound", "picture"))
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("stop", type=int, nargs="?", default=4)
    chosen = parser.parse_args()
    look = heard if chosen.what == "sound" else seen
    sums = np.zeros(4, int)
    for seed in range(chosen.first, chosen.stop):
        one = scored(*look(seed))
        sums += one
        if chosen.first < 1000:
            print(f"{seed}: found {one[0]}, missed {one[1]}, false {one[2]}, rate right {one[3]}", flush=True)
    found, missed, false, right = sums.tolist()
    score = 2 * found / max(2 * found + missed + false, 1)
    print(f"{chosen.what}: found {found}, missed {missed}, false {false}, F {score:.2f}, rate right {right}")


if __name__ == "__main__":
    main()
