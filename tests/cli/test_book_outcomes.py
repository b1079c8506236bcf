import json
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.book.model import Animal, Call, ClipRecord, Decision, FlagRecord, LifeEvent, Outcome, Session, Sex
from clipmark.book.store import Book
from clipmark.cli import main


@pytest.fixture
def book(tmp_path):
    """Twelve invented cycles: eight with a confirmed insertion (seven sacs), four without (one sac, three moults)."""
    path = tmp_path / "years.book"
    with Book.open(path) as book:
        for k in range(12):
            species = "Grammostola inventata" if k % 2 else "Brachypelma inventatum"
            female = book.add_animal(Animal(0, f"Female {k}", Sex.FEMALE, species))
            day = date(2024, 3, 1) + timedelta(days=k)
            session = book.add_session(Session(0, f"Pairing {k}", female.id, None, day.isoformat(), reviewer="Ada"))
            clip = book.add_clip(
                ClipRecord(
                    0,
                    session.id,
                    f"/film/{k}.mp4",
                    1,
                    f"f{k}",
                    Fraction(0),
                    Fraction(1, 1000),
                    0,
                    60_000,
                    1500,
                    64,
                    36,
                )
            )
            if k < 8:
                flag = book.add_flag(
                    FlagRecord(0, clip.id, None, 10_000, 10_200, None, None, None, None, None, "seen", by="Ada")
                )
                book.add_call(Call(0, flag.id, "Ada", Decision.CONFIRMED))
            if k < 7 or k == 8:
                book.add_outcome(Outcome(0, session.id, "laid", (day + timedelta(days=40 + k)).isoformat()))
            elif k > 8:
                book.add_life_event(LifeEvent(0, female.id, "moult", (day + timedelta(days=60)).isoformat()))
    return path


def test_what_came_of_the_pairings_is_told_in_lines(book, capsys):
    assert 0 == main(["book", "outcomes", "--asked", "2025-01-01", "--book", str(book)])

    told = capsys.readouterr().out
    assert "12 sessions, 12 females, 12 cycles between moults. Asked on 2025-01-01." in told
    assert "States: waiting 1, sac 8, moult without sac 3." in told
    assert "a sac: 7 of 7 (100 %, 65 to 100 %) with “confirmed insertion”, 1 of 4 without" in told
    # twelve wait on day 40; of days 40 to 45 each takes one, which leaves half of them
    assert (
        "Days to the sac (12 cycles, 4 without a sac by 2025-01-01): median 45 (95 % 41 or more; 7 at risk)." in told
    )
    assert "By day 48 (5 at risk): 67 % sac (34 to 86 %), 33 % waiting." in told


def test_only_the_sessions_asked_for_are_read(book, capsys):
    main(["book", "outcomes", "Grammostola", "--book", str(book), "--json"])

    told = json.loads(capsys.readouterr().out)
    assert ("clipmark-outcomes/1", 6) == (told["format"], told["sessions"])
    assert {"Grammostola inventata"} == {cycle["species"] for cycle in told["cycles"]}


@pytest.mark.parametrize("text", ["", "Grammostola", "none such"])
def test_the_json_is_as_its_schema_says(book, capsys, text):
    jsonschema = pytest.importorskip("jsonschema")
    main(["book", "outcomes", text, "--book", str(book), "--json"])

    schema = Path(__file__).parents[2] / "docs" / "schemas" / "outcomes.schema.json"
    jsonschema.validate(json.loads(capsys.readouterr().out), json.loads(schema.read_text("utf-8")))


def test_a_book_without_sessions_says_so(tmp_path, capsys):
    with Book.open(tmp_path / "new.book"):
        pass

    assert 0 == main(["book", "outcomes", "--book", str(tmp_path / "new.book")])
    assert "0 sessions, 0 females, 0 cycles between moults." in capsys.readouterr().out


def test_the_day_of_asking_can_be_set_and_what_came_later_is_not_looked_at(book, capsys):
    main(["book", "outcomes", "--asked", "2024-03-20", "--book", str(book), "--json"])

    told = json.loads(capsys.readouterr().out)
    assert ("2024-03-20", {"waiting": 12}) == (told["asked"], told["ends"])
    assert [19 - k for k in range(12)] == [cycle["days"] for cycle in told["cycles"]]


def test_a_day_that_is_none_is_refused(book, capsys):
    assert 2 == main(["book", "outcomes", "--asked", "May", "--book", str(book)])
    assert "is no date" in capsys.readouterr().err


def test_the_plots_are_drawn_into_a_folder(book, tmp_path, capsys):
    main(["book", "outcomes", "--asked", "2025-01-01", "--plots", str(tmp_path / "plots"), "--book", str(book)])

    names = {one.name for one in (tmp_path / "plots").iterdir()}
    assert {"waiting.svg", "waiting.png", "cycles.svg", "cycles.png"} == names
    assert (tmp_path / "plots" / "waiting.png").read_bytes().startswith(b"\x89PNG")
