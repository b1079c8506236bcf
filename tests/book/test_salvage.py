"""Saving what can be read of a damaged book. Damage is done to the pages of real books, at places that are known."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest

from clipmark.book.care.health import examine
from clipmark.book.care.salvage import NothingSaved, PlaceTaken, salvage
from clipmark.book.errors import BookDamaged, BookError, NoBook
from clipmark.book.exchange.book_json import document
from clipmark.book.steps.journal import UndoImpossible
from clipmark.book.store import Book
from tests.book.made_book import full_book, mark_of

PAGE = 4096


def long_book(path: Path, marks: int = 400) -> None:
    """A full book with many marks on many pages."""
    with full_book(path) as book, book.together("mark much"):
        for number in range(marks):
            book.add_mark(mark_of(1, "searching", 47 + number), closing=False)


def first_pages(path: Path) -> dict[str, int]:
    """Table to the number of its first page, from 1."""
    db = sqlite3.connect(path)
    found = dict(db.execute("SELECT name, rootpage FROM sqlite_master WHERE type = 'table'").fetchall())
    db.close()
    return found


def leaf_pages(path: Path, table: str) -> list[int]:
    """The pages with a table's rows, by the page numbers in its first page (SQLite file format 1.6)."""
    data = path.read_bytes()
    root = first_pages(path)[table]
    page = data[(root - 1) * PAGE : root * PAGE]
    if page[0] == 13:
        return [root]
    assert page[0] == 5
    cells = int.from_bytes(page[3:5], "big")
    starts = [int.from_bytes(page[12 + 2 * cell : 14 + 2 * cell], "big") for cell in range(cells)]
    return [int.from_bytes(page[at : at + 4], "big") for at in starts] + [int.from_bytes(page[8:12], "big")]


def overwrite(path: Path, page: int, what: bytes) -> None:
    data = bytearray(path.read_bytes())
    data[(page - 1) * PAGE : page * PAGE] = (what * PAGE)[:PAGE]
    path.write_bytes(data)


def test_all_of_a_sound_book_is_saved(tmp_path: Path) -> None:
    long_book(tmp_path / "b.book")
    said = salvage(tmp_path / "b.book", tmp_path / "saved.book")

    assert {} == said.dropped
    with Book.open(tmp_path / "b.book") as before, Book.open(tmp_path / "saved.book") as after:
        assert document(before) == document(after)


@pytest.mark.parametrize("what", [b"\0", b"\xff", b"\x0d\x00\x00\x00\x03garbage"], ids=ascii)
def test_a_broken_page_of_marks_costs_the_marks_on_it_and_no_others(tmp_path: Path, what: bytes) -> None:
    path = tmp_path / "b.book"
    long_book(path)
    pages = leaf_pages(path, "mark")
    assert 3 < len(pages)
    overwrite(path, pages[1], what)
    before = path.read_bytes()
    said = salvage(path, tmp_path / "saved.book")

    with Book.open(tmp_path / "saved.book") as book:
        kept = len(book.session(1).marks)
        assert 403 * (len(pages) - 2) / len(pages) < kept < 403
        assert kept == said.saved["mark"]
        assert 4 == len(book.session(1).calls)
        assert 100 == len(book.trace_of(2).x)
    assert before == path.read_bytes()
    assert examine(tmp_path / "saved.book", film=False).sound


@pytest.mark.parametrize("page", [1, 17, 18])  # the list of tables lies on these
def test_a_broken_list_of_tables_costs_nothing(tmp_path: Path, page: int) -> None:
    path = tmp_path / "b.book"
    long_book(path)
    with Book.open(path) as book:
        expected = document(book)
    assert page not in first_pages(path).values()
    overwrite(path, page, b"\0")
    with pytest.raises(BookError):
        Book.open(path)
    said = salvage(path, tmp_path / "saved.book")

    assert "The list of tables was broken" in said.notes[0]
    with Book.open(tmp_path / "saved.book") as book:
        assert expected == document(book)


@pytest.mark.parametrize(
    ("table", "lost"),
    [("session", "Saved session 1"), ("pass", "pulls-2"), ("animal", "First <visit>")],
)
def test_what_belongs_to_something_lost_is_saved_with_a_stand_in(tmp_path: Path, table: str, lost: str) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    overwrite(path, first_pages(path)[table], b"\0")
    said = salvage(path, tmp_path / "saved.book")

    with Book.open(tmp_path / "saved.book") as book:
        record = book.session(1)
        assert 3 == len(record.marks)
        assert 4 == len(record.calls)
        assert lost in (record.session.title, *(one.parameters for one in record.passes))
    assert any("lost" in note for note in said.notes)


def test_without_the_clip_its_marks_mean_nothing_and_that_is_said(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    full_book(path).close()
    overwrite(path, first_pages(path)["clip"], b"\0")
    said = salvage(path, tmp_path / "saved.book")

    assert (0, 3) == (said.saved["mark"], said.dropped["mark"])
    assert (2, 1) == (said.saved["animal"], said.saved["session"])


def test_a_book_cut_short_gives_what_its_pages_hold(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    long_book(path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 3 // 4 // PAGE * PAGE + 100])
    said = salvage(path, tmp_path / "saved.book")

    assert 1 == said.saved["session"]
    assert 100 < said.saved["mark"]
    assert examine(tmp_path / "saved.book", film=False).sound


def test_what_cannot_be_saved_leaves_nothing_behind(tmp_path: Path) -> None:
    (tmp_path / "b.book").write_bytes(random.Random(1).randbytes(20 * PAGE))
    with pytest.raises(NothingSaved, match="Restore a backup"):
        salvage(tmp_path / "b.book", tmp_path / "saved.book")

    assert ["b.book"] == [path.name for path in tmp_path.iterdir()]


def test_an_existing_file_is_never_overwritten(tmp_path: Path) -> None:
    full_book(tmp_path / "b.book").close()
    (tmp_path / "saved.book").write_text("precious")
    with pytest.raises(PlaceTaken):
        salvage(tmp_path / "b.book", tmp_path / "saved.book")
    with pytest.raises(NoBook):
        salvage(tmp_path / "none.book", tmp_path / "new.book")

    assert "precious" == (tmp_path / "saved.book").read_text()


def test_damage_met_while_reading_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "b.book"
    long_book(path)
    overwrite(path, leaf_pages(path, "mark")[1], b"\xff")
    with Book.open(path, backups=False) as book, pytest.raises(BookDamaged, match="clipmark book salvage"):
        book.session(1)


def scribbled(data: bytes, rng: random.Random) -> bytes:
    """One to three stretches zeroed, made random, or swapped, anywhere."""
    changed = bytearray(data)
    for _ in range(rng.randint(1, 3)):
        length = rng.choice([1, 8, 100, PAGE, 3 * PAGE])
        at = rng.randrange(max(len(changed) - length, 1))
        kind = rng.randrange(3)
        if kind == 0:
            changed[at : at + length] = bytes(length)
        elif kind == 1:
            changed[at : at + length] = rng.randbytes(length)
        else:
            other = rng.randrange(max(len(changed) - length, 1))
            changed[at : at + length] = changed[other : other + length]
    return bytes(changed)


def use(path: Path) -> str:
    """Open a book of any kind and use it: "used", or the name of the trouble that was said in words."""
    try:
        with Book.open(path, backups=False) as book:
            for row in book.sessions():
                record = book.session(row.id)
                for one in record.passes:
                    book.trace_of(one.id)
            book.undo()
    except (BookError, UndoImpossible) as error:
        return type(error).__name__
    return "used"


def scribble_many(tmp_path: Path, count: int, seed: int) -> dict[str, int]:
    path, saved = tmp_path / "b.book", tmp_path / "saved.book"
    long_book(path, 100)
    whole = path.read_bytes()
    rng = random.Random(seed)
    said: dict[str, int] = {}
    for _ in range(count):
        path.write_bytes(scribbled(whole, rng))
        path.with_name("b.book-journal").unlink(missing_ok=True)
        saved.unlink(missing_ok=True)
        try:
            salvage(path, saved)
            assert examine(saved, film=False).sound
            outcome = "saved"
        except NothingSaved:
            outcome = "nothing saved"
        used = use(path)
        for word in (outcome, used):
            said[word] = said.get(word, 0) + 1
    return said


def test_a_scribbled_book_is_used_or_refused_in_words_and_salvaged_soundly(tmp_path: Path) -> None:
    said = scribble_many(tmp_path, 25, seed=1)

    assert 20 < said["saved"]


@pytest.mark.sweep
def test_a_thousand_scribbled_books(tmp_path: Path) -> None:
    said = scribble_many(tmp_path, 1_000, seed=2)
    print(said)

    assert 900 < said["saved"]
