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
