"""What the process does that the kill test kills: it works on a book without end and says what is kept.

A line is said only after the call that it tells of returned; so whatever was said must be in the book.
"""

from __future__ import annotations

import random
import time
from pathlib import Path
from typing import TextIO

import scipy.optimize  # noqa: F401  -- loaded before the fork, so that the first pass is as quick as the others

import clipmark.book.file.connect
from clipmark.book.exchange.book_json import write_document
from clipmark.book.exchange.csv_folder import write_folder
from clipmark.book.file.backup import backup, restore
from clipmark.book.store import Book
from tests.book.made_book import add_pass, call_of, mark_of, new_session


def work(book: Book, rng: random.Random, number: int, folder: Path) -> tuple[object, ...]:
    """One of the things that a keeper does; returns the words for it."""
    what = rng.choice(["mark", "mark", "mark", "call", "pass", "backup", "restore", "export", "csv", "undo"])
    flags = book.session(1).flags
    if what == "call" and flags:
        return "call", book.add_call(call_of(flags[0].id)).id
    if what == "pass":
        return "pass", add_pass(book, book.session(1).clips[0], 10, 50, parameters=f"pulls-{number}")
    if what == "backup":
        return "file", backup(book.path)
    if what == "restore":
        made = backup(book.path)
        restore(book.path, made)
        return "file", made
    if what == "export":
        write_document(book, folder / "out.json", traces=False)
        return "file", folder / "out.json"
    if what == "csv":
        write_folder(book, folder / "csv")
        return "file", folder / "csv" / "datapackage.json"
    mark = book.add_mark(mark_of(1, "searching", number), closing=False)
    if what == "undo":
        book.undo()
        return "gone", mark.id
    return "mark", mark.id


def work_until_killed(path: Path, seed: int, mouth: TextIO) -> None:
    """Open a book, which makes it, migrates it, or puts right what the last kill left, and work on it for ever."""
    clipmark.book.file.connect.SYNCHRONOUS = "EXTRA"  # as in real use
    rng = random.Random(seed)

    def say(*words: object) -> None:
        print(*words, file=mouth, flush=True)

    say("ready")
    with Book.open(path) as book:
        if rng.random() < 0.8:  # linger inside writes, with pages spilled to the file, so that kills fall there

            def linger(statement: str) -> None:
                if statement.startswith(("INSERT", "UPDATE", "DELETE", "COMMIT", "CREATE")):
                    time.sleep(rng.random() * 0.003)

            book._db.execute("PRAGMA cache_size = 1")
            book._db.set_trace_callback(linger)
        if not book.sessions():
            with book.together("begin"):
                new_session(book)
        say("open")
        number = 0
        while True:
            number += 1
            say(*work(book, rng, number, path.parent))
