"""How fast the log roll is drawn: `python -m tests.benchmarks.roll_speed`.

5,000 marks and 500 flags in 90 minutes with trace and sound, 900 x 1000 pixels, offscreen. Prints milliseconds
(median, 95th percentile) of making the roll anew after an edit, of one drawing while it is scrolled, and of one
drawing while only the film's place moves; by the clock and, for a machine that is busy otherwise, in the thread's own
processor time.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from fractions import Fraction

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtGui import QImage

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import (
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    Mark,
    PassRecord,
    Session,
    SessionRecord,
    ShotRecord,
)
from clipmark.motion.result import Trace
from clipmark.review.roll_model import Curve, build
from clipmark.window.app import make_application
from clipmark.window.roll.view import Roll

SECONDS, MARKS, FLAGS, SIZE = 5_400, 5_000, 500, (900, 1000)


def crowded(seed: int = 1) -> SessionRecord:
    """A session with as much on it as a keeper will ever mark."""
    rng = np.random.default_rng(seed)
    clip = ClipRecord(
        1, 1, "evening.mp4", 1, "f", Fraction(0), Fraction(1, 1000), 0, SECONDS * 1000, SECONDS * 30, 1920, 1080
    )
    marks = []
    for number in range(1, MARKS + 1):
        act = BUILT_IN[int(rng.integers(len(BUILT_IN)))]
        start = int(rng.integers(0, SECONDS * 1000 - 4000))
        end = start + 100 + int(rng.exponential(2500)) if act.lasting else None
        marks.append(Mark(number, 1, act.code, act.actor, start, end, act.lasting, "Ada"))
    starts = rng.integers(0, SECONDS * 1000 - 4000, FLAGS)
    flags = [
        FlagRecord(n, 1, 1, int(s), int(s) + 200, int(s) + 1800, float(rng.random()), 0.2, 3.0, 0.0, "")
        for n, s in enumerate(starts, 1)
    ]
    calls = [Call(n, n, "Ada", list(Decision)[n % 5]) for n in range(1, FLAGS, 2)]
    shots = (ShotRecord(1, 1, 0, SECONDS * 1000),)
    passes = (PassRecord(1, 1, "pulls", "", 100.0),)
    return SessionRecord(
        Session(1, "crowded", None, None), None, None, (clip,), shots, (), BUILT_IN, tuple(marks), passes,
        tuple(flags), (), (), tuple(calls), (), (),
    )  # fmt: skip


def trace(seed: int = 2) -> tuple[Trace, np.ndarray]:
    count = SECONDS * 30
    pull = np.abs(np.random.default_rng(seed).normal(0.03, 0.02, count))
    none = np.zeros(count)
    return Trace(none, none, none, none, none, none, pull, *[none] * 6), (np.arange(count) * 1000 / 30).astype(
        np.int64
    )


def timed(do: Callable[[int], object], times: int = 60) -> str:
    wall, own = [], []
    for number in range(times):
        began, spent = time.perf_counter(), time.thread_time()
        do(number)
        wall.append(1000 * (time.perf_counter() - began))
        own.append(1000 * (time.thread_time() - spent))
    return (
        f"median {np.median(wall):6.1f} ms  p95 {np.percentile(wall, 95):6.1f} ms   of the processor's time: "
        f"median {np.median(own):6.1f} ms  p95 {np.percentile(own, 95):6.1f} ms"
    )


def main() -> None:
    app = make_application()
    record, traced = crowded(), trace()
    roll = Roll()
    roll.resize(*SIZE)
    sound = Curve(np.arange(0, SECONDS, 0.01), np.random.default_rng(3).random(SECONDS * 100))
    roll.set_sound((sound,), np.sort(np.random.default_rng(4).uniform(0, SECONDS, 2_000)))
    image = QImage(*SIZE, QImage.Format.Format_ARGB32_Premultiplied)
    print("made anew after an edit     ", timed(lambda _: build(record, {1: traced}, "Ada"), 20))
    roll.set_model(build(record, {1: traced}, "Ada"))
    for name, long in (
        ("1 min on view, scrolled", 60),
        ("10 min on view, scrolled", 600),
        ("whole session", SECONDS),
    ):

        def scrolled(number: int, long: int = long) -> None:
            roll.show_span(600 + 3 * number, 600 + 3 * number + long / 1.4)
            roll._forget()
            roll.render(image)

        print(f"{name:28}", timed(scrolled))

    def moved(number: int) -> None:
        roll.set_place(1_000 + number / 30)
        roll.render(image)

    print("only the place moves        ", timed(moved))
    roll.deleteLater()
    app.processEvents()


if __name__ == "__main__":
    main()
