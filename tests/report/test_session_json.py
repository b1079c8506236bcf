"""The JSON of a session keeps every tick exact and fits its published schema."""

import json
import os
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest

from clipmark.report.exports.session_json import session_document, write_json
from clipmark.report.exports.tables import tables
from tests.report import by_hand

SCHEMA = json.loads((Path(__file__).parents[2] / "docs/schemas/session.schema.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("record", [by_hand.pairing(), by_hand.hostile()], ids=["pairing", "hostile"])
def test_the_file_fits_the_schema(record, tmp_path):
    # the outside reader: python-jsonschema, draft 2020-12
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    path = write_json(record, tmp_path / "s.json")

    jsonschema.validate(json.loads(path.read_text(encoding="utf-8")), SCHEMA, cls=jsonschema.Draft202012Validator)


def test_ticks_seconds_and_clock_say_the_same():
    document = session_document(by_hand.pairing())
    drumming = next(m for m in document["marks"] if m["id"] == 3)

    assert {"pts": by_hand.at(14), "seconds": "14", "clock": "0:14.000"} == drumming["start"]
    assert Fraction("91/5") == Fraction(drumming["end"]["seconds"])


def test_only_the_films_name_leaves_the_house_not_its_folder():
    text = json.dumps(session_document(by_hand.pairing()))

    assert "ember-ash.mp4" in text
    assert "/films" not in text


def test_texts_come_back_letter_by_letter(tmp_path):
    path = write_json(by_hand.hostile(), tmp_path / "s.json")
    read = json.loads(path.read_text(encoding="utf-8"))

    assert by_hand.HOSTILE == read["session"]["title"]
    assert by_hand.HOSTILE + "x" * 10_000 == read["session"]["note"]


def test_a_film_whose_name_is_no_utf8_is_named_all_the_same(tmp_path):
    record = by_hand.pairing()
    clip = replace(record.clips[0], path=os.fsdecode(b"/films/caf\xe9.mp4"))
    path = write_json(replace(record, clips=(clip,)), tmp_path / "s.json")

    assert os.fsdecode(b"caf\xe9.mp4") == json.loads(path.read_text(encoding="utf-8"))["clips"][0]["file"]


def test_the_time_of_day_goes_out_in_json_and_table():
    record = by_hand.pairing()
    record = replace(record, session=replace(record.session, time_of_day="21:10"))

    assert "21:10" == session_document(record)["session"]["time_of_day"]
    assert ["21:10"] == list(tables(record)["sessions"]["time_of_day"])
