"""The program is killed at any moment of its work; what it had said to be kept is there, and nothing half is.

What a power loss adds to that is in test_power_loss.py.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import time
import traceback
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.file import schema
from clipmark.book.file.backup import backups, check_backup
from clipmark.book.store import Book
from tests.book.kill_child import work_until_killed
from tests.book.test_schema import OLD

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL, which Windows lacks")


def killed(path: Path, seed: int, lines: int, after_s: float) -> list[list[str]]:
    """Let a child work, kill it so many seconds after it said so many lines, and return the lines it got out.

    The child is a fork of this process, so that hundreds of kills do not mean hundreds of starts.
    """
    mouth, ear = os.pipe()[::-1]
    child = os.fork()
    if child == 0:
        try:
            os.close(ear)
            work_until_killed(path, seed, os.fdopen(mouth, "w"))
        except BaseException:
            os.write(mouth, traceback.format_exc().encode())
        finally:
            os._exit(3)
    os.close(mouth)
    with os.fdopen(ear, "rb") as said:
        heard = [said.readline() for _ in range(lines)]
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        heard += said.readlines()
    _, status = os.waitpid(child, 0)
    assert signal.SIGKILL == os.WTERMSIG(status), b"".join(heard).decode()
    whole_lines = b"".join(heard).rsplit(b"\n", 1)[0]
    return [line.split(" ", 1) for line in whole_lines.decode().splitlines()]


def old_book(path: Path) -> None:
    """A book of version 1, so that the kill may fall into the migration."""
    db = sqlite3.connect(path)
    db.executescript(OLD.read_text(encoding="utf-8"))
    db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    db.execute("PRAGMA user_version = 1")
    db.close()


def whole(path: Path, said: list[list[str]], before: set[int]) -> set[int]:
    """Check the book after a kill; returns the numbers of its marks, for the next round."""
    with Book.open(path, backups=False) as book:
        marks = {row[0] for row in book._db.execute("SELECT id FROM mark")}
        kept = {int(words[1]) for words in said if words[0] == "mark"}
        gone = {int(words[1]) for words in said if words[0] == "gone"}
        assert kept <= marks, "an acknowledged mark is missing"
        assert not gone & marks, "a mark that was taken back is there again"
        assert before <= marks, "a mark of an earlier round is missing"
        for table in ("call", "pass"):
            there = {row[0] for row in book._db.execute(f'SELECT id FROM "{table}"')}
            assert {int(words[1]) for words in said if words[0] == table} <= there
        # nothing half: a pass has its two flags, two shots, two spans and its trace, or is not there at all
        passes = book._db.execute("SELECT id FROM pass").fetchall()
        for (number,) in passes:
            counts = [
                book._db.execute(f"SELECT count(*) FROM {table} WHERE pass_id = ?", (number,)).fetchone()[0]
                for table in ("flag", "span", "trace")
            ]
            assert counts[1:] == [2, 1]
        current = "SELECT count(*) FROM pass WHERE current GROUP BY clip_id"
        assert all(row[0] == 1 for row in book._db.execute(current))
        steps = book._db.execute("SELECT count(*) FROM step WHERE id NOT IN (SELECT step_id FROM change)")
        assert 0 == steps.fetchone()[0]
    found = examine(path, film=False)
    assert found.sound, found.troubles
    for words in said:
        if words[0] == "file":
            assert Path(words[1]).is_file() or "backups" in words[1]  # rotation may have taken an early one
    for one in backups(path):
        assert "" == check_backup(one.path)
    for place, read in (
        (path.parent / "out.json", json.loads),
        (path.parent / "csv" / "datapackage.json", json.loads),
    ):
        if place.exists():
            read(place.read_text(encoding="utf-8"))
    return marks


def rounds(tmp_path: Path, count: int, seed: int) -> dict[str, int]:
    """Kill the child so often at random moments, each on the book that the last one left; a new book, or one of an
    older version, every tenth time. Returns how often each kind of work had been acknowledged."""
    rng = random.Random(seed)
    done: dict[str, int] = {}
    marks: set[int] = set()
    path = tmp_path / "0.book"
    for number in range(count):
        if number % 10 == 0:
            path, marks = tmp_path / str(number) / "b.book", set()
            path.parent.mkdir()
            if number % 20:
                old_book(path)
        # every third kill falls into opening, making or migrating the book; "ready" is the first line, "open" the
        # second, and each further one tells of a piece of work
        lines, most_s = (1, 0.05) if number % 3 == 0 else (2 + rng.randrange(16), 0.02)
        said = killed(path, rng.randrange(2**30), lines, rng.random() * most_s)
        left = path.with_name(path.name + "-journal")
        if left.exists() and left.stat().st_size:
            done["in a write"] = done.get("in a write", 0) + 1
        if path.exists() and path.stat().st_size:
            marks = whole(path, said, marks)
        for words in said:
            done[words[0]] = done.get(words[0], 0) + 1
    return done


def test_no_kill_loses_a_mark_or_leaves_half_a_thing(tmp_path: Path) -> None:
    done = rounds(tmp_path, 15, seed=1)

    assert {"mark", "pass", "file", "gone", "in a write"} <= set(done)


@pytest.mark.sweep
def test_five_hundred_kills(tmp_path: Path) -> None:
    done = rounds(tmp_path, 520, seed=2)
    print(done)

    assert 520 == done["ready"]
    assert 60 < done["in a write"]
