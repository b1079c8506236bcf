"""An exported book of hundreds of megabytes brought in: `python -m tests.benchmarks.large_import [--mb 500]`.

Brought into a new book, brought in again (all is there already), and stopped half way. Each in a process of its own;
told are seconds of the processor, the largest memory of the process, and the longest time without a word.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from clipmark.book.exchange.book_json import document
from clipmark.book.exchange.bring_in import bring_in
from clipmark.book.exchange.read_in import read_document
from clipmark.book.store import Book
from clipmark.progress import Cancelled
from tests.book.made_book import full_book


def large_file(folder: Path, megabytes: int) -> Path:
    """A whole book with so many marks that the file has so many million bytes."""
    with full_book(folder / "small.book") as book:
        made = document(book)
    base, number = made["marks"][0], 1_000
    path = folder / "large.json"
    with path.open("w") as file:
        for place, (name, value) in enumerate(made.items()):
            file.write(
                f"{',' if place else '{'}\n{json.dumps(name)}: {json.dumps(value)[: -1 if name == 'marks' else None]}"
            )
            while name == "marks" and file.tell() < megabytes * 1_000_000:
                number += 1
                file.write(",\n " + json.dumps(base | {"id": number, "start_pts": number}))
            file.write("]" if name == "marks" else "")
        file.write("\n}\n")
    return path


class Watched:
    """A Progress that measures the silence between two words, and stops the work at a share of the way."""

    def __init__(self, stop_at: float = 2.0):
        self.longest_s, self._last, self._stop_at = 0.0, time.monotonic(), stop_at

    def advance(self, done: int, total: int) -> None:
        now = time.monotonic()
        self.longest_s, self._last = max(self.longest_s, now - self._last), now
        if done > self._stop_at * total:
            raise Cancelled


def once(source: Path, path: Path, stop_at: float) -> None:
    watched, begun = Watched(), time.process_time()
    read = read_document(source, watched)
    between, said = time.process_time(), None
    bringing = Watched(stop_at)
    with Book.open(path, backups=False) as book:
        before = book.changed()
        with suppress(Cancelled):
            said = bring_in(book, read, "import", bringing)
        assert said is not None or before == book.changed()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    marks = "stopped, nothing in the book" if said is None else f"{said.added.get('marks', 0):,} new marks"
    print(
        f"read {between - begun:.1f} s, brought in {time.process_time() - between:.1f} s, {memory:.0f} MiB, "
        f"silent for {max(watched.longest_s, bringing.longest_s):.2f} s at most; {marks}",
        flush=True,
    )


def run(megabytes: int) -> None:
    with tempfile.TemporaryDirectory(dir=os.environ.get("CLIPMARK_FILM_CACHE")) as name:
        folder = Path(name)
        source = large_file(folder, megabytes)
        print(f"{source.stat().st_size / 1e6:.0f} MB")
        for stop_at in ("0.5", "2", "2"):
            words = [sys.executable, "-m", __spec__.name, "--of", str(source), str(folder / "into.book"), stop_at]
            subprocess.run(words, check=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mb", type=int, default=500)
    parser.add_argument("--of", nargs=3, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.of:
        once(Path(given.of[0]), Path(given.of[1]), float(given.of[2]))
    else:
        run(given.mb)
