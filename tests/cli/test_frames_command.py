"""`clipmark frames`: the frame index as a table."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.cli import main
from tests import made

UNEVEN = [1500 + tick for tick in made.uneven(60)]


@pytest.fixture
def film(tmp_path: Path) -> Path:
    return made.film(tmp_path / "evening.mkv", UNEVEN).path


def test_the_table_lists_every_frame_with_its_exact_time(film: Path, tmp_path: Path) -> None:
    table = tmp_path / "frames.csv"

    assert 0 == main(["frames", str(film), "--csv", str(table)])

    head, *rows = csv.reader(table.read_text(encoding="utf-8").splitlines())
    assert ["number", "pts", "seconds", "keyframe"] == head
    assert list(range(60)) == [int(row[0]) for row in rows]
    assert UNEVEN == [int(row[1]) for row in rows]
    assert [Fraction(tick - 1500, 1000) for tick in UNEVEN] == [Fraction(row[2]) for row in rows]
    assert "1" == rows[0][3]
    assert {"0", "1"} == {row[3] for row in rows}


def test_seconds_are_told_finer_than_any_frame_rate(tmp_path: Path) -> None:
    path = made.film(
        tmp_path / "ntsc.mp4", range(0, 30030, 1001), Fraction(1, 30000), codec="mpeg4", pixel_format="yuv420p"
    ).path
    table = tmp_path / "frames.csv"

    main(["frames", str(path), "--csv", str(table)])

    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert ["0.000000000", "0.033366667", "0.066733333"] == [row["seconds"] for row in rows[:3]]


def test_a_dash_writes_to_standard_output(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == main(["frames", str(film), "--csv", "-"])

    assert 61 == len(capsys.readouterr().out.splitlines())


def test_a_place_that_cannot_be_written_is_said_so_and_nothing_is_left(
    film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert 1 == main(["frames", str(film), "--csv", str(tmp_path / "nowhere" / "frames.csv")])

    assert "could not be written" in capsys.readouterr().err
    assert [film.name] == [path.name for path in tmp_path.iterdir()]


def test_where_the_times_are_not_exact_the_command_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    raw = made.film(tmp_path / "film.h264", range(50), Fraction(1, 25), codec="libx264", pixel_format="yuv420p").path

    assert 0 == main(["frames", str(raw), "--csv", str(tmp_path / "frames.csv")])

    assert "not exact" in capsys.readouterr().err


def test_without_a_place_for_the_table_it_is_wrong_usage(film: Path) -> None:
    assert 2 == main(["frames", str(film)])
