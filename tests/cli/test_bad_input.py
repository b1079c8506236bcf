"""Books that contradict themselves, empty books and books of one session: every command answers in a sentence, and no
figure is made of what cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from clipmark.book.model import Animal, LifeEvent, Outcome, Session, Sex
from clipmark.book.store import Book
from clipmark.cli import main

VERBS = (("outcomes",), ("signs",), ("rhythm",), ("sure",), ("due",), ("list",))


def book_of(path: Path, sessions: int = 0) -> Book:
    """Two animals, so many sessions a year apart, all long ago."""
    book = Book.open(path, backups=False)
    book.add_animal(Animal(0, "Mora", Sex.FEMALE, "Grammostola rosea"))
    book.add_animal(Animal(0, "Bo", Sex.MALE, "Grammostola rosea"))
    for k in range(sessions):
        book.add_session(Session(0, f"Pairing {k + 1}", 1, 2, f"{2020 + k}-03-01"))
    return book


def said(capsys, path: Path, *words: str) -> str:
    assert 0 == main(["book", *words, "--book", str(path)])
    return capsys.readouterr().out


def told(capsys, path: Path, asked: str = "2026-06-01"):
    return json.loads(said(capsys, path, "outcomes", "--asked", asked, "--json"))


@pytest.mark.parametrize("verb", VERBS, ids=" ".join)
@pytest.mark.parametrize("sessions", [0, 1])
def test_an_empty_book_and_one_session_are_answered_in_words_and_in_json(tmp_path, capsys, verb, sessions):
    book_of(tmp_path / "b.book", sessions).close()

    words = said(capsys, tmp_path / "b.book", *verb)
    assert words.strip()
    assert "%" not in words
    assert json.loads(said(capsys, tmp_path / "b.book", *verb, "--json")) is not None


def test_one_session_is_exported_and_has_a_sheet(tmp_path):
    book_of(tmp_path / "b.book", 1).close()
    words = ["--book", str(tmp_path / "b.book")]

    assert 0 == main(["export", "1", "--json", str(tmp_path / "s.json"), "--csv", str(tmp_path / "s"), *words])
    assert 0 == main(["sheet", "1", "-o", str(tmp_path / "s.html"), *words])
    assert [] == json.loads((tmp_path / "s.json").read_text(encoding="utf-8"))["incidence"]


def test_a_pairing_still_to_come_is_left_out_and_told(tmp_path, capsys):
    with book_of(tmp_path / "b.book", 1) as book:
        book.add_session(Session(0, "Next year", 1, 2, "2027-03-01"))

    found = told(capsys, tmp_path / "b.book")
    assert 1 == found["sessions"]
    assert "1 session without a date, or with one still to come, left out." in found["notes"]


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("2019-01-01", "An outcome is dated before its pairing and left out (session 1)."),
        ("2027-01-01", "An outcome is dated after the day of asking and left out (session 1)."),
    ],
)
def test_an_outcome_before_its_pairing_or_still_to_come_is_no_sac(tmp_path, capsys, day, words):
    with book_of(tmp_path / "b.book", 1) as book:
        book.add_outcome(Outcome(0, 1, "laid", day))

    found = told(capsys, tmp_path / "b.book")
    assert {"waiting": 1} == found["ends"]
    assert words in found["notes"]
    assert day in said(capsys, tmp_path / "b.book", "show", "1")


def test_of_two_deaths_the_first_ends_the_wait_and_both_are_told(tmp_path, capsys):
    with book_of(tmp_path / "b.book", 1) as book:
        for day in ("2020-05-01", "2021-05-01"):
            book.add_life_event(LifeEvent(0, 1, "died", day))

    found = told(capsys, tmp_path / "b.book")
    assert ({"died": 1}, 61) == (found["ends"], found["cycles"][0]["days"])  # 2020-03-01 to 2020-05-01
    assert "Two days of death are noted; the first counts (animal 1)." in found["notes"]
    assert "Mora is noted as dead 2 times" in said(capsys, tmp_path / "b.book", "show", "1")


def test_nobody_waits_for_a_female_that_died_before_the_pairing(tmp_path, capsys):
    with book_of(tmp_path / "b.book", 1) as book:
        book.add_life_event(LifeEvent(0, 1, "died", "2019-05-01"))

    found = told(capsys, tmp_path / "b.book")
    assert ({"died": 1}, None) == (found["ends"], found["cycles"][0]["days"])
    assert "A pairing is dated after her death (session 1)." in found["notes"]


def test_a_loan_that_ends_before_it_starts_is_refused_in_a_sentence(tmp_path, capsys):
    book_of(tmp_path / "b.book").close()
    words = ["Bo", "--owner", "Ada", "--borrower", "Cid", "--start", "2026-05-01", "--end", "2026-04-01"]

    assert 1 == main(["book", "loan", *words, "--book", str(tmp_path / "b.book")])
    assert "A loan cannot end (2026-04-01) before it starts (2026-05-01)." in capsys.readouterr().err
    assert "2026" not in said(capsys, tmp_path / "b.book", "due")


def test_counts_that_do_not_add_up_give_no_share_and_are_told(tmp_path, capsys):
    with book_of(tmp_path / "b.book", 1) as book:
        book.add_outcome(Outcome(0, 1, "laid", "2020-05-01"))
        book.add_outcome(Outcome(0, 1, "nymphs", "2020-07-01", (("good eggs", 10), ("nymphs", 20))))

    found = told(capsys, tmp_path / "b.book")
    assert [] == found["nymphs"]
    assert "1 sac with more nymphs than eggs: the counts contradict, so it is left out." in found["notes"]
    assert "20 nymphs are noted, but only 10 eggs" in said(capsys, tmp_path / "b.book", "show", "1")
