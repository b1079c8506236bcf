"""How quick a large book is: 500 sessions with 20,000 marks, 12 proposed pulls each and a call on every one.

    python -m tests.benchmarks.book [--keep FILE]

Prints seconds, best and median of five, and processor time, which other programs on the machine change less. The list
is timed as the whole command, from starting the interpreter on.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np

from clipmark.book.exchange.book_json import write_document
from clipmark.book.file.backup import backup
from clipmark.book.model import Actor, Animal, Call, ClipRecord, Decision, Mark, Session, Sex
from clipmark.book.store import Book
from clipmark.motion.result import Flag, FrameSpan, ScanResult, Shot, Ticks, Trace, in_ticks

SESSIONS, MARKS, FLAGS, FRAMES = 500, 40, 12, 2_700
# offset, time base, first tick, end, frames, width, height: 90 s at 30000/1001
FACTS = (Fraction(0), Fraction(1, 30_000), 0, FRAMES * 1_001, FRAMES, 1920, 1080)


def build(path: Path) -> None:
    rng = np.random.default_rng(5)
    pts = np.arange(FRAMES, dtype=np.int64) * 1_001
    with Book.open(path, backups=False) as book:
        for number in range(SESSIONS):
            with book.together(f"session {number}"):
                her = book.add_animal(Animal(0, f"Female {number}", Sex.FEMALE, f"Species {number % 40}"))
                session = book.add_session(Session(0, f"Visit {number}", her.id, None, f"20{10 + number % 16}-03-01"))
                clip = book.add_clip(
                    ClipRecord(0, session.id, f"/films/{number}.mp4", 10**8, f"{number:032x}", *FACTS)
                )
                for _ in range(MARKS):
                    at = int(rng.integers(0, FRAMES * 1_001))
                    book.add_mark(Mark(0, clip.id, "drumming", Actor.HIM, at, at + 9_009, True, "Ada"), closing=False)
                trace = Trace(*(rng.normal(size=FRAMES) for _ in range(13)))
                flags = tuple(
                    Flag(200 * one, 200 * one + 4, None, 0.7, 0.2, 3.0, None, "Drawn in.") for one in range(FLAGS)
                )
                result = ScanResult((Shot(0, FRAMES),), trace, flags, (FrameSpan(0, FRAMES),), (), "pulls-1", 300.0)
                book.add_pass(clip.id, in_ticks(result, Ticks(pts, FRAMES * 1_001)))
                for flag in book.session(session.id).flags:
                    book.add_call(Call(0, flag.id, "Ada", Decision.CONFIRMED))


def timed(name: str, work: Callable[[], object]) -> None:
    took, busy = [], []
    for _ in range(5):
        began, times = time.perf_counter(), os.times()
        work()
        took.append(time.perf_counter() - began)
        busy.append(sum(os.times()[:4]) - sum(times[:4]))
    print(f"{name:<34} best {min(took):7.3f} s   median {statistics.median(took):7.3f} s   CPU {min(busy):6.2f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, help="make the book here and leave it")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as room:
        path = arguments.keep or Path(room) / "large.book"
        if not path.exists():
            began = time.perf_counter()
            build(path)
            print(f"made in {time.perf_counter() - began:.1f} s")
        print(f"{path.stat().st_size / 2**20:.1f} MiB")
        command = [sys.executable, "-m", "clipmark", "book", "list", "--book", str(path)]
        timed("clipmark book list (command)", lambda: subprocess.run(command, check=True, stdout=subprocess.DEVNULL))
        bare = [sys.executable, "-c", "pass"]
        timed("  of which a bare interpreter", lambda: subprocess.run(bare, check=True))
        with Book.open(path, read_only=True) as book:
            timed("sessions()", book.sessions)
            timed("session(250)", lambda: book.session(250))
            timed("animals()", book.animals)
            timed("write_document", lambda: write_document(book, Path(room) / "large.json"))
        timed("backup", lambda: backup(path, to=Path(room) / "copy.book"))
        with Book.open(Path(room) / "copy.book", backups=False) as book:
            mark = Mark(0, 1, "drumming", Actor.HIM, 5, 9, True, "Ada")
            timed("add_mark (kept on the disk)", lambda: book.add_mark(mark))
            timed("undo", book.undo)


if __name__ == "__main__":
    main()
