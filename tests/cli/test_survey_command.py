"""`clipmark survey`: where anything moves, in words and for machines."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from clipmark.cli import main
from clipmark.resources import resource

SCHEMA = Path(__file__).parents[2] / "docs" / "schemas" / "survey.schema.json"


def test_the_survey_of_the_sample_keeps_to_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    film = resource("sample_media") / "pairing.mp4"

    assert 0 == main(["survey", str(film), "--quick", "--json"])

    told = json.loads(capsys.readouterr().out)
    jsonschema.validate(told, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert "packets" == told["rests_on"]


def test_a_file_that_is_missing_is_told_in_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert 1 == main(["survey", "/nowhere/at all.mp4"])

    assert "there is no such file" in capsys.readouterr().err


def test_a_folder_is_surveyed_into_one_table_and_one_contact_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import csv

    from tests import made

    monkeypatch.setenv("CLIPMARK_CACHE_DIR", str(tmp_path / "cache"))
    (tmp_path / "season").mkdir()
    made.film(tmp_path / "season" / "one.mkv", [40 * n for n in range(50)])
    (tmp_path / "season" / "broken.mp4").write_bytes(b"no film")

    assert 1 == main(["survey", str(tmp_path / "season"), "--to", str(tmp_path / "out")])

    with (tmp_path / "out" / "survey.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["film"]: row for row in csv.DictReader(file)}
    assert "could not be read as film" in rows["broken.mp4"]["trouble"]
    assert "keyframes" == rows["one.mkv"]["rests_on"]
    page = (tmp_path / "out" / "survey.html").read_text(encoding="utf-8")
    assert "one.mkv" in page
    assert "broken.mp4" in capsys.readouterr().err


def test_a_run_over_a_folder_that_was_stopped_goes_on_where_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from clipmark.progress import Cancelled
    from clipmark.report import kept_surveys
    from tests import made

    monkeypatch.setenv("CLIPMARK_CACHE_DIR", str(tmp_path / "cache"))
    season = tmp_path / "season"
    season.mkdir()
    for number, name in enumerate(("a.mkv", "b.mkv", "c.mkv")):
        made.film(season / name, [40 * n for n in range(30 + number)])
    looked: list[str] = []
    whole = kept_surveys.survey_clip

    def stopped_at_the_second(clip, progress, threads=0):
        if clip.path.name == "b.mkv" and len(looked) == 1:
            raise Cancelled
        looked.append(clip.path.name)
        return whole(clip, progress, threads)

    monkeypatch.setattr(kept_surveys, "survey_clip", stopped_at_the_second)

    assert 130 == main(["survey", str(season)])
    assert not (season / "survey.csv").exists()

    monkeypatch.setattr(
        kept_surveys, "survey_clip", lambda clip, *rest: (looked.append(clip.path.name), whole(clip, *rest))[1]
    )
    assert 0 == main(["survey", str(season)])
    assert ["a.mkv", "b.mkv", "c.mkv"] == looked


def test_the_map_of_where_things_moved_keeps_to_the_schema(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from tests import made

    film = tmp_path / "one.mkv"
    made.film(film, [40 * n for n in range(50)])

    assert 0 == main(["survey", str(film), "--json"])

    told = json.loads(capsys.readouterr().out)
    jsonschema.validate(told, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert "trails" in told
