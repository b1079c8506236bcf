import json
from dataclasses import replace
from pathlib import Path

import pytest

from clipmark.book.model import Actor, Call, ClipRecord, Decision, FlagRecord, Mark, Session
from clipmark.book.store import Book
from clipmark.cli import main


@pytest.fixture
def book(tmp_path) -> Path:
    """A session of invented film that Ada and Ben both marked and called."""
    from fractions import Fraction

    path = tmp_path / "pairings.book"
    with Book.open(path) as book:
        session = book.add_session(Session(0, "First evening", None, None, "2026-03-01", reviewer="Ada"))
        clip = book.add_clip(
            ClipRecord(
                0, session.id, "/film/evening.mp4", 1, "f", Fraction(0), Fraction(1, 1000), 0, 100_000, 2500, 640, 360
            )
        )
        drumming = Mark(0, clip.id, "drumming", Actor.HIM, 10_000, 20_000, True, "Ada")
        book.add_mark(drumming)
        book.add_mark(replace(drumming, start_pts=10_300, reviewer="Ben"))
        book.add_mark(Mark(0, clip.id, "contact", Actor.BOTH, 50_000, None, False, "Ada"))
        flag = book.add_flag(
            FlagRecord(0, clip.id, None, 60_000, 60_200, None, None, None, None, None, "seen", by="Ada")
        )
        book.add_call(Call(0, flag.id, "Ada", Decision.CONFIRMED))
        book.add_call(Call(0, flag.id, "Ben", Decision.ATTEMPT))
    return path


def test_two_reviewers_are_compared_in_lines(book, capsys):
    assert 0 == main(["agree", "First evening", "--between", "Ada", "Ben", "--book", str(book)])

    told = capsys.readouterr().out
    assert "Calls: 0 of 1 flags that both called are called alike" in told
    assert "0:50.000  evening.mp4  only A: A: First contact (both); B: –" in told
    assert "1:00.000  evening.mp4  another call: A: confirmed; B: attempt" in told


def test_the_same_for_machines_has_ticks_to_step_to(book, capsys):
    assert 0 == main(["agree", "1", "--between", "Ada", "Ben", "--json", "--book", str(book)])

    told = json.loads(capsys.readouterr().out)
    assert "clipmark-agreement/1" == told["format"]
    assert [50_000, 60_000] == [clash["pts"] for clash in told["clashes"]]
    assert 1 == told["acts"][0]["paired"]


def test_the_json_is_as_its_schema_says(book, capsys):
    jsonschema = pytest.importorskip("jsonschema")
    main(["agree", "1", "--between", "Ada", "Ben", "--json", "--book", str(book)])

    schema = Path(__file__).parents[2] / "docs" / "schemas" / "agreement.schema.json"
    jsonschema.validate(json.loads(capsys.readouterr().out), json.loads(schema.read_text("utf-8")))


def test_a_finer_tolerance_parts_what_was_paired(book, capsys):
    main(["agree", "1", "--between", "Ada", "Ben", "--tolerance", "0.299", "--json", "--book", str(book)])

    assert 0 == json.loads(capsys.readouterr().out)["acts"][0]["paired"]


def test_a_reviewer_who_did_nothing_is_a_sentence(book, capsys):
    assert 1 == main(["agree", "1", "--between", "Ada", "Cleo", "--book", str(book)])

    assert (
        "“Cleo” has marked and called nothing in this session. There are some by Ada, Ben." in capsys.readouterr().err
    )


def test_a_stretch_of_the_film_is_compared_alone(book, capsys):
    main(["agree", "1", "--between", "Ada", "Ben", "--from", "0:00", "--to", "0:40", "--book", str(book)])

    assert "No clashes." in capsys.readouterr().out


def test_a_stretch_that_ends_before_it_begins_is_wrong_usage(book, capsys):
    assert 2 == main(["agree", "1", "--between", "Ada", "Ben", "--from", "40", "--to", "30", "--book", str(book)])
    assert "--to must lie after --from" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("option", "said"),
    [
        ("--tolerance=soon", "“soon” is not a time."),
        ("--tolerance=-1", "--tolerance must not be negative."),
        ("--from=later", "“later” is not a time."),
    ],
)
def test_a_time_that_is_none_is_wrong_usage(book, capsys, option, said):
    assert 2 == main(["agree", "1", "--between", "Ada", "Ben", option, "--book", str(book)])

    assert said in capsys.readouterr().err
