"""What is entered by command is in the book, undo takes it back, and slips are answered in a sentence."""

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


ENTERED = [
    (("animal", "Fenna", "--sex", "female", "--species", "Caribena versicolor"), lambda b: len(b.animals())),
    (("session", "Second visit", "--female", "Umbra", "--male", "Tarn", "--date", "2026-04-01"),
     lambda b: len(b.sessions())),
    (("life", "Umbra", "moult", "2026-06-01", "--note", "in the corner"), lambda b: len(b.life(1))),
    (("life", "Umbra", "cooling began", "2025-11-01", "--note", "18 °C"), lambda b: len(b.life(1))),
    (("loan", "Tarn", "--owner", "Bo", "--borrower", "Ada", "--start", "2026-01-01", "--end", "2026-05-01"),
     lambda b: len(b.loans())),
    (("outcome", "1", "nymphs", "2026-07-01", "--count", "nymphs=120", "--sac", "2", "--kept", "by hand",
      "--temperature", "26", "--humidity", "75"), lambda b: len(b.session(1).outcomes)),
    (("watched", "1", "--reviewer", "Bo", "--from", "0:00.5", "--to", "0:03"), lambda b: len(b.session(1).reviewed)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "number"), ENTERED, ids=lambda x: " ".join(x[:2]) if isinstance(x, tuple) else ""
)
def test_what_is_entered_is_in_the_book_and_undo_takes_it_back(capsys, path, arguments, number):
    with Book.open(path) as book:
        before = number(book)
    code, out, err = run(capsys, path, *arguments)

    assert (0, "") == (code, err)
    assert "undo" in out
    with Book.open(path) as book:
        assert before + 1 == number(book)
    assert 0 == run(capsys, path, "undo")[0]
    with Book.open(path) as book:
        assert before == number(book)


def test_a_session_is_taken_out_with_all_that_belongs_to_it_and_comes_back(capsys, path):
    with Book.open(path) as book:
        before = book.session(1)
    code, out, _ = run(capsys, path, "remove", "1")

    assert 0 == code
    assert "Film files stay" in out
    with Book.open(path) as book:
        assert () == book.sessions()
    run(capsys, path, "undo")
    with Book.open(path) as book:
        assert before == book.session(1)


def test_an_animal_of_a_session_stays_and_the_sentence_says_why(capsys, path):
    code, _, err = run(capsys, path, "remove", "Umbra", "--animal")

    assert 1 == code
    assert "is in 1 session and stays" in err


def test_an_animal_of_no_session_is_taken_out_and_comes_back(capsys, path):
    run(capsys, path, "animal", "Fenna", "--sex", "female")
    assert 0 == run(capsys, path, "remove", "Fenna", "--animal")[0]
    with Book.open(path) as book:
        assert "Fenna" not in [a.name for a in book.animals()]
    run(capsys, path, "undo")
    with Book.open(path) as book:
        assert "Fenna" in [a.name for a in book.animals()]


def test_a_loan_that_ends_is_told_until_the_animal_is_given_back(capsys, path):
    added = as_json(
        capsys, path, "loan", "Umbra", "--owner", "Bo", "--borrower", "Ada", "--start", "2020-01-01", "--end",
        "2020-03-01",
    )  # fmt: skip
    due = as_json(capsys, path, "due")["loans"]
    assert [(added["id"], True)] == [(end["loan"]["id"], end["overdue"]) for end in due]
    assert "The loan of Umbra ended on 2020-03-01: back to Bo" in due[0]["text"]

    run(capsys, path, "loan", "Umbra", "--returned", "2020-03-02")
    assert [] == as_json(capsys, path, "due")["loans"]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("loan", "Tarn", "--number", "99", "--end", "2026-01-01"), 1, "loan"),
        (("loan", "Umbra", "--owner", "Bo", "--start", "2026-05-01", "--end", "2026-04-01"), 1, "cannot end"),
        (("loan", "Umbra", "--owner", "Bo", "--start", "2026-05-01", "--returned", "2026-04-01"), 1, "given back"),
        (("life", "Umbra"), 2, "Say what happened"),
        (("life", "Umbra", "moult", "yesterday"), 1, "no date"),
        (("outcome", "1", "nymphs", "2026-07-01", "--count", "many"), 2, "no count"),
        (("outcome", "1", "nymphs", "2026-07-01", "--sac", "0"), 1, "counted from 1"),
        (("outcome", "1", "nymphs", "2026-07-01", "--humidity", "140"), 1, "between 0 and 100"),
        (("watched", "1", "--clip", "7"), 2, "counts them from 1"),
        (("watched", "1", "--reviewer", "Bo", "--from", "9:00:00"), 2, "does not lie on this film"),
        (("watched", "1", "--reviewer", "Bo", "--from", "soon"), 1, "soon"),
        (("remove", "77"), 1, "77"),
        (("outcome", "1", "eaten", "2026-07-01", "--remove"), 1, "eaten"),
    ],
)
def test_a_slip_is_answered_in_a_sentence_and_changes_nothing(capsys, path, arguments, code, words):
    before = path.read_bytes()
    got, out, err = run(capsys, path, *arguments)

    assert (code, "") == (got, out)
    assert words in err
    assert before == path.read_bytes()


def test_a_session_is_entered_with_its_time_of_day(capsys, path):
    before = run(capsys, path, "list")[1]
    assert 0 == run(capsys, path, "session", "Late", "--date", "2026-03-01", "--time", "21:10")[0]
    with Book.open(path, read_only=True) as book:
        (late,) = [book.session(row.id).session for row in book.sessions("Late")]
    assert ("2026-03-01", "21:10") == (late.date, late.time_of_day)

    code, _, wrong = run(capsys, path, "session", "Later", "--time", "24:00")
    assert code != 0
    assert "is no time of day" in wrong
    assert "Later" not in run(capsys, path, "list")[1]
    assert "Late" not in before
