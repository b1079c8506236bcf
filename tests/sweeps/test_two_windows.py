"""Two windows and a run over many films work on one book for ten minutes.

CLIPMARK_SWEEP_S=600 python -m pytest -m sweep -s tests/sweeps/test_two_windows.py
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.film.intake import clip_record
from clipmark.book.model import Outline
from clipmark.book.store import Book
from clipmark.children import ROOT, environment
from clipmark.media.clip import open_clip
from tests.cli.test_scan_many import book_of
from tests.sweeps.lone_film import short_film

pytestmark = pytest.mark.sweep
SECONDS = float(os.environ.get("CLIPMARK_SWEEP_S", "600"))


def one_more_film(path: Path, number: int) -> None:
    """Another clip with her abdomen outlined, for the next run over many films."""
    copy = path.with_name(f"more{number}.mp4")
    shutil.copy(path.with_name("film.mp4"), copy)
    with Book.open(path, backups=False, wait_s=60) as book:
        kept = book.add_clip(clip_record(open_clip(copy), 2, Fraction(10 * number)))
        book.add_outline(Outline(0, kept.id, kept.first_pts, 30, 20, 30, 20))


def test_two_windows_and_many_films_on_one_book(tmp_path: Path) -> None:
    path = book_of(short_film(tmp_path), tmp_path / "b.book", outlined=1)
    windows = []
    for number in (1, 2):
        words = [sys.executable, "-m", "tests.sweeps.window_child", str(path), str(number)]
        said = (tmp_path / f"said{number}").open("wb")
        wrong = (tmp_path / f"wrong{number}").open("wb")
        windows.append(subprocess.Popen(words, env=environment(), cwd=ROOT, stdout=said, stderr=wrong))
    until, runs, passes = time.monotonic() + SECONDS, 0, 0
    while time.monotonic() < until:
        one_more_film(path, runs)
        runs += 1
        words = [sys.executable, "-m", "clipmark", "scan-many", str(path), "--json"]
        done = subprocess.run(words, env=environment(), cwd=ROOT, capture_output=True, check=False)
        assert 0 == done.returncode, done.stderr.decode()
        passes += len(json.loads(done.stdout)["done"])
    for number, window in enumerate(windows, start=1):
        assert None is window.poll(), (tmp_path / f"wrong{number}").read_text()[-2000:]
        window.kill()
        window.wait()
    told = [(tmp_path / f"said{number}").read_text().rsplit("\n", 1)[0].splitlines() for number in (1, 2)]
    marks = [{int(line.split()[1]) for line in lines if line.startswith("mark ")} for lines in told]
    undone = sum(line == "undoing" for lines in told for line in lines)
    with Book.open(path, backups=False) as book:
        there = {row[0] for row in book._db.execute("SELECT id FROM mark")}
        kept = [row[0] for row in book._db.execute("SELECT count(*) FROM pass GROUP BY clip_id")]
    said = f"{[len(one) for one in marks]} marks said, {undone} undone"
    print(f"{SECONDS:.0f} s: {said}, {runs} runs, {passes} passes kept by them and {len(kept)} in all")

    assert not marks[0] & marks[1]
    assert len((marks[0] | marks[1]) - there) <= undone
    assert [1] * (runs + 1) == kept  # one a clip; a window may have been quicker than the run to take it in
    found = examine(path, film=False)
    assert found.sound, found.troubles
