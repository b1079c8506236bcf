"""What is known of a kind, signs, rhythm and tests, by command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from clipmark.book.store import Book
from clipmark.cli import main
from tests.book.made_book import full_book


@pytest.fixture
def path(tmp_path: Path) -> Path:
    full_book(tmp_path / "b.book").close()
    return tmp_path / "b.book"


def run(capsys: pytest.CaptureFixture[str], path: Path, *arguments: object) -> tuple[int, str, str]:
    code = main(["book", *map(str, arguments), "--book", str(path)])
    out, err = capsys.readouterr()
    return code, out, err


def as_json(capsys: pytest.CaptureFixture[str], path: Path, *arguments: object) -> Any:
    code, out, err = run(capsys, path, *arguments, "--json")
    assert (0, "") == (code, err)
    return json.loads(out)


def test_what_is_known_is_printed_with_its_sources(capsys, path):
    code, out, _ = run(capsys, path, "known", "Ceratogyrus darlingi")

    assert 0 == code
    assert "The sac is fixed to its place: plan no turning.  [VS] (hobby), Ceratogyrus" in out
    assert out.index("Ceratogyrus") < out.index("tarantulas in general")


def test_a_note_of_ones_own_leads_and_is_taken_out_again(capsys, path):
    added = as_json(
        capsys, path, "known", "Ceratogyrus", "--note", "pairing_to_sac", "--low", 70, "--high", 90
    )  # fmt: skip
    sac = next(s for s in added["sections"] if s["key"] == "sac")["statements"]
    assert "From the pairing to the sac: 70 to 90 days" == sac[0]["text"]
    number = next(n["id"] for n in added["own"] if n["species"] == "Ceratogyrus")

    after = as_json(capsys, path, "known", "Ceratogyrus", "--remove", number)
    assert "Ceratogyrus" not in [n["species"] for n in after["own"]]


def test_a_weak_pull_may_be_said_of_any_kind(capsys, path):
    seen = as_json(capsys, path, "known", "Grammostola", "--note", "weak pull")

    assert seen["signs"]["pull_is_weak"]


def test_a_range_the_wrong_way_round_is_answered_in_a_sentence(capsys, path):
    code, _, err = run(capsys, path, "known", "Grammostola", "--note", "brood", "--low", 9, "--high", 3)

    assert 1 == code
    assert "cannot end (3) below its beginning (9)" in err


def test_signs_rhythm_and_tests_are_printed_of_a_real_book(capsys, path):
    assert "species" in as_json(capsys, path, "signs")
    [male] = as_json(capsys, path, "rhythm", "Tarn")["males"]
    assert "1 bout in 1 session" in male["text"]
    tests = as_json(capsys, path, "sure")["tests"]
    assert ["answers.her", "answers.his", "order.shuffle", "order.table"] == [t["key"] for t in tests]
    for verb in ("signs", "rhythm", "sure"):
        assert 0 == run(capsys, path, verb)[0]


@pytest.mark.parametrize("verb", ["signs", "rhythm", "sure", "due"])
def test_an_empty_book_is_answered(capsys, tmp_path, verb):
    Book.open(tmp_path / "empty.book").close()

    code, _, err = run(capsys, tmp_path / "empty.book", verb)
    assert (0, "") == (code, err)
