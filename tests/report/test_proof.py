"""The proof of pairing says who was lent to whom on what terms, what was seen, and what that does not prove."""

from dataclasses import replace

import pytest

from clipmark.book.model import Animal, Loan, Session, Sex
from clipmark.book.store import Book
from clipmark.cli import main
from clipmark.report.sheets.compose import compose
from clipmark.report.sheets.proof import proof
from clipmark.report.sheets.sheet import filled
from tests.report import by_hand

LOAN = Loan(1, 2, "J. Marsh", "Mara", "2026-02-01", "2026-05-01", "back fed", "half of the young")


def made(record, *loans):
    return proof(record, loans, compose(record, [by_hand.trace()]))


def test_the_running_loan_stands_with_its_terms_and_share():
    (said,) = made(by_hand.pairing(), LOAN).loans

    assert (
        "Ash belongs to J. Marsh and is lent to Mara since 1 February 2026 until 1 May 2026. "
        "Terms: back fed. Share of the young: half of the young." == said
    )


@pytest.mark.parametrize(("start", "end"), [("2025-01-01", "2025-12-31"), ("2026-03-02", "")])
def test_a_loan_of_another_time_is_not_named(start, end):
    assert () == made(by_hand.pairing(), replace(LOAN, start=start, end=end)).loans


def test_the_best_called_pulls_come_first():
    assert ["confirmed", "probable", "attempt"] == [c.shape for c in made(by_hand.pairing(), LOAN).shown]


def test_the_page_says_what_it_cannot_prove_and_names_the_film_by_its_print():
    page = filled("proof.html.jinja", proof=made(by_hand.pairing(), LOAN))

    assert "fingerprint <code>abc</code>" in page
    assert "It cannot tell whether eggs will be fertile" in page
    assert "never that sperm was passed on" in page


def test_hostile_texts_do_nothing_on_the_page():
    loan = replace(LOAN, owner=by_hand.HOSTILE, terms=by_hand.HOSTILE)
    page = filled("proof.html.jinja", proof=made(by_hand.hostile(), loan))

    assert "<script" not in page
    assert "&lt;script&gt;alert" in page


def test_the_command_writes_the_page(tmp_path, capsys):
    with Book.open(tmp_path / "my.book") as book:
        him = book.add_animal(Animal(0, "Ash", Sex.MALE))
        book.add_loan(replace(LOAN, id=0, animal_id=him.id))
        book.add_session(Session(0, "evening", None, him.id, "2026-03-01"))
    out = tmp_path / "proof.html"

    assert 0 == main(["sheet", "1", "--proof", "--book", str(tmp_path / "my.book"), "-o", str(out)])
    assert "is lent to Mara" in out.read_text(encoding="utf-8")
    assert 2 == main(["sheet", "1", "--proof", "--book", str(tmp_path / "my.book"), "-o", str(tmp_path / "p.pdf")])
    assert "HTML" in capsys.readouterr().err
