"""Disk full, read-only places, locks, a lost drive: each said in a sentence, the book as it was."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.errors import (
    BookError,
    BookLocked,
    BookNameTooLong,
    BookOutOfReach,
    BookReadOnly,
    from_system,
    translated,
)
from clipmark.book.exchange.book_json import document
from clipmark.book.file.backup import backup, backups
from clipmark.book.store import Book
from tests.book.made_book import full_book, mark_of, new_session

ROOT = Path(__file__).parents[2]


def content(path: Path) -> object:
    with Book.open(path, read_only=True) as book:
        return document(book)


def child(code: str, *arguments: object, nobody: bool = False) -> str:
    """Run some lines of Python in a process of its own, as a user without rights if asked; what it printed."""
    lines = "import os, sys\nimport clipmark.book.file.connect\nclipmark.book.file.connect.SYNCHRONOUS = 'OFF'\n"
    if nobody:  # who may not read Python's own folder either: what it would import later comes in before
        lines += "import urllib.request\nos.setgid(65534); os.setuid(65534)\n"
    done = subprocess.run(
        [sys.executable, "-c", "from tests.book.made_book import *\n" + lines + code, *map(str, arguments)],
        capture_output=True, text=True, cwd=ROOT, timeout=60,
    )  # fmt: skip
    assert "" == done.stderr.strip(), done.stderr
    return done.stdout


MARK_UNTIL_FULL = """
import resource
from clipmark.errors import ClipmarkError
path = Path(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 4096, -1))
done = 0
with Book.open(path, backups=False) as book:
    try:
        for number in range(500):
            book.add_mark(mark_of(1, "searching", number), closing=False)
            done += 1
    except ClipmarkError as error:
        print(type(error).__name__, done, len(book.session(1).marks), str(error).replace(chr(10), " "))
"""


def test_a_mark_that_finds_no_room_is_refused_and_all_before_it_are_there(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    name, done, seen, sentence = child(MARK_UNTIL_FULL, tmp_path / "b.book").split(" ", 3)

    assert name in ("BookFull", "BookOutOfReach")
    assert "nothing was changed by this step" in sentence
    assert 0 < int(done) < 500
    assert int(done) + 3 == int(seen)
    with Book.open(tmp_path / "b.book") as book:
        assert int(done) + 3 == len(book.session(1).marks)
        assert "ok" == book._db.execute("PRAGMA integrity_check").fetchone()[0]


BACK_UP_WITHOUT_ROOM = """
import resource
from clipmark.book.file.backup import backup, folder_of
from clipmark.book.exchange.book_json import write_document
from clipmark.book.exchange.csv_folder import write_folder
from clipmark.errors import ClipmarkError
path = Path(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (300, -1))
book = Book.open(path, read_only=True)
for work in (
    lambda: backup(path),
    lambda: write_document(book, path.with_name("b.json")),
    lambda: write_folder(book, path.with_name("csv")),
):
    try:
        work()
    except ClipmarkError as error:
        print(type(error).__name__)
"""


def test_backup_and_export_without_room_leave_nothing_half_written(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    before = (tmp_path / "b.book").read_bytes()
    said = child(BACK_UP_WITHOUT_ROOM, tmp_path / "b.book").split()

    assert said[0] in ("BookFull", "BookOutOfReach")
    assert ["CannotWrite", "CannotWrite"] == said[1:]
    assert before == (tmp_path / "b.book").read_bytes()
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert [tmp_path / "b.book"] == left


SMALL_DISK = """
from clipmark.errors import ClipmarkError
done = 0
with Book.open(sys.argv[1], backups=False) as book:
    new_session(book)
    try:
        while done < 5_000:
            with book.together("many"):
                for number in range(20):
                    book.add_mark(mark_of(1, "searching", number), closing=False)
            done += 20
    except ClipmarkError as error:
        print(type(error).__name__, done, len(book.session(1).marks))
"""


def test_a_full_disk_says_so_and_nothing_half_is_kept(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", disk], capture_output=True)
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here (needs root)")
    try:
        name, done, seen = child(SMALL_DISK, disk / "b.book").split()
        assert "BookFull" == name
        assert 0 < int(done) == int(seen)
        assert int(done) == len(content(disk / "b.book")["marks"])  # type: ignore[index]
    finally:
        subprocess.run(["umount", disk], check=True)


def _in_read_only(path: Path) -> list[str]:
    return child(
        """
from clipmark.errors import ClipmarkError
path = sys.argv[1]
print(len(Book.open(path, read_only=True).session(1).marks))
try:
    Book.open(path)
except ClipmarkError as error:
    print(type(error).__name__)
""",
        path,
        nobody=os.geteuid() == 0,
    ).split()


@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_read_only_book_can_be_read_and_says_that_it_cannot_be_written(tmp_path: Path, what: str) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as place:  # where a user without rights can look
        os.chmod(place, 0o755)
        path = Path(place) / "inside" / "b.book"
        full_book(path).close()
        before = path.read_bytes()
        os.chmod(path.parent, 0o555 if what == "folder" else 0o777)
        os.chmod(path, 0o444 if what == "file" else 0o666)
        try:
            assert ["3", "BookReadOnly"] == _in_read_only(path)
        finally:
            os.chmod(path.parent, 0o755)

        assert before == path.read_bytes()
        assert ["b.book"] == [one.name for one in path.parent.iterdir()]


def test_a_book_that_another_program_writes_is_waited_for_and_then_said_to_be_locked(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    other = sqlite3.connect(path, isolation_level=None)
    with Book.open(path, wait_s=0.1, backups=False) as book:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BookLocked, match="written by another program"):
            book.add_mark(mark_of(1))
        assert 3 == len(book.session(1).marks)
        other.execute("ROLLBACK")
        book.add_mark(mark_of(1, "searching"))
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(BookLocked):
            Book.open(path, wait_s=0.1)
        other.execute("ROLLBACK")
    other.close()

    assert 4 == len(content(path)["marks"])  # type: ignore[index]


def test_two_windows_that_write_at_the_same_time_both_get_through(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    with Book.open(path) as book:
        new_session(book)
    failed: list[BaseException] = []

    def mark_much(reviewer: str) -> None:
        try:
            with Book.open(path, backups=False) as book:
                for number in range(60):
                    book.add_mark(mark_of(1, "searching", number, reviewer=reviewer), closing=False)
        except BaseException as error:
            failed.append(error)

    writers = [threading.Thread(target=mark_much, args=(name,)) for name in ("Ada", "Bo")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()

    assert [] == failed
    assert 120 == len(content(path)["marks"])  # type: ignore[index]


def test_a_book_whose_folder_vanished_is_out_of_reach_and_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "stick" / "b.book"
    full_book(path).close()
    with Book.open(path, backups=False) as book:
        path.parent.rename(tmp_path / "unplugged")
        with pytest.raises(BookError):
            book.add_mark(mark_of(1))
        (tmp_path / "unplugged").rename(path.parent)

    assert 3 == len(content(path)["marks"])  # type: ignore[index]


def test_a_place_that_cannot_be_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BookOutOfReach):
        Book.open(tmp_path / "file" / "b.book")


@pytest.mark.parametrize(
    "name",
    [
        "a 'quoted' \"name\".book",
        "100% ? #1.book",
        "книга 蜘蛛.book",
        "two\nlines.book",
        "..book",
        "b" * 235 + ".book",
        "蜘" * 78 + ".book",
        "-rf.book",
        "x.book?mode=memory",
        "file:x.book",
    ],
    ids=lambda name: ascii(name)[:30],
)
def test_a_book_may_have_any_name(tmp_path: Path, name: str) -> None:
    full_book(tmp_path / name).close()
    backup(tmp_path / name)

    assert 3 == len(content(tmp_path / name)["marks"])  # type: ignore[index]
    assert sorted([name, name + ".backups"]) == sorted(path.name for path in tmp_path.iterdir())


@pytest.mark.parametrize("letter", ["b", "蜘"])
def test_a_name_of_255_bytes_is_too_long_for_a_book_and_may_be_looked_at(tmp_path: Path, letter: str) -> None:
    long = tmp_path / (letter * (250 // len(letter.encode())) + ".book")
    full_book(tmp_path / "b.book").close()
    expected = content(tmp_path / "b.book")
    (tmp_path / "b.book").rename(long)
    with pytest.raises(BookNameTooLong, match="at most 240 bytes"):
        Book.open(long)
    with pytest.raises(BookError):
        backup(long)

    assert expected == content(long)
    assert "There is no backup yet" in examine(long, film=False).backups[0]
    assert [long] == list(tmp_path.iterdir())


def test_a_folder_of_backups_that_may_not_be_looked_into_is_said_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full_book(tmp_path / "b.book").close()
    backup(tmp_path / "b.book")

    def refuse(_: Path) -> object:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(BookReadOnly):
        backups(tmp_path / "b.book")


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        (sqlite3.SQLITE_BUSY, "BookLocked"),
        (sqlite3.SQLITE_FULL, "BookFull"),
        (sqlite3.SQLITE_READONLY, "BookReadOnly"),
        (sqlite3.SQLITE_IOERR_WRITE, "BookOutOfReach"),
        (sqlite3.SQLITE_CORRUPT, "BookDamaged"),
        (sqlite3.SQLITE_NOTADB, "NotABook"),
        (sqlite3.SQLITE_ERROR, "OperationalError"),  # a fault of ours is not dressed up
    ],
)
def test_each_trouble_of_sqlite_has_its_sentence(tmp_path: Path, code: int, expected: str) -> None:
    error = sqlite3.OperationalError("words")
    error.sqlite_errorcode = code

    assert expected == type(translated(error, tmp_path)).__name__


def test_a_book_opened_for_reading_puts_right_what_a_killed_writer_left(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    expected = content(path)
    killed = """
path = sys.argv[1]
book = Book.open(path, backups=False)
book._db.execute("PRAGMA cache_size = 1")
book._db.execute("BEGIN IMMEDIATE")
for number in range(2000):
    book._db.execute("INSERT INTO step (label, made_at) VALUES (?, '')", ("x" * 500,))
book._db.execute("UPDATE mark SET note = 'half'")
print(os.path.getsize(path + "-journal"), flush=True)
os.kill(os.getpid(), 9)
"""
    done = subprocess.run(
        [sys.executable, "-c", "import os, sys\nfrom tests.book.made_book import *\n" + killed, path],
        capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    assert int(done.stdout) > 0, done.stderr
    assert path.with_name("b.book-journal").exists()

    assert expected == content(path)
    assert not path.with_name("b.book-journal").exists()


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        (errno.ENOSPC, "BookFull"),
        (errno.EDQUOT, "BookFull"),
        (errno.EROFS, "BookReadOnly"),
        (errno.EACCES, "BookReadOnly"),
        (errno.EIO, "BookOutOfReach"),
        (errno.ENODEV, "BookOutOfReach"),
    ],
)
def test_each_trouble_of_the_file_system_has_its_sentence(tmp_path: Path, code: int, expected: str) -> None:
    assert expected == type(from_system(OSError(code, "words"), tmp_path)).__name__


USE_THE_DISK = """
from clipmark.book.file.backup import backup, restore
from clipmark.book.care.salvage import salvage
from clipmark.errors import ClipmarkError
path = Path(sys.argv[1])
for work in (
    lambda: backup(path),
    lambda: restore(path, Path(sys.argv[2])),
    lambda: salvage(path, path.with_name("new.book")),
    lambda: Book.open(path),
):
    try:
        work()
        print("done")
    except ClipmarkError as error:
        print(type(error).__name__)
"""


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A book on a disk of its own, with hardly any room beside it."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=310k", "tmpfs", disk], capture_output=True).returncode:
        pytest.skip("a small disk cannot be mounted here (needs root)")
    full_book(disk / "b.book").close()
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_on_a_full_disk_nothing_is_backed_up_restored_or_salvaged_by_halves(tmp_path: Path, small_disk: Path) -> None:
    full_book(tmp_path / "other.book").close()
    before = (small_disk / "b.book").read_bytes()
    said = child(USE_THE_DISK, small_disk / "b.book", tmp_path / "other.book").split()

    assert ["BookFull", "BookFull", "BookFull", "done"] == said
    assert before == (small_disk / "b.book").read_bytes()
    assert [small_disk / "b.book"] == [one for one in small_disk.rglob("*") if one.is_file()]


def test_on_a_disk_for_reading_only_each_command_says_so(tmp_path: Path, small_disk: Path) -> None:
    full_book(tmp_path / "other.book").close()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)

    said = child(USE_THE_DISK, small_disk / "b.book", tmp_path / "other.book").split()
    assert ["BookReadOnly"] * 4 == said
