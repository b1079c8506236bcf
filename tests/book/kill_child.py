"""The process that the kill test kills: it works on a book without end and says aloud what is kept.

A line is printed only after the call that it tells of returned; so whatever was printed must be in the book.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

from clipmark.book.backup import backup
from clipmark.book.csv_folder import write_folder
from clipmark.book.exchange import write_document
from clipmark.book.store import Book
from tests.book.made_book import add_pass, call_of, mark_of, new_session


def say(*words: object) -> None:
    print(*words, flush=True)


def work(book: Book, rng: random.Random, number: int, folder: Path) -> None:
    """One of the things that a keeper does, and then the word that it is done."""
    what = rng.choice(["mark", "mark", "mark", "call", "pass", "backup", "export", "csv", "undo"])
    if what == "mark":
        mark = book.add_mark(mark_of(1, "searching", number), closing=False)
        say("mark", mark.id)
    elif what == "call":
        flags = book.session(1).flags
        if flags:
            say("call", book.add_call(call_of(flags[0].id)).id)
    elif what == "pass":
        say("pass", add_pass(book, book.session(1).clips[0], 10, 50, parameters=f"pulls-{number}"))
    elif what == "backup":
        say("file", backup(book.path))
    elif what == "export":
        write_document(book, folder / "out.json", traces=False)
        say("file", folder / "out.json")
    elif what == "csv":
        write_folder(book, folder / "csv")
        say("file", folder / "csv" / "datapackage.json")
    else:
        mark = book.add_mark(mark_of(1, "leg play", number), closing=False)
        book.undo()
        say("gone", mark.id)


def main() -> None:
    path, seed = Path(sys.argv[1]), int(sys.argv[2])
    rng = random.Random(seed)
    say("ready")
    with Book.open(path) as book:  # makes it, or migrates it, or puts right what the last kill left
        if not book.sessions():
            with book.together("begin"):
                new_session(book)
        say("open")
        number = 0
        while True:
            number += 1
            work(book, rng, number, path.parent)


if __name__ == "__main__":
    main()
