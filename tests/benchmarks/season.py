"""How quick clipmark is with a season's book: `python -m tests.benchmarks.season [--sessions 5000] [--marks 60]`.

Makes an invented book of so many sessions with so many marks each, and one more session with 5,000 marks, then prints
one line a figure: what, seconds of processor time (the median of n where n > 1), bar. Processor time, since other
work on the machine does not count then.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import redirect_stdout, suppress
from fractions import Fraction
from io import StringIO
from pathlib import Path

from clipmark.book.care.health import examine
from clipmark.book.meaning.acts import BUILT_IN as ACTS
from clipmark.book.model import Animal, ClipRecord, Mark, Session
from clipmark.book.store import Book
from clipmark.cli import main

END = 60_000


def season(path: Path, sessions: int, marks: int, many: int = 5_000) -> int:
    """Make the book; returns the number of its session with `many` marks."""
    rng = random.Random(1)
    codes = [act for act in ACTS if not act.lasting]
    with Book.open(path, backups=False) as book:
        for number in range(200):
            book.add_animal(
                Animal(0, f"animal {number}", "female" if number % 2 else "male", f"Species {number % 40}")
            )
        first = book.add_session(Session(0, "the long one", 2, 1))
        base = ClipRecord(0, first.id, "/films/a.mp4", 9, "a", Fraction(0), Fraction(1, 1000), 0, END, 1500, 640, 360)
        clip = book.add_clip(base)
        kept = book.add_mark(Mark(0, clip.id, codes[0].code, "him", 10, None, False, "Ada"))
        db = book._db
        db.execute("BEGIN")
        names = {t: [r[1] for r in db.execute(f"PRAGMA table_info({t})")][1:] for t in ("session", "clip", "mark")}
        rows = {t: dict(db.execute(f"SELECT * FROM {t} LIMIT 1").fetchone()) for t in names}
        for table in names:
            rows[table].pop("id")
        for number in range(2, sessions + 2):
            row = rows["session"] | {
                "title": f"Session {number}", "female_id": 2 + 2 * (number % 99), "male_id": 1 + 2 * (number % 99),
                "date": f"20{10 + number % 16}-{1 + number % 12:02}-{1 + number % 28:02}",
            }  # fmt: skip
            _put(db, "session", [row])
            _put(db, "clip", [rows["clip"] | {"session_id": number, "fingerprint": f"f{number}"}])
            _put(db, "mark", [_mark(rows["mark"], number, rng, codes) for _ in range(marks)])
            if number % 3 == 0:
                words = "INSERT INTO outcome (session_id, kind, date, counts, note) VALUES (?, 'laid', ?, '[]', '')"
                db.execute(words, (number, "2026-01-01"))
        _put(db, "mark", [_mark(rows["mark"], clip.id, rng, codes) for _ in range(many)])
        db.execute("COMMIT")
        assert kept.id == 1
    return first.id


def _mark(base: dict[str, object], clip: int, rng: random.Random, codes: list) -> dict[str, object]:
    act = rng.choice(codes)
    return base | {"clip_id": clip, "act": act.code, "actor": str(act.actor), "start_pts": rng.randrange(END)}


def _put(db, table: str, rows: list[dict[str, object]]) -> None:
    names = ", ".join(rows[0])
    db.executemany(
        f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(rows[0]))})",
        [list(row.values()) for row in rows],
    )


def took(what: str, bar: float, job: Callable[[], object], times: int = 1) -> float:
    """Do a job so many times and print the median of the processor time."""
    each = []
    for _ in range(times):
        start = time.process_time()
        job()
        each.append(time.process_time() - start)
    median = statistics.median(each)
    print(f"{what:42} {median:8.3f} s  n={times}  bar {bar} s  {'kept' if median <= bar else 'NOT kept'}", flush=True)
    return median


def _command(*words: object) -> None:
    with redirect_stdout(StringIO()), suppress(SystemExit):
        main([str(word) for word in words])


def run(sessions: int, marks: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "season.book"
        took(f"make {sessions} sessions of {marks} marks", 60, lambda: season(path, sessions, marks))
        with Book.open(path, backups=False) as book:
            took("book list", 0.5, book.sessions, 3)
            took("switch to a session of 5,000 marks", 0.3, lambda: book.session(1))
            took("the same again", 0.3, lambda: book.session(1), 3)
            took("a mark, kept and read again", 0.02, lambda: _marked(book), 7)
        took("outcomes", 5, lambda: _command("book", "outcomes", "--book", path))
        took("check, without film", 15, lambda: examine(path, film=False))
        took("sheet of 5,000 marks", 3, lambda: _command("sheet", 1, "--book", path, "-o", Path(folder) / "s.html"))


def _marked(book: Book) -> None:
    book.add_mark(Mark(0, 1, ACTS[0].code, ACTS[0].actor, 500, None, ACTS[0].lasting, "Ada"), closing=False)
    book.session(1)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sessions", type=int, default=5_000)
    parser.add_argument("--marks", type=int, default=60)
    given = parser.parse_args()
    run(given.sessions, given.marks)
