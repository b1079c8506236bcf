"""clipmark as a library: five names, loaded when they are asked for, that give what the commands give."""

import inspect
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import clipmark
from clipmark import library
from clipmark.errors import ClipmarkError
from tests import made
from tests.book.made_book import full_book

ROOT = Path(__file__).parents[2]
NAMES = {"Film", "open_film", "read_book", "scan", "survey"}


def test_frames_have_their_exact_times_and_the_pixels_that_were_written(tmp_path):
    pts = [0, 33, 70, 130, 131]
    film_file = made.film(tmp_path / "film.mkv", pts).path

    with clipmark.open_film(film_file) as film:
        assert 5 == len(film)
        assert [0, 0.033, 0.07, 0.13, 0.131] == pytest.approx(film.seconds.tolist())
        assert film.times_exact
        assert 2 == film.frame_at(0.1)
        assert np.array_equal(made.numbered(3, 64, 48), film.grey(3))
        assert (48, 64, 3) == film.rgb(3).shape
        assert [1, 2] == [number for number, _ in film.greys(1, 3)]
        assert (24, 32) == film.grey(0, width=32).shape


def test_the_survey_of_a_still_film_finds_nothing_that_moves(tmp_path):
    still = made.film(
        tmp_path / "film.mkv", [40 * k for k in range(60)], draw=lambda _: np.full((48, 64), 90, np.uint8)
    )

    found = clipmark.survey(still.path)

    assert "clipmark-survey/1" == found["format"]
    assert [] == found["moving"]


def test_a_scan_gives_the_document_of_the_command(tmp_path):
    film = made.film(tmp_path / "film.mkv", [40 * k for k in range(50)]).path
    boxes = [{"time_s": 0.0, "x": 20, "y": 10, "w": 20, "h": 16}]
    listed = tmp_path / "boxes.json"
    listed.write_text(json.dumps({"boxes": boxes}))

    with clipmark.open_film(film) as opened:
        document = clipmark.scan(opened, boxes)

    assert "clipmark-scan/1" == document["format"]
    assert 2.0 == pytest.approx(sum(s["end_s"] - s["start_s"] for s in document["watched"] + document["unwatched"]))
    assert document["flags"] == clipmark.scan(film, listed)["flags"]


def test_boxes_that_cannot_be_meant_are_refused_in_words(tmp_path):
    film = made.film(tmp_path / "film.mkv", [0, 40]).path

    with pytest.raises(ClipmarkError, match="lacks"):
        clipmark.scan(film, [{"time_s": 0.0, "x": 20}])


def test_a_book_is_read_as_tables(tmp_path):
    full_book(tmp_path / "b.book").close()

    tables = clipmark.read_book(tmp_path / "b.book")

    assert all(isinstance(table, pd.DataFrame) for table in tables.values())
    assert {"sessions", "clips", "marks", "flags", "calls", "outcomes"} <= set(tables)


def test_the_public_names_are_those_of_the_page_and_say_what_they_do():
    page = (ROOT / "docs" / "library.md").read_text("utf-8")

    assert NAMES == {name for name in clipmark.__all__ if not name.startswith("_")}
    assert [] == [name for name in NAMES if f"`{name}" not in page]
    members = [member for name, member in inspect.getmembers(library.Film) if not name.startswith("_")]
    assert [] == [m.__name__ for m in members if callable(m) and not m.__doc__]
    assert [] == [name for name in NAMES if not inspect.getdoc(getattr(clipmark, name))]
    with pytest.raises(AttributeError):
        _ = clipmark.no_such_name


def test_importing_clipmark_loads_nothing_heavy():
    code = (
        "import sys, clipmark\n"
        "heavy = {'numpy', 'cv2', 'av', 'pandas', 'scipy', 'PySide6', 'skimage', 'clipmark.library'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )

    assert "[]" == subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip()
