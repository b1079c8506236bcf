"""The whole book as CSV tables."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pandas as pd
import pytest
from frictionless import Package, validate

from clipmark.atomic_files import CannotWrite
from clipmark.book.exchange.csv_folder import write_folder
from clipmark.book.model import Session
from clipmark.book.store import Book
from tests.book.made_book import full_book


def test_the_tables_are_what_their_schema_says(tmp_path: Path) -> None:
    """Checked by frictionless: types, required values, numbers used once, references."""
    with full_book(tmp_path / "b.book") as book:
        write_folder(book, tmp_path / "csv")
    report = validate(str(tmp_path / "csv" / "datapackage.json"))

    assert [] == report.flatten(["rowNumber", "fieldName", "type", "message"])
    assert 17 == len(Package(str(tmp_path / "csv" / "datapackage.json")).resources)


def test_each_table_says_of_each_column_what_it_means(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        write_folder(book, tmp_path / "csv")
    package = json.loads((tmp_path / "csv" / "datapackage.json").read_text(encoding="utf-8"))

    assert [] == [
        (table["name"], field["name"])
        for table in package["resources"]
        for field in table["schema"]["fields"]
        if not field["description"]
    ]


def test_beside_ticks_stand_seconds_of_the_session_clock(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        write_folder(book, tmp_path / "csv")
    marks = pd.read_csv(tmp_path / "csv" / "marks.csv")

    clasp = marks[marks.act == "clasp"].iloc[0]
    assert (87, pytest.approx(1 / 3 + 0.080, abs=1e-6)) == (clasp.start_pts, clasp.start_s)
    assert bool(clasp.lasting)
    assert pd.isna(clasp.end_s)


def test_text_reads_back_by_pandas_as_it_was(tmp_path: Path) -> None:
    with full_book(tmp_path / "b.book") as book:
        write_folder(book, tmp_path / "csv")
    sessions = pd.read_csv(tmp_path / "csv" / "sessions.csv")

    assert 'שלום\n🕷 "quoted", -2' == sessions.note[0]
    assert b"\r\n" in (tmp_path / "csv" / "sessions.csv").read_bytes()  # RFC 4180


@pytest.mark.parametrize(
    "text", ["=1+1", "+1 week", "-cmd", "@SUM(A1)", "\tx", "\r=1", "\n=1", " =1", "＝1", "－2", "-2"], ids=ascii
)
def test_no_text_is_taken_for_a_formula(tmp_path: Path, text: str) -> None:
    with Book.open(tmp_path / "b.book") as book:
        book.add_session(Session(0, text, None, None, note=text))
        write_folder(book, tmp_path / "csv")
    with (tmp_path / "csv" / "sessions.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)

    assert ("'" + text, "'" + text) == (row["title"], row["note"])


def test_where_nothing_can_be_written_nothing_is_left(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    with full_book(tmp_path / "b.book") as book, pytest.raises(CannotWrite, match="taken"):
        write_folder(book, tmp_path / "taken")

    assert ["b.book", "taken"] == sorted(path.name for path in tmp_path.iterdir())
