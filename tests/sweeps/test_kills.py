"""Every writer of clipmark is killed at any moment of its work, hundreds of times.

    CLIPMARK_KILLS=500 python -m pytest -m sweep -s tests/sweeps/test_kills.py

Kills of all writers together, each taking its share; a line is printed for each writer. After a kill: the book is
sound and opens, nothing half has a name, what had been said to be kept is there, the children end by themselves.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.exchange.book_json import document, write_document
from clipmark.book.store import Book
from clipmark.children import ROOT, environment
from clipmark.cli import main
from clipmark.report.sheets.pdf import is_complete
from clipmark.settings import LAST_SESSION, Settings
from tests.book.made_book import full_book
from tests.book.test_kill import rounds
from tests.cli.test_scan_many import book_of
from tests.sweeps.lone_film import short_film

pytestmark = [
    pytest.mark.sweep,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL, which Windows lacks"),
]
KILLS = int(os.environ.get("CLIPMARK_KILLS", "500"))
SHARES = {
    "book": 30, "import": 12, "restore": 10, "export": 10, "settings": 10, "sheet": 8, "scan-many": 8, "window": 12,
}  # fmt: skip
ORPHAN_S = 20.0  # so long children of a killed program may take to end


def share(what: str) -> int:
    return max(KILLS * SHARES[what] // sum(SHARES.values()), 1)


@dataclass
class Killing:
    """Kills of one writer: how many fell into its work and not behind its end."""

    what: str
    rng: random.Random
    kills: int = 0
    after_its_end: int = 0
    longest_s: dict[str, float] = field(default_factory=dict)

    def fork(self, name: str, work: Callable[[], object]) -> None:
        """Let a fork of this process do the work, and kill it at a moment of the time that it took before."""
        limit = self.rng.random() * 1.1 * self.longest_s.get(name, 0.5)
        begun = time.monotonic()
        child = os.fork()
        if child == 0:
            try:
                with open(os.devnull, "w") as nothing:
                    os.dup2(nothing.fileno(), 1)
                    os.dup2(nothing.fileno(), 2)
                work()
            finally:
                os._exit(0)
        while time.monotonic() - begun < limit and os.waitpid(child, os.WNOHANG) == (0, 0):
            time.sleep(0.002)
        self._end(child)

    def _end(self, child: int) -> None:
        try:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            self.kills += 1
        except (ProcessLookupError, ChildProcessError):
            self.after_its_end += 1

    def measured(self, name: str, work: Callable[[], object]) -> None:
        """Do the work once undisturbed, to know how long it takes."""
        begun = time.monotonic()
        work()
        self.longest_s[name] = time.monotonic() - begun

    def program(self, words: list[str], limit: float, lines: int = 0) -> list[list[str]]:
        """Kill a program of its own after so many seconds behind so many lines that it said; the lines. What it
        began ends by itself."""
        child = subprocess.Popen(
            words, env=environment(), cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            stdin=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        assert child.stdout is not None
        heard = [child.stdout.readline() for _ in range(lines)]
        try:
            child.wait(limit)
            self.after_its_end += 1
        except subprocess.TimeoutExpired:
            os.kill(child.pid, signal.SIGKILL)
            self.kills += 1
        until = time.monotonic() + ORPHAN_S
        while alive(child.pid):
            assert time.monotonic() < until, f"children of {self.what} are alive after {ORPHAN_S:.0f} s"
            time.sleep(0.05)
        child.wait()
        heard += child.stdout.readlines()
        child.stdout.close()
        said = b"".join(heard).rsplit(b"\n", 1)[0].decode()
        return [line.split(" ", 1) for line in said.splitlines()]

    def told(self) -> None:
        print(f"{self.what:10} {self.kills} kills, {self.after_its_end} came after its end; all held", flush=True)


def alive(group: int) -> bool:
    """Whether a process of this group runs; one that is dead and not yet waited for does not."""
    for one in Path("/proc").iterdir():
        if one.name.isdigit():
            try:
                words = (one / "stat").read_text().rsplit(")", 1)[1].split()
            except OSError:
                continue
            if int(words[2]) == group and words[0] not in "ZX":
                return True
    return False


@pytest.fixture
def killing(request: pytest.FixtureRequest) -> Killing:
    name = request.node.name.removeprefix("test_").split("_")[0].replace("scan", "scan-many")
    return Killing(name, random.Random(1))


def sound(path: Path) -> None:
    found = examine(path, film=False)
    assert found.sound, found.troubles


def marks_of(path: Path) -> set[int]:
    with Book.open(path, backups=False) as book:
        return {row[0] for row in book._db.execute("SELECT id FROM mark")}


def test_book_writers(tmp_path: Path, killing: Killing) -> None:
    killing.kills = share("book")
    done = rounds(tmp_path, killing.kills, seed=7)
    killing.told()
    print(f"{'':10} {done}")


def large_export(folder: Path, marks: int) -> Path:
    with full_book(folder / "large.book") as book:
        made = document(book)
    base = made["marks"][0]
    made["marks"] += [base | {"id": 1_000 + number, "start_pts": number} for number in range(marks)]
    (folder / "large.json").write_text(json.dumps(made))
    return folder / "large.json"


def test_import_all_or_nothing(tmp_path: Path, killing: Killing) -> None:
    source, path = large_export(tmp_path, 1_500), tmp_path / "b.book"

    def bring() -> None:
        main(["book", "import", str(source), "--book", str(path)])

    killing.measured("import", bring)
    for _ in range(share("import")):
        path.unlink(missing_ok=True)
        full_book(path).close()
        few = len(marks_of(path))
        killing.fork("import", bring)
        sound(path)
        assert len(marks_of(path)) in (few, few + 1_500)
    killing.told()


def test_restore_one_or_the_other(tmp_path: Path, killing: Killing) -> None:
    source, path, small, large = large_export(tmp_path, 1_000), *(tmp_path / f"{n}.book" for n in ("b", "s", "l"))
    for one in (small, large):
        full_book(one).close()
    assert 0 == main(["book", "import", str(source), "--book", str(large)])
    path.write_bytes(small.read_bytes())
    sizes = {len(marks_of(small)), len(marks_of(large))}

    def put(which: Path) -> None:
        main(["book", "restore", str(which), "--book", str(path)])

    killing.measured("restore", lambda: put(large))
    for _ in range(share("restore")):
        which = killing.rng.choice([small, large])
        killing.fork("restore", lambda which=which: put(which))
        sound(path)
        assert len(marks_of(path)) in sizes
    killing.told()


def test_export_whole_or_the_one_before(tmp_path: Path, killing: Killing) -> None:
    path, out, folder = tmp_path / "b.book", tmp_path / "out.json", tmp_path / "csv"
    assert 0 == main(["book", "import", str(large_export(tmp_path, 800)), "--book", str(path)])

    def write() -> None:
        with Book.open(path, read_only=True) as book:
            write_document(book, out)
        main(["book", "export", "--csv", str(folder), "--book", str(path)])

    killing.measured("export", write)
    tables = {one.name: one.read_bytes() for one in folder.iterdir()}
    for _ in range(share("export")):
        killing.fork("export", write)
        assert 803 == len(json.loads(out.read_text(encoding="utf-8"))["marks"])
        assert tables == {one.name: one.read_bytes() for one in folder.iterdir()}
    killing.told()


def test_settings_the_last_or_the_one_before(tmp_path: Path, killing: Killing) -> None:
    path = tmp_path / "settings.json"
    Settings(path).put(LAST_SESSION, {"b": 0})

    def put() -> None:
        choices = Settings(path)
        for number in range(10_000):
            choices.put(LAST_SESSION, {**choices.get(LAST_SESSION), "b": number, str(number % 7): number})

    for _ in range(share("settings")):
        killing.fork("settings", put)
        assert "b" in Settings(path).get(LAST_SESSION)
        Settings(path).put(LAST_SESSION, {"b": 0})  # nobody's lock is left
    killing.told()


def test_sheet_whole_or_not_there(tmp_path: Path, killing: Killing) -> None:
    path, out = tmp_path / "b.book", tmp_path / "s.pdf"
    full_book(path).close()
    words = [sys.executable, "-m", "clipmark", "sheet", "1", "--book", str(path), "-o", str(out)]
    killing.measured("sheet", lambda: killing.program(words, 120))
    for _ in range(share("sheet")):
        out.unlink(missing_ok=True)
        killing.program(words, killing.rng.random() * 1.1 * killing.longest_s["sheet"])
        assert not out.exists() or is_complete(out)
        sound(path)
    killing.told()


def test_scan_many_one_pass_a_clip(tmp_path: Path, killing: Killing) -> None:
    path = book_of(short_film(tmp_path), tmp_path / "b.book", outlined=2)
    first = path.read_bytes()
    words = [sys.executable, "-m", "clipmark", "scan-many", str(path), "--jobs", "2"]
    killing.measured("scan", lambda: killing.program(words, 120))
    for number in range(share("scan-many")):
        if number % 3 == 0:
            path.write_bytes(first)
        killing.program(words, killing.rng.random() * 1.1 * killing.longest_s["scan"])
        sound(path)
        with Book.open(path, backups=False) as book:
            for one in (1, 2):
                record = book.session(one)
                assert len(record.passes) <= 1
                assert all(len(book.trace_of(kept.id).pull) == 30 for kept in record.passes)
    killing.told()


def test_window_keeps_what_it_said(tmp_path: Path, killing: Killing) -> None:
    path = book_of(short_film(tmp_path), tmp_path / "b.book", outlined=1)
    said_in_all = 0
    for number in range(share("window")):
        before = marks_of(path)
        words = [sys.executable, "-m", "tests.sweeps.window_child", str(path), str(number)]
        said = killing.program(words, killing.rng.random() * 0.2, lines=killing.rng.randrange(1, 30))
        sound(path)
        marks = marks_of(path)
        assert ["open"] == said[0]
        kept = {int(rest[0]) for word, *rest in said if word == "mark"}
        undone = sum(words == ["undoing"] for words in said)
        assert len((kept | before) - marks) <= undone  # an undo takes one step back, no other mark may go
        said_in_all += len(kept)
    assert 0 == killing.after_its_end, "the window ended by itself"
    killing.told()
    print(f"{'':10} {said_in_all} marks were said")
