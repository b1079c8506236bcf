"""Books whose pages are sound and whose values are not what clipmark writes: made by hand, by another program, or by
a disk. Every command that reads a book says so in a sentence, or does what can be done; nothing else is written."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest

from clipmark.cli import main
from tests.book.made_book import full_book

ODD: tuple[object, ...] = (
    None, 0, -1, 1, 7, 2**62, -(2**63), 1e308, float("inf"), 0.5, "", "x" * 5_000, "two\nlines\0", b"\xff\xfe", b"",
    "[]", "[" * 50_000, '{"a": 1}', '[["a"]]', "[1]", "nan", "2026-13-01", "0001-01-01", "9999-12-31",
    "../../etc/hosts", "=1+1", "<script>alert(1)</script>", "\u202e\u0000", "him", "confirmed", "true",
)  # fmt: skip
PLACES = ("out", "there.json", "there", "film.vtt", "dates.ics", "sheet.html", "saved.book")


def columns(db: sqlite3.Connection) -> list[tuple[str, str]]:
    """Every column of every table of a book."""
    tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
    return [
        (table, str(row[1]))
        for table in tables
        if not table.startswith("sqlite_")
        for row in db.execute(f'PRAGMA table_info("{table}")')
    ]


def crafted(path: Path, rng: random.Random) -> str:
    """Put one to three odd values into random cells; says which."""
    db = sqlite3.connect(path)
    said = []
    for _ in range(rng.choice((1, 1, 2, 3))):
        table, column = rng.choice(columns(db))
        value = rng.choice(ODD)
        rows = [row for (row,) in db.execute(f'SELECT rowid FROM "{table}"')] if table != "about" else []
        where = f" WHERE rowid = {rng.choice(rows)}" if rows and rng.random() < 0.7 else ""
        try:
            db.execute(f'UPDATE "{table}" SET "{column}" = ?{where}', (value,))
        except sqlite3.Error:  # the table itself refuses the value
            continue
        said.append(f"{table}.{column} = {value!r:.30}{where}")
    db.commit()
    db.close()
    return "; ".join(said)


def commands(folder: Path) -> list[list[str]]:
    book, out = str(folder / "b.book"), folder / "out"
    return [
        *(["book", *words, "--book", book] for words in (
            ["list"], ["list", "--animals"], ["list", "--sort", "confirmed", "--json"], ["show", "1"],
            ["show", "--animal", "1"], ["show", "1", "--json"], ["due"], ["check"], ["outcomes"],
            ["export", str(out / "there.json")], ["export", "--csv", str(out / "there")],
            ["salvage", str(out / "saved.book")], ["merge", "1", "2"], ["undo"], ["undo"], ["redo"],
        )),
        ["sheet", "1", "--book", book, "-o", str(out / "sheet.html")],
        ["export", "1", "--book", book, "--csv", str(out / "tables")],
        ["export", "1", "--book", book, "--json", str(out / "session.json")],
        ["export", "1", "--book", book, "--vtt", str(out / "film.vtt")],
        ["export", "1", "--book", book, "--ics", str(out / "dates.ics")],
        ["agree", "1", "--between", "Ada", "Bo", "--book", book],
    ]  # fmt: skip


def try_all(folder: Path, count: int, seed: int, capsys: pytest.CaptureFixture[str]) -> dict[int, int]:
    """Craft so many books and give each to every command; how often each exit code came."""
    path = folder / "b.book"
    full_book(path).close()
    whole = path.read_bytes()
    codes: dict[int, int] = {}
    for number in range(count):
        for place in folder.iterdir():
            if place.name.startswith("b.book") and place.is_file():
                place.unlink()
        path.write_bytes(whole)
        rng = random.Random(f"{seed} {number}")
        said = crafted(path, rng)
        for words in commands(folder):
            (folder / "out").mkdir(exist_ok=True)
            (folder / "out" / "saved.book").unlink(missing_ok=True)
            try:
                code = main(words)
            except Exception as error:
                raise AssertionError(f"book {number} ({said}): {' '.join(words)[:60]}") from error
            shown = capsys.readouterr()
            assert code in (0, 1), f"book {number} ({said}): {words} gives {code}: {shown.err}"
            assert code == 0 or shown.err.strip(), f"book {number} ({said}): {words} fails without a word"
            codes[code] = codes.get(code, 0) + 1
        assert {"b.book", "b.book.backups", "out"} >= {place.name for place in folder.iterdir()}
    return codes


def test_a_crafted_book_is_read_or_refused_in_words_by_every_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    codes = try_all(tmp_path, 8, 1, capsys)

    assert 0 < codes[0]


@pytest.mark.sweep
def test_five_hundred_crafted_books(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    codes = try_all(tmp_path, 500, 2, capsys)
    with capsys.disabled():
        print(codes)

    assert 0 < codes[1] < codes[0]
