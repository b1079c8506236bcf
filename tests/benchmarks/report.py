"""How long the sheet and the exports take in a book of 500 sessions with 20,000 marks, and how large a sheet is.

    python -m tests.benchmarks.report

The book is made first, outside the timing. Stills are not part of the first figures (the films are not there); the
last line times a sheet of 12 flags with 36 stills out of a 1080p film. Medians of five; say what else the machine
was doing.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np

from clipmark.book.model import (
    Actor,
    Animal,
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    Mark,
    Outline,
    Session,
    Sex,
)
from clipmark.book.store import Book
from clipmark.motion.result import Flag, FrameSpan, ScanResult, Shot, Ticks, Trace, in_ticks
from clipmark.report.exports.tables import read_book
from clipmark.report.sheets.sheet import write_sheet

SESSIONS, MARKS, FLAGS, FRAMES = 500, 40, 12, 36_000  # marks and flags a session; 20 minutes at 30 a second
ACTS = (("drumming", Actor.HIM), ("answering", Actor.HER), ("leg play", Actor.HIM), ("clasp", Actor.HIM))


def _fast_folder() -> Path | None:
    memory = Path("/dev/shm")  # filling the book is not what is measured
    return memory if memory.is_dir() else None


def fill(book: Book, sessions: int = SESSIONS) -> None:
    """Sessions of one clip each, with marks, flags and calls; the first has a trace as well."""
    her = book.add_animal(Animal(0, "Ember", Sex.FEMALE, "Tliltocatl albopilosus"))
    him = book.add_animal(Animal(0, "Ash", Sex.MALE, "Tliltocatl albopilosus"))
    base = Fraction(1, 30_000)
    for k in range(sessions):
        session = book.add_session(Session(0, f"pairing {k}", her.id, him.id, "2026-03-01", reviewer="Mara"))
        clip = book.add_clip(ClipRecord(
            0, session.id, f"/none/film-{k}.mp4", 10, f"{k:032x}", Fraction(0), base, 0, FRAMES * 1000, FRAMES,
            1920, 1080,
        ))  # fmt: skip
        for m in range(MARKS):
            act, actor = ACTS[m % len(ACTS)]
            start = (m + 1) * FRAMES // (MARKS + 2) * 1000
            book.add_mark(Mark(0, clip.id, act, actor, start, start + 90_000, True, "Mara", "note"), closing=False)
        if k == 0:
            book.add_outline(Outline(0, clip.id, 0, 800, 500, 220, 160))
            book.add_pass(clip.id, in_ticks(scan(FRAMES), Ticks(np.arange(FRAMES) * 1000, FRAMES * 1000)))
            for flag in book.session(session.id).flags:
                book.add_call(Call(0, flag.id, "Mara", Decision.CONFIRMED))
        else:
            for f in range(FLAGS):
                on = (f + 1) * FRAMES // (FLAGS + 2) * 1000
                one = FlagRecord(
                    0, clip.id, None, on, on + 6000, on + 60_000, None, 0.2, 4.0, None, "seen", by="Mara"
                )
                book.add_flag(one)


def scan(frames: int) -> ScanResult:
    """A pass over so many frames with `FLAGS` pulls in it."""
    at = np.arange(frames)
    onsets = [(f + 1) * frames // (FLAGS + 2) for f in range(FLAGS)]
    pull = 0.01 * np.random.default_rng(1).standard_normal(frames)
    for on in onsets:
        pull += 0.3 * np.interp(at, [on, on + 6, on + 60, on + 70], [0, 1, 1, 0])
    like = np.ones(frames)
    values = {name: like.copy() for name in Trace.__dataclass_fields__}
    values |= {
        "pull": pull,
        "tilt": 30 * pull,
        "x": 900 * like,
        "y": 570 * like,
        "angle": 0 * like,
        "length": 220 * like,
    }
    flags = tuple(Flag(on, on + 6, on + 60, 0.9, 0.3, 9.0, 180.0, "drawn in 0.3 lengths") for on in onsets)
    return ScanResult((Shot(0, frames),), Trace(**values), flags, (FrameSpan(0, frames),), (), "pairing-1", 100.0)


def timed(what: str, work: Callable[[], object], rounds: int = 5) -> None:
    """Print the median time of some work, by the clock and of this process's own computing."""
    took, computed = [], []
    for _ in range(rounds):
        start, cpu = time.perf_counter(), time.process_time()
        work()
        took.append(time.perf_counter() - start)
        computed.append(time.process_time() - cpu)
    middle, cpu = statistics.median(took), statistics.median(computed)
    print(f"{what:<58} {middle:7.3f} s   (worst {max(took):.3f}; CPU {cpu:.3f})", flush=True)


def with_film(folder: Path) -> None:
    """A sheet of 12 flags with 36 stills out of a film of 1080p, 60 s, a keyframe every 250 frames."""
    from clipmark.book.film.intake import clip_record
    from clipmark.media.clip import open_clip
    from tests import made

    noise = np.random.default_rng(2).integers(60, 190, (1080, 1920), dtype=np.uint8)
    frames = 1800
    film = made.film(
        folder / "film.mkv", [33 * k for k in range(frames)], width=1920, height=1080, codec="libx264",
        pixel_format="yuv420p", options={"preset": "veryfast", "g": "250", "crf": "23"},
        draw=lambda k: np.roll(noise, (k % 7, 3 * (k % 5)), (0, 1)),
    )  # fmt: skip
    with Book.open(folder / "film.book") as book:
        session = book.add_session(Session(0, "with film", None, None))
        clip = open_clip(film.path)
        kept = book.add_clip(clip_record(clip, session.id))
        book.add_outline(Outline(0, kept.id, 0, 800, 500, 220, 160))
        book.add_pass(kept.id, in_ticks(scan(frames), Ticks(clip.index.pts, int(clip.index.end_pts))))
        out = folder / "film.html"
        timed(
            "sheet of 12 flags, 36 stills of 1080p, keyframe every 250", lambda: write_sheet(book, 1, out), rounds=1
        )
        print(f"{'its size (noise: the worst that a JPEG can meet)':<58} {out.stat().st_size / 1e6:7.2f} MB")


def main() -> None:
    with tempfile.TemporaryDirectory(dir=_fast_folder()) as name:
        folder = Path(name)
        with Book.open(folder / "large.book") as book:
            start = time.perf_counter()
            fill(book)
            took = time.perf_counter() - start
            print(f"book of {SESSIONS} sessions, {SESSIONS * MARKS} marks, filled in {took:.0f} s")
            timed(
                "sheet, 40 marks, 12 flags, 36,000 frames of trace", lambda: write_sheet(book, 1, folder / "a.html")
            )
            timed("sheet of a later session, no trace", lambda: write_sheet(book, 400, folder / "b.html"))
        timed("read_book: every table of all sessions", lambda: read_book(folder / "large.book"), rounds=3)
        if "--film" in sys.argv:
            with_film(folder)


if __name__ == "__main__":
    main()
