"""Rough boxes and presses on collages (`tests/film/collage.py`): pulls found and false flags, side by side.

    python -m tests.benchmarks.rough_boxes [--kinds "collage rough"] [--boxes good .3 .5 press] [--seeds 8]

A table line a kind and box: pulls, found, false flags, false a minute; misses and false flags go to stderr with their
score and what happened there.
"""

from __future__ import annotations

import argparse
import sys

import cv2
import numpy as np

from clipmark.errors import ClipmarkError
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.result import Box
from clipmark.motion.scan import scan
from tests.benchmarks.accuracy import Outcome, as_judged, judge
from tests.film.collage import PROFILES, Collage

BOXES = ("good", ".3", ".5", "press")


def drawn(film: Collage, how: str) -> Box:
    """The box or press of a film, as named by BOXES."""
    return film.box() if how == "good" else film.rough_box(0.0 if how == "press" else float(how))


def outcome(film: Collage, how: str, parameters: MotionParameters) -> Outcome | None:
    """One film judged; None where the press was refused."""
    try:
        result = scan(film, [drawn(film, how)], parameters)
    except ClipmarkError:
        return None
    watched = np.zeros(len(film.times), bool)
    for span in result.watched:
        watched[span.start : span.end] = True
    shown = as_judged(result.flags, film.times, result.trace.length)
    return judge(film.truth(), shown, watched, np.asarray(result.trace.quality))


def line(kind: str, how: str, outcomes: list[Outcome | None]) -> str:
    """One line of the table."""
    done = [one for one in outcomes if one is not None]
    pulls = [p for one in done for p in one.pulls]
    false, minutes = sum(len(one.false) for one in done), sum(one.seconds for one in done) / 60
    return (
        f"{kind:14} {how:6} {len(pulls):4} pulls, {sum(p['found'] for p in pulls):4} found, {false:3} false "
        f"({false / max(minutes, 1e-9):.2f} a minute), {len(outcomes) - len(done)} refused"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kinds", nargs="+", default=list(PROFILES))
    parser.add_argument("--boxes", nargs="+", default=list(BOXES))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seeds", type=int, default=8)
    parser.add_argument("--parameters", default="")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    for kind in chosen.kinds:
        for how in chosen.boxes:
            outcomes = []
            for seed in range(chosen.first, chosen.first + chosen.seeds):
                one = outcome(Collage(kind, seed), how, load(chosen.parameters))
                outcomes.append(one)
                _tell(kind, seed, how, one)
            print(line(kind, how, outcomes), flush=True)


def _tell(kind: str, seed: int, how: str, one: Outcome | None) -> None:
    if one is None:
        print(f"{kind} {seed} {how}: refused", file=sys.stderr)
        return
    for pull in one.pulls:
        if not pull["found"]:
            print(f"{kind} {seed} {how}: missed {pull['onset_s']:.2f} s, {pull['pull']:.1%}", file=sys.stderr)
    for flag in one.false:
        told = f"{flag['time_s']:.2f} s {flag['score']:.2f} {flag['near']} {flag['doubts']}"
        print(f"{kind} {seed} {how}: false {told}", file=sys.stderr)


if __name__ == "__main__":
    main()
