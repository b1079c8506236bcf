"""What a keeper waits for with a book of 5,000 sessions: `python -m tests.benchmarks.large_book [--sessions 5000]`.

Makes an invented book of one species (the worst case: every sac of the book speaks for every other), then prints one
line a figure: what, seconds, bar. The After page is opened offscreen: timed are the turns of the window until the
page with its outlook is on view, and the reading beside it. "cpu" is processor time, which other work on the machine
changes less; "wall" is the clock.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout, suppress
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from clipmark.book.forms import rows
from clipmark.book.model import Animal, SessionRecord, Sex, Sign
from clipmark.book.store import Book
from clipmark.cli import main as command
from tests.benchmarks.many_sessions import sessions

FEMALE, MALE = 0, 10_000  # where their numbers begin


def fill(path: Path, records: Sequence[SessionRecord]) -> None:
    """Put records into a new book; numbers within a record are made the book's own."""
    with Book.open(path, backups=False) as book:
        book.add_animal(Animal(0, "first", Sex.FEMALE))  # so that the schema's counters begin
        book.undo()
        db = book._db
        db.execute("BEGIN")
        for animal in {a.id: a for r in records for a in (r.female, r.male) if a is not None}.values():
            _put(db, rows.ANIMAL, animal, animal.id)
        mark = flag = call = made = 0
        for clip, record in enumerate(records, 1):
            _put(db, rows.SESSION, record.session, record.session.id)
            _put(db, rows.CLIP, replace(record.clips[0], session_id=record.session.id, fingerprint=f"f{clip}"), clip)
            for one in record.passes:
                _put(db, rows.PASS, replace(one, clip_id=clip), clip)
            for span in record.spans:
                _put(db, rows.SPAN, replace(span, pass_id=clip), None)
            for one in record.marks:
                mark += 1
                _put(db, rows.MARK, replace(one, clip_id=clip), mark)
            for k, one in enumerate(record.flags):
                flag += 1
                _put(db, rows.FLAG, replace(one, clip_id=clip, pass_id=clip), flag)
                for decision in (c for c in record.calls if c.flag_id == one.id):
                    call += 1
                    signs = (Sign.PALPS_STILL,) if (flag + k) % 3 else ()
                    _put(db, rows.CALL, replace(decision, flag_id=flag, signs=signs), call)
            for one in record.outcomes:
                made += 1
                _put(db, rows.OUTCOME, one, made)
        db.execute("COMMIT")


def _put(db: Any, kind: rows.Kind[Any], value: Any, number: int | None) -> None:
    row = {**({} if number is None else {"id": number}), **rows.encode(value)}
    names = ", ".join(row)
    db.execute(
        f"INSERT INTO {kind.table} ({names}) VALUES ({', '.join('?' * len(row))})",
        [rows.bindable(v) for v in row.values()],
    )


def invented(number: int, marks: int) -> list[SessionRecord]:
    """Sessions of `number // 4` females and `number // 10` males of one species."""
    made = []
    for k, record in enumerate(sessions(number, marks)):
        him = MALE + 1 + k % max(1, number // 10)
        her = record.session.female_id
        male = replace(record.male, id=him, name=f"Male {him - MALE}")
        female = replace(record.female, name=f"Female {her}")
        session = replace(record.session, male_id=him, title=f"Session {k + 1}")
        made.append(replace(record, session=session, male=male, female=female))
    return made


def told(what: str, cpu: float, wall: float, bar: float | None) -> None:
    kept = "" if bar is None else f"bar {bar:g} s  {'kept' if cpu <= bar else 'NOT kept'}"
    print(f"{what:52} cpu {cpu:7.3f} s  wall {wall:7.3f} s  {kept}", flush=True)


def took(what: str, bar: float | None, job: Callable[[], object]) -> None:
    cpu, wall = time.process_time(), time.perf_counter()
    job()
    told(what, time.process_time() - cpu, time.perf_counter() - wall, bar)


def run_command(*words: object) -> None:
    with redirect_stdout(StringIO()), suppress(SystemExit):
        command([str(word) for word in words])


def after_page(path: Path, session: int) -> None:
    """Open the window on a session and go to the After page, as a keeper does."""
    from PySide6.QtWidgets import QApplication

    from clipmark.settings import Settings
    from clipmark.window.app import make_application
    from clipmark.window.main_window import MainWindow
    from clipmark.window.workspace import Workspace

    app: QApplication = make_application()
    with Book.open(path, backups=False) as book:
        window = MainWindow(Workspace(book, Settings()))
        window.resize(1280, 800)
        window.show()
        window.workspace.show_session(session)
        window.show_page("pair")
        app.processEvents()
        page = window.pages["after"]
        own, wall = time.thread_time(), time.perf_counter()
        window.show_page("after")
        app.processEvents()
        window.repaint()
        told("After page shown (the window's own thread)", time.thread_time() - own, time.perf_counter() - wall, 1.0)
        assert page.outlook.seen is not None
        cpu, wall, longest = time.process_time(), time.perf_counter(), 0.0
        while (page.together.together is None or page.habits.habits is None) and time.perf_counter() - wall < 240:
            turn = time.thread_time()
            app.processEvents()
            longest = max(longest, time.thread_time() - turn)
            time.sleep(0.002)
        told(
            "read beside it: all sessions, signs, rhythm", time.process_time() - cpu, time.perf_counter() - wall, None
        )
        told("longest turn of the window meanwhile (own thread)", longest, longest, 0.3)
        window.close()
        window.deleteLater()
        app.processEvents()


def run(number: int, marks: int, only: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.book"
        fill(path, invented(number, marks))
        print(f"{number} sessions, {marks} marks, load {os.getloadavg()[0]:.1f}")
        jobs: dict[str, Callable[[], None]] = {
            "after": lambda: after_page(path, number),
            "outcomes": lambda: took("book outcomes", 6, lambda: run_command("book", "outcomes", "--book", path)),
            "signs": lambda: took("book signs", 6, lambda: run_command("book", "signs", "--book", path)),
            "rhythm": lambda: took("book rhythm", 6, lambda: run_command("book", "rhythm", "--book", path)),
            "sure": lambda: took("book sure", 10, lambda: run_command("book", "sure", "--book", path)),
            "sheet": lambda: took(
                "sheet of one session", 3,
                lambda: run_command("sheet", number, "--book", path, "-o", Path(folder) / "one.html"),
            ),
            "json": lambda: took(
                "one session as JSON and CSV", 3,
                lambda: run_command("export", number, "--book", path, "--json", Path(folder) / "one.json",
                                    "--csv", Path(folder) / "one"),
            ),
        }  # fmt: skip
        for name, job in jobs.items():
            if not only or name in only.split(","):
                job()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sessions", type=int, default=5_000)
    parser.add_argument("--marks", type=int, default=50_000)
    parser.add_argument("--only", default="", help="after, outcomes, signs, rhythm, sure, sheet, json; comma between")
    given = parser.parse_args()
    run(given.sessions, given.marks, given.only)
