"""What lies in or beside a book and is not the book's own is refused in words, and nothing is touched."""

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from clipmark.book.errors import BookForeign, BookLeftovers, NotABook
from clipmark.book.file.backup import backup
from clipmark.book.model import Session
from clipmark.book.store import Book
from tests.book import made_book

HALF_A_WRITE = """
import os, sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA cache_size = 1")
db.execute("BEGIN IMMEDIATE")
db.execute("UPDATE about SET value = value + 1 WHERE name = 'writes'")
db.execute("UPDATE mark SET note = note || 'zzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzz'")
db.execute("UPDATE session SET note = hex(randomblob(90000))")
os._exit(0)
"""


def killed_in_a_write(path: Path) -> None:
    subprocess.run([sys.executable, "-c", HALF_A_WRITE, path], check=False)
    assert path.with_name(path.name + "-journal").stat().st_size > 4_096


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "b.book"
    with made_book.full_book(path):
        pass
    return path


def test_ones_own_interrupted_write_is_taken_back(book):
    killed_in_a_write(book)

    with Book.open(book) as opened:
        assert all("zzz" not in mark.note for mark in opened.session(1).marks)
        assert "" == opened.session(1).session.note or len(opened.session(1).session.note) < 90_000


@pytest.mark.parametrize("way", ["copied", "moved"])
def test_the_journal_of_another_book_is_never_played_into_this_one(book, tmp_path, way):
    other = tmp_path / "other.book"
    with Book.open(other) as opened:
        opened.add_session(Session(0, "quite another", None, None))
    killed_in_a_write(book)
    if way == "copied":
        shutil.copyfile(other, book)
    else:
        os.replace(other, book)
    before = book.read_bytes(), book.with_name("b.book-journal").read_bytes()

    with pytest.raises(BookLeftovers, match="do not copy over"):
        Book.open(book)
    assert before == (book.read_bytes(), book.with_name("b.book-journal").read_bytes())
    book.with_name("b.book-journal").rename(tmp_path / "away")
    with Book.open(book) as opened:
        assert ["quite another"] == [row.title for row in opened.sessions()]


def test_neither_is_that_of_another_day_of_the_same_book(book, tmp_path):
    old = backup(book, to=tmp_path / "old.book")
    with Book.open(book) as opened:
        for number in range(3):
            opened.add_session(Session(0, f"later {number}", None, None))
    killed_in_a_write(book)
    shutil.copyfile(old, book)

    with pytest.raises(BookLeftovers):
        Book.open(book)


def test_a_log_beside_a_book_that_keeps_none_is_not_read(book, tmp_path):
    foreign = tmp_path / "foreign.db"
    with closing(sqlite3.connect(foreign)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("CREATE TABLE t (x)")
        db.commit()
        shutil.copyfile(f"{foreign}-wal", f"{book}-wal")

    with pytest.raises(BookLeftovers, match=r"b\.book-wal"):
        Book.open(book)
    os.unlink(f"{book}-wal")
    with Book.open(book) as opened:
        assert opened.sessions()


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("trigger", "CREATE TRIGGER t AFTER INSERT ON step BEGIN DELETE FROM mark; END"),
        ("view", "CREATE VIEW v AS SELECT 1"),
    ],
)
def test_instructions_in_a_book_that_no_clipmark_wrote_are_refused(book, kind, words):
    with closing(sqlite3.connect(book)) as db:
        db.execute(words)

    for read_only in (False, True):
        with pytest.raises(BookForeign, match=kind):
            Book.open(book, read_only=read_only)
    with pytest.raises(BookForeign):
        backup(book)


def test_what_is_no_file_is_no_book_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.book")
    os.symlink(tmp_path / "loop.book", tmp_path / "loop.book")

    for name in ("pipe.book", "loop.book"):
        for read_only in (True, False):
            with pytest.raises(NotABook, match=r"pipe or a device|in a circle"):
                Book.open(tmp_path / name, read_only=read_only)
    with pytest.raises(NotABook, match="device"):
        Book.open(Path("/dev/zero"), read_only=True)
