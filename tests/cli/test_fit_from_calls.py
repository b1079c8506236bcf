"""`clipmark scan --fit`: a keeper's calls become parameters of their own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from clipmark.book.model import Decision
from clipmark.book.store import Book
from clipmark.cli import main
from clipmark.motion.parameters import load
from clipmark.motion.validation import load_validation
from clipmark.report.exports.scan_file import called_flags
from tests.book.made_book import call_of, flag_of, new_session, result_of


def book_of_calls(path: Path, count: int) -> Path:
    """A book in which so many candidates of the validation films were called as they are."""
    films = load_validation()
    yes = [item for item, pulled in zip(films.features, films.pulled, strict=True) if pulled][:count]
    no = [item for item, pulled in zip(films.features, films.pulled, strict=True) if not pulled][:count]
    with Book.open(path, backups=False) as book:
        _, clip = new_session(book)
        flags = [replace(flag_of(k), features=item) for k, item in enumerate([*yes, *no])]
        book.add_pass(clip.id, result_of(*flags))
        for k, flag in enumerate(book.session(1).flags):
            book.add_call(call_of(flag.id, Decision.CONFIRMED if k < len(yes) else Decision.OTHER))
    return path


def test_parameters_are_made_from_calls_and_the_validation_films_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    book, out = book_of_calls(tmp_path / "b.book", 15), tmp_path / "mine.json"

    assert 0 == main(["scan", "--fit", str(book), "--out", str(out)])
    said = capsys.readouterr().out
    assert "30 called flags, 15 of them pulls" in said
    assert "Validation films:" in said
    assert ("mine", load().flag_at) == (load(str(out)).version, load(str(out)).flag_at)
    films = load_validation()
    assert "" == films.stand(load(str(out))).worse_than(films.stand(load()))


@pytest.mark.parametrize("name", ["mine.json", "pulls-1.json"])
def test_parameters_that_flags_may_have_come_from_are_never_written_over(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    book = book_of_calls(tmp_path / "b.book", 15)
    (tmp_path / "mine.json").write_text("kept")

    assert 1 == main(["scan", "--fit", str(book), "--out", str(tmp_path / name)])
    assert "Choose another name" in capsys.readouterr().err
    assert "kept" == (tmp_path / "mine.json").read_text()


def test_too_few_calls_are_told_with_their_number(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    book = book_of_calls(tmp_path / "b.book", 4)

    assert 1 == main(["scan", "--fit", str(book), "--out", str(tmp_path / "mine.json")])
    assert "4 flags called as pulls and 4 called as something else" in capsys.readouterr().err


def test_a_call_that_was_carried_to_a_later_pass_counts_once(tmp_path: Path) -> None:
    with Book.open(tmp_path / "b.book", backups=False) as book:
        _, clip = new_session(book)
        for jump in (1.0, 2.0):
            flag = replace(flag_of(10), features={"jump": jump})
            book.add_pass(clip.id, result_of(flag, parameters=f"pulls-{jump:g}"))
            if jump == 1.0:
                book.add_call(call_of(book.session(1).flags[0].id))
        record = book.session(1)

    assert 2 == len(record.calls)
    assert ([{"jump": 2.0}], [True]) == called_flags([record])
