"""Copies of the book, and putting one back."""

from __future__ import annotations

import datetime
import multiprocessing
import os
import re
import sqlite3
import stat
import subprocess
import sys
import time
from contextlib import closing, suppress
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.errors import BookDamaged, BookLocked, BookOutOfReach, NoBook, NotABook
from clipmark.book.exchange.book_json import document
from clipmark.book.file import backup as module
from clipmark.book.file.backup import (
    Backup,
    NoBackup,
    backup,
    backups,
    daily,
    find_backup,
    folder_of,
    restore,
    surplus,
)
from clipmark.book.model import Session
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
from tests.book.made_book import full_book, mark_of, new_session


def content(path: Path) -> object:
    with Book.open(path, read_only=True) as book:
        return document(book)


class Clock(datetime.datetime):
    """A clock that stands where the test puts it."""

    at = datetime.datetime(2026, 3, 1, 12, tzinfo=datetime.UTC)

    @classmethod
    def now(cls, tz: datetime.tzinfo | None = None) -> datetime.datetime:  # type: ignore[override]
        return cls.at


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> type[Clock]:
    monkeypatch.setattr(Clock, "at", Clock.at)
    monkeypatch.setattr("clipmark.book.file.backup.datetime.datetime", Clock)
    monkeypatch.setattr("clipmark.book.store.datetime", Clock)
    return Clock


def test_a_backup_holds_what_the_book_held(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    made = backup(path)

    assert content(path) == content(made)
    assert folder_of(path) == made.parent


def test_a_backup_is_made_while_a_window_has_the_book_open(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        book.add_mark(mark_of(1, "searching"))
        made = backup(book.path)
        book.add_mark(mark_of(1, "searching"))

    assert 4 == len(content(made)["marks"])  # type: ignore[index]


def test_a_backup_to_a_place_of_ones_own_replaces_what_was_there(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    backup(tmp_path / "b.book", to=tmp_path / "stick" / "copy.book")
    backup(tmp_path / "b.book", to=tmp_path / "stick" / "copy.book")

    assert content(tmp_path / "b.book") == content(tmp_path / "stick" / "copy.book")
    assert ["copy.book"] == [path.name for path in (tmp_path / "stick").iterdir()]


def test_a_book_is_not_its_own_backup(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    with pytest.raises(BookOutOfReach, match="cannot be its own backup"):
        backup(tmp_path / "b.book", to=tmp_path / "b.book")


def test_using_a_book_backs_it_up_once_a_day(tmp_path: Path, clock: type[Clock]) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    Book.open(path).close()
    Book.open(path).close()
    assert ["20260301"] == [one.day for one in backups(path)]
    clock.at += datetime.timedelta(days=1)
    Book.open(path, read_only=True).close()
    Book.open(path).close()

    assert ["20260301", "20260302"] == [one.day for one in backups(path)]


def test_a_window_left_open_overnight_backs_up_before_the_first_change(tmp_path: Path, clock: type[Clock]) -> None:
    full_book(tmp_path / "b.book").close()
    with Book.open(tmp_path / "b.book") as book:
        clock.at += datetime.timedelta(days=1)
        book.remove_session(1)
        book.add_session(Session(0, "Another", None, None))

    assert ["20260301", "20260302"] == [one.day for one in backups(book.path)]
    assert [1, 1] == [len(content(one.path)["sessions"]) for one in backups(book.path)]  # type: ignore[index]


def test_an_empty_book_is_not_backed_up(tmp_path: Path) -> None:
    Book.open(tmp_path / "b.book").close()
    Book.open(tmp_path / "b.book").close()

    assert () == backups(tmp_path / "b.book")


def test_a_clock_set_back_neither_stops_backups_nor_mixes_them_up(tmp_path: Path, clock: type[Clock]) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    daily(path)
    clock.at -= datetime.timedelta(days=40)
    with Book.open(path) as book:
        book.add_session(Session(0, "Later", None, None))
    backup(path)

    assert [(1, "20260301"), (2, "20260120"), (3, "20260120")] == [(one.number, one.day) for one in backups(path)]
    assert 2 == len(content(find_backup(path).path)["sessions"])  # type: ignore[index]


def test_a_backup_that_fails_stops_no_marking_and_says_why(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    folder_of(path).write_text("a file where the folder should be")
    with Book.open(path) as book:
        book.add_mark(mark_of(1, "searching"))

        assert "b.book.backups" in book.backup_trouble
        assert 4 == len(book.session(1).marks)


def kept_of(*made: tuple[int, str, str]) -> list[int]:
    known = [Backup(Path(), number, at, reason, 0) for number, at, reason in made]
    return [one.number for one in known if one not in surplus(known)]


def test_rotation_keeps_the_newest_and_one_a_month() -> None:
    days = [(day, f"202603{day:02d}T120000", "daily") for day in range(1, 31)]
    months = [(-month, f"2025{13 - month:02d}15T120000", "daily") for month in range(12, 0, -1)]

    assert [-11, -10, -9, -8, -7, -6, -5, -4, -3, -2, -1, *range(21, 31)] == kept_of(*months, *days)


def test_rotation_keeps_what_was_before_a_migration() -> None:
    days = [(day, f"202603{day:02d}T120000", "migration" if day in (2, 5) else "daily") for day in range(1, 31)]

    assert [2, 5, *range(21, 31)] == kept_of(*days)


def test_rotation_takes_the_files_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "KEPT", 2)
    path = tmp_path / "b.book"
    full_book(path).close()
    for _ in range(4):
        backup(path)

    assert [3, 4] == [one.number for one in backups(path)]
    assert 2 == len(list(folder_of(path).iterdir()))


def test_a_restored_book_is_as_it_was_and_what_it_held_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    with full_book(path) as book:
        then = document(book)
        made = backup(path)
        book.remove_session(1)
        later = document(book)
    kept = restore(path, made)

    assert then == content(path)
    assert kept is not None
    assert later == content(kept)
    assert ["asked", "restore"] == [one.reason for one in backups(path)]


def test_a_restore_can_be_restored(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    with full_book(path) as book:
        made = backup(path)
        book.remove_session(1)
        later = document(book)
    restore(path, made)
    restore(path, find_backup(path).path)

    assert later == content(path)


def test_an_open_window_goes_on_with_the_restored_book(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        made = backup(book.path)
        book.add_mark(mark_of(1, "searching"))
        before = book.changed()
        restore(book.path, made)
        assert before != book.changed()
        book.add_mark(mark_of(1, "leg play"))

        assert ["introduced", "drumming", "leg play", "clasp"] == [mark.act for mark in book.session(1).marks]


def test_a_lost_book_comes_back_from_its_backup(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    expected = content(path)
    made = backup(path)
    path.unlink()

    assert None is restore(path, made)
    assert expected == content(path)


def test_a_damaged_book_is_moved_aside_and_no_journal_of_it_is_left(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    expected = content(path)
    made = backup(path)
    path.write_bytes(b"no book at all " * 1000)
    path.with_name("b.book-journal").write_bytes(b"half a write")
    kept = restore(path, made)

    assert expected == content(path)
    assert kept is not None
    assert b"no book at all " * 1000 == kept.read_bytes()
    assert not path.with_name("b.book-journal").exists()


HALF_A_WRITE = """
import os, sys
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
book = Book.open(sys.argv[1], backups=False)
book._db.execute("PRAGMA cache_size = 1")
book._db.execute("BEGIN IMMEDIATE")
for number in range(500):
    book._db.execute("INSERT INTO step (label, made_at) VALUES (?, '')", ("x" * 500,))
book._db.execute("UPDATE mark SET note = 'half'")
os.kill(os.getpid(), 9)
"""


def killed_in_a_write(path: Path) -> None:
    """Leave a book as a program leaves it that is killed in the middle of a write: a journal lies beside it."""
    subprocess.run([sys.executable, "-c", HALF_A_WRITE, path], cwd=Path(__file__).parents[2], check=False)
    assert path.with_name(path.name + "-journal").stat().st_size > 0


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs SIGKILL, which Windows lacks")
def test_a_journal_that_was_left_alone_is_not_played_into_the_restored_book(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    made, expected = backup(path), content(path)
    with Book.open(path, backups=False) as book:
        book.remove_session(1)
    killed_in_a_write(path)
    path.unlink()  # by the keeper, who takes the file for broken and does not know what lies beside it
    restore(path, made)

    assert expected == content(path)
    assert examine(path, film=False).sound
    assert ["b.book", "b.book-journal.old", "b.book.backups"] == sorted(one.name for one in tmp_path.iterdir())


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs SIGKILL, which Windows lacks")
def test_a_backup_to_a_place_where_a_killed_book_lies_is_whole(tmp_path: Path) -> None:
    path, other = tmp_path / "b.book", tmp_path / "stick.book"
    with full_book(path) as book:
        expected = document(book)
    full_book(other).close()
    with Book.open(path, backups=False) as book:
        book.add_mark(mark_of(1, "searching"))
        expected = document(book)
    killed_in_a_write(other)
    backup(path, to=other)

    assert expected == content(other)
    assert examine(other, film=False).sound
    assert ["b.book", "stick.book"] == sorted(one.name for one in tmp_path.iterdir())


def test_a_half_copy_of_the_same_process_number_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    expected = content(path)
    folder_of(path).mkdir()
    for ending in ("", "-journal"):
        (folder_of(path) / f".clipmark-{os.getpid()}.part{ending}").write_bytes(b"rubbish" * 1000)

    assert expected == content(backup(path))


def test_what_was_moved_aside_as_damaged_is_neither_restored_unasked_nor_the_day_s_backup(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    made = backup(path)
    path.write_bytes(b"no book at all " * 1000)
    kept = restore(path, find_backup(path).path)

    assert ["asked", "damaged"] == [one.reason for one in backups(path)]
    assert made == find_backup(path).path
    assert kept == find_backup(path, "2").path
    assert () == examine(path, film=False).backups
    kept.with_name(made.name).unlink()
    assert None is not daily(path)


@pytest.mark.parametrize("source", ["missing", "text", "torn"])
def test_nothing_is_restored_from_what_is_no_sound_backup(tmp_path: Path, source: str) -> None:
    path, bad = tmp_path / "b.book", tmp_path / "bad.book"
    full_book(path).close()
    made = bytearray(backup(path).read_bytes())
    expected = content(path)
    if source == "text":
        bad.write_text("not a book" * 100)
    elif source == "torn":
        made[8_192:40_960] = bytes(32_768)
        bad.write_bytes(made)
    with pytest.raises((NoBook, NotABook, BookDamaged)):
        restore(path, bad)

    assert expected == content(path)
    assert ["asked"] == [one.reason for one in backups(path)]


def test_a_book_that_is_being_written_is_not_replaced_under_the_writer(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    with full_book(path) as book:
        made = backup(path)
        book.add_mark(mark_of(1, "searching"))
    expected = content(path)
    writer = sqlite3.connect(path, isolation_level=None)
    writer.execute("BEGIN IMMEDIATE")
    with pytest.raises(BookLocked):
        restore(path, made, wait_s=0.1)
    writer.execute("ROLLBACK")
    writer.close()

    assert expected == content(path)


def test_an_unfinished_copy_of_a_killed_program_is_cleared_away_later(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    with Book.open(path) as book:
        new_session(book)
    backup(path)
    for name, age in ((".clipmark-1.part", 2 * module.STALE_S), (".clipmark-2.part", 0)):
        part = folder_of(path) / name
        part.write_bytes(b"half")
        os.utime(part, (time.time() - age, time.time() - age))
    backup(path)

    assert [".clipmark-2.part"] == [one.name for one in folder_of(path).iterdir() if one.suffix == ".part"]


def test_asking_for_a_backup_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(NoBackup, match="no backup yet"):
        find_backup(tmp_path / "b.book")
    with pytest.raises(NoBackup, match="of number 7"):
        find_backup(tmp_path / "b.book", "7")


def _backs_up(path, count, pipe):
    pipe.send([backup(path).name for _ in range(count)])


def test_two_programs_that_back_up_at_once_never_give_one_name_or_number_twice(tmp_path):
    path = tmp_path / "b.book"
    with full_book(path):
        pass
    context = multiprocessing.get_context("spawn")
    pipes = [context.Pipe(duplex=False) for _ in range(3)]
    programs = [context.Process(target=_backs_up, args=(path, 12, theirs)) for _, theirs in pipes]
    for program in programs:
        program.start()
    names = [name for ours, _ in pipes for name in ours.recv()]
    for program in programs:
        program.join()

    numbers = [re.search(r"-(\d{6})-", name)[1] for name in names]
    assert 36 == len(set(names)) == len(set(numbers))
    assert [] == [left for left in os.listdir(folder_of(path)) if left.startswith(".")]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such rights")
def test_copies_of_a_private_book_are_private(tmp_path):
    path = tmp_path / "b.book"
    with full_book(path):
        pass
    path.chmod(0o600)
    made, asked = backup(path), backup(path, to=tmp_path / "copy.book")
    restore(path, asked)
    restore(tmp_path / "new.book", asked)

    copies = (made, asked, path, tmp_path / "new.book", *folder_of(path).iterdir())
    assert {0o600} == {stat.S_IMODE(one.stat().st_mode) for one in copies}


def _adds(path, stop, pipe):
    kept = []
    with Book.open(path, backups=False) as book:
        pipe.send("open")
        while not stop.is_set():
            with suppress(ClipmarkError):
                kept.append(book.add_session(Session(0, f"added {len(kept)}", None, None)).title)
            time.sleep(0.01)
    pipe.send(kept)


def test_what_another_program_adds_during_a_restore_is_in_the_book_or_in_the_safety_copy(tmp_path):
    path = tmp_path / "b.book"
    with full_book(path):
        pass
    old = backup(path, to=tmp_path / "old.book")
    context = multiprocessing.get_context("spawn")
    stop, (ours, theirs) = context.Event(), context.Pipe(duplex=False)
    program = context.Process(target=_adds, args=(path, stop, theirs))
    program.start()
    assert "open" == ours.recv()
    for _ in range(6):
        time.sleep(0.1)
        restore(path, old, wait_s=60)
    stop.set()
    kept = set(ours.recv())
    program.join()

    there = set()
    for place in (path, *(one.path for one in backups(path))):
        with closing(sqlite3.connect(place)) as db:
            there |= {title for (title,) in db.execute("SELECT title FROM session")}
    assert 10 < len(kept)
    assert set() == kept - there
