"""Exported books of any size: read item by item, with progress, and stopped without a trace."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

from clipmark import children
from clipmark.book.care.health import examine
from clipmark.book.exchange import json_lists
from clipmark.book.exchange.book_json import document, write_document
from clipmark.book.exchange.bring_in import bring_in, import_file
from clipmark.book.exchange.json_lists import JsonLists, NoJson
from clipmark.book.exchange.read_in import ExchangeUnreadable, read_document
from clipmark.book.store import Book
from clipmark.progress import Cancelled
from tests.book.made_book import full_book


def exported(folder: Path, marks: int = 0) -> Path:
    """A whole book as a file, with so many marks besides."""
    path = folder / f"{marks}.json"
    with full_book(folder / f"{marks}.book") as book:
        made = document(book)
    base = made["marks"][0]
    made["marks"] += [base | {"id": 1_000 + number, "start_pts": number} for number in range(marks)]
    path.write_text(json.dumps(made))
    return path


class Told:
    """A Progress that remembers, and stops the work at a share of the way."""

    def __init__(self, stop_at: float = 2.0):
        self.shares: list[float] = []
        self._stop_at = stop_at

    def advance(self, done: int, total: int) -> None:
        self.shares.append(done / total)
        if done >= self._stop_at * total:
            raise Cancelled


def peak_of_import(folder: Path, marks: int) -> int:
    path = exported(folder, marks)
    with Book.open(folder / f"into-{marks}.book", backups=False) as book:
        tracemalloc.start()
        import_file(book, path)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert marks + 3 == book._db.execute("SELECT count(*) FROM mark").fetchone()[0]
    return peak


def test_what_an_import_needs_of_memory_does_not_grow_with_the_file(tmp_path, monkeypatch):
    monkeypatch.setattr(json_lists, "_PIECE", 8_192)
    small, large = (peak_of_import(tmp_path, marks) for marks in (300, 900))

    assert large - small < 600 * 100  # bytes a mark; one is 150 letters in the file, and some 600 bytes as a value


@pytest.mark.parametrize("step", ["reading", "bringing in"])
def test_an_import_that_is_stopped_leaves_the_book_as_it_was(tmp_path, step):
    path = exported(tmp_path, 3_000)
    with Book.open(tmp_path / "b.book", backups=False) as book:
        before = document(book), book.changed()
        with pytest.raises(Cancelled):
            bring_in(book, read_document(path, Told(0.5 if step == "reading" else 2.0)), progress=Told(0.9))
        assert before == (document(book), book.changed())
        assert import_file(book, path).added["marks"] == 3_003


def test_an_import_tells_how_far_it_is(tmp_path):
    path, reading, bringing = exported(tmp_path, 3_000), Told(), Told()
    with Book.open(tmp_path / "b.book", backups=False) as book:
        bring_in(book, read_document(path, reading), progress=bringing)

    for told in (reading, bringing):
        assert told.shares == sorted(told.shares)
        assert len(told.shares) > 5
        assert 1 == told.shares[-1]


@pytest.mark.skipif(os.name == "nt", reason="Windows lacks the signal of Ctrl+C")
def test_ctrl_c_in_the_import_command_leaves_the_book_untouched(tmp_path):
    path, book = exported(tmp_path, 20_000), tmp_path / "b.book"
    with full_book(book):
        pass
    before = book.read_bytes()
    words = [sys.executable, "-m", "clipmark", "book", "import", str(path), "--book", str(book)]
    child = subprocess.Popen(words, env=children.environment(), cwd=children.ROOT, stderr=subprocess.PIPE)
    journal, until = book.with_name("b.book-journal"), time.monotonic() + 60
    while not journal.exists() and time.monotonic() < until:
        time.sleep(0.01)
    time.sleep(0.2)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate(timeout=60)

    assert (130, True) == (child.returncode, b"Stopped" in said)
    assert before == book.read_bytes()


def test_undo_takes_back_an_import_of_many_parts(tmp_path):
    with Book.open(tmp_path / "b.book", backups=False) as book:
        before = document(book)
        import_file(book, exported(tmp_path, 2_000))
        assert "import 2000.json" == book.undo()

        assert before == document(book)
        assert book.redo()
        assert 2_003 == len(document(book)["marks"])


def shuffled(made: dict[str, Any], seed: int) -> dict[str, Any]:
    names = list(made)
    random.Random(seed).shuffle(names)
    return {name: made[name] for name in names}


@pytest.mark.parametrize("indent", [None, 3])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_order_of_the_lists_and_the_layout_do_not_matter(tmp_path, indent, seed):
    with full_book(tmp_path / "b.book") as book, Book.open(tmp_path / "c.book") as other:
        path = tmp_path / "c.json"
        path.write_text(json.dumps(shuffled(document(book), seed), indent=indent), encoding="utf-8-sig")
        import_file(other, path)

        assert document(book) == document(other)


@pytest.mark.parametrize("piece", [1, 5, 64])
def test_wherever_the_pieces_are_cut_the_same_is_read(tmp_path, monkeypatch, piece):
    made = {
        "a": [1, -2.5e3, 1234567, True, None, "é\n\\u00e9 \u2028", {"x": ["]", "}", '"', "\\"]}, []],
        "b": "ü",
        "c": [],
    }
    path = tmp_path / "x.json"
    path.write_text(json.dumps(made, ensure_ascii=piece == 5, indent=2 if piece == 64 else None), encoding="utf-8")
    monkeypatch.setattr(json_lists, "_PIECE", piece)
    found = JsonLists.look_through(path)

    assert (made["a"], [], {"b": "ü"}) == (list(found.items("a")), list(found.items("c")), found.values)
    assert (8, 0) == (found.count("a"), found.count("c"))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('{"a": [1, 2', "the file ends"),
        ('{"a": [1 2]}', "2 stands where"),
        ('{"a": [treu]}', "Expecting value"),
        ('{"a": ["x]}', "Unterminated"),
        ('{"a": [1]} {}', "follows its end"),
        ('{"a": [1], "a": [2]}', "twice"),
        ('{"a": [1],}', "where"),
        ("{a: 1}", "where"),
    ],
)
def test_what_is_no_json_is_told_with_its_place(tmp_path, text, why):
    (tmp_path / "x.json").write_text(text)
    with pytest.raises(NoJson, match=why):
        JsonLists.look_through(tmp_path / "x.json")


def test_an_item_that_would_fill_the_memory_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(json_lists, "_LONG", 1_000)
    monkeypatch.setattr(json_lists, "_MOST_PARTS", 100)
    monkeypatch.setattr(json_lists, "_PIECE", 500)
    path = tmp_path / "x.json"
    path.write_text('{"a": [[' + "[]," * 2_000 + "[]]]}")
    with pytest.raises(NoJson, match="too long"):
        JsonLists.look_through(path)
    path.write_text('{"a": ["' + "x" * 5_000 + '"]}')
    assert 1 == JsonLists.look_through(path).count("a")


def test_a_file_that_is_written_to_meanwhile_is_not_brought_in(tmp_path):
    path = exported(tmp_path)
    read = read_document(path)
    path.write_text(path.read_text().replace("him", "her"))
    with Book.open(tmp_path / "b.book", backups=False) as book:
        before = book.changed()
        with pytest.raises(ExchangeUnreadable, match="changed while"):
            bring_in(book, read)
        assert before == book.changed()


def test_an_export_tells_how_far_it_is_and_leaves_nothing_when_it_is_stopped(tmp_path):
    with Book.open(tmp_path / "b.book", backups=False) as book:
        import_file(book, exported(tmp_path, 2_500))
        told = Told()
        write_document(book, tmp_path / "whole.json", progress=told)
        assert 1 == told.shares[-1]
        assert len(told.shares) >= 3
        with pytest.raises(Cancelled):
            write_document(book, tmp_path / "half.json", progress=Told(0.5))

    assert [] == [one.name for one in tmp_path.iterdir() if "half" in one.name]


def test_a_check_tells_how_far_it_is_and_can_be_stopped_in_sqlites_own_part(tmp_path, monkeypatch):
    path = tmp_path / "b.book"
    with Book.open(path, backups=False) as book:
        import_file(book, exported(tmp_path, 2_500))
    monkeypatch.setattr("clipmark.book.care.health._TURN", 1_000)
    turns: list[tuple[int, int]] = []

    class Watched:
        def __init__(self, patience: int):
            self._patience = patience

        def advance(self, done: int, total: int) -> None:
            turns.append((done, total))
            if len(turns) >= self._patience:
                raise Cancelled

    assert examine(path, film=False, progress=Watched(10**6)).sound
    things = [done / total for done, total in turns if total]
    assert len(turns) - len(things) > 10  # SQLite's own part, of which the length is not known
    assert len(things) >= 5
    assert things == sorted(things)
    turns.clear()
    with pytest.raises(Cancelled):
        examine(path, film=False, progress=Watched(5))
