"""`clipmark book`: what it prints, what it returns, and that trouble is a sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from clipmark.book.model import Animal, Sex
from clipmark.book.store import Book
from clipmark.cli import main
from tests.book.made_book import full_book


@pytest.fixture
def path(tmp_path: Path) -> Path:
    full_book(tmp_path / "b.book").close()
    return tmp_path / "b.book"


def said(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    code = main(["book", *map(str, arguments)])
    out, err = capsys.readouterr()
    return code, out, err


def as_json(capsys: pytest.CaptureFixture[str], *arguments: object) -> Any:
    code, out, err = said(capsys, *arguments, "--json")
    assert (0, "") == (code, err)
    return json.loads(out)


def test_the_list_shows_each_session_on_a_line(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = said(capsys, "list", "--book", path)

    assert 0 == code
    head, line = out.splitlines()
    assert ["no.", "date", "title", "female", "male"] == head.split()[:5]
    assert "1    2026-03-01  First <visit>  Umbra   Tarn" in line


def test_the_list_as_json_is_what_the_book_says(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = as_json(capsys, "list", "visit", "--book", path)["sessions"]

    assert (1, "First <visit>", 3, 2) == (row["id"], row["title"], row["flags"], row["confirmed"])
    assert [] == as_json(capsys, "list", "nothing like it", "--book", path)["sessions"]


def test_the_book_is_named_by_option_by_variable_or_is_ones_own(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, _, err = said(capsys, "list")
    assert (1, "There is no book at") == (code, err[:19])
    monkeypatch.setenv("CLIPMARK_BOOK", str(path))

    assert 1 == len(as_json(capsys, "list")["sessions"])


def test_animals_are_listed_and_shown_with_their_history(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ["Umbra"] == [one["name"] for one in as_json(capsys, "list", "--sex", "female", "--book", path)["animals"]]
    code, out, _ = said(capsys, "show", "--animal", "umbra", "--book", path)

    assert 0 == code
    assert "2025-09-12  moult" in out
    assert "session 1  First <visit>" in out
    assert "loan 1 from Bo to Ada" in said(capsys, "show", "--animal", "2", "--book", path)[1]


def test_a_session_is_shown_in_the_order_of_its_clock(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = said(capsys, "show", "first <visit>", "--book", path)

    assert 0 == code
    lines = [line.split(maxsplit=1)[1] for line in out.splitlines() if line.startswith("     ")]
    assert ["Introduced", "Drumming with the palps to 0:00.080", "Clasp (open)"] == [lines[0], lines[1], lines[2]]
    assert any(line.startswith("pull: called confirmed by Ada, score 0.80") for line in lines)
    assert "2026-05-02 laid  300 eggs, 250 eggs with legs" in out
    shown = as_json(capsys, "show", "1", "--book", path)
    assert "1/3" == shown["clips"][1]["offset"]


def test_a_sound_book_is_said_to_be_sound_though_film_is_missing(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = said(capsys, "check", "--book", path)

    assert (0, "") == (code, err)
    assert "“/films/visit.mp4” (clip 1) is not there." in out
    assert "The book is sound." in out
    assert "film" not in said(capsys, "check", "--no-film", "--book", path)[1]


def test_a_damaged_book_is_said_to_be_damaged(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Book.open(path, backups=False) as book:
        book._db.execute("UPDATE mark SET actor = 'somebody' WHERE id = 2")
    code, out, err = said(capsys, "check", "--book", path)

    assert 1 == code
    assert "The mark 2 holds what clipmark does not write" in out
    assert "salvage" in err
    code, out, _ = said(capsys, "check", "--json", "--book", path)
    assert (1, False) == (code, json.loads(out)["sound"])


def test_a_book_is_backed_up_changed_and_restored(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = as_json(capsys, "backup", "--book", path)["backup"]
    with Book.open(path, backups=False) as book:
        book.remove_session(1)
    listed = said(capsys, "backup", "--list", "--book", path)[1]
    assert made in listed
    assert 0 == said(capsys, "restore", "1", "--book", path)[0]
    assert 1 == len(as_json(capsys, "list", "--book", path)["sessions"])
    assert 0 == said(capsys, "restore", "--book", path)[0]  # the newest: what it held before

    assert [] == as_json(capsys, "list", "--book", path)["sessions"]


def test_a_damaged_book_is_salvaged_into_a_new_one(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    data = bytearray(path.read_bytes())
    data[:100] = bytes(100)
    path.write_bytes(data)
    assert 1 == said(capsys, "list", "--book", path)[0]
    code, out, _ = said(capsys, "salvage", path.with_name("new.book"), "--book", path)

    assert 0 == code
    assert "3 mark" in out
    assert 1 == len(as_json(capsys, "list", "--book", path.with_name("new.book"))["sessions"])


def test_moved_film_is_found_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from tests.book.test_relink import film

    film_path = tmp_path / "old" / "a.mp4"
    record = film(film_path, b"film a")
    with Book.open(tmp_path / "b.book") as book:
        from clipmark.book.model import Session

        book.add_session(Session(0, "Visit", None, None))
        book.add_clip(record)
    (tmp_path / "new").mkdir()
    film_path.rename(tmp_path / "new" / "b.mp4")
    code, out, err = said(capsys, "relink", tmp_path / "old", "--book", tmp_path / "b.book")
    assert (1, f"missing  {film_path}\n") == (code, out)
    assert "Name further folders" in err
    assert 0 == said(capsys, "relink", tmp_path / "new", "--dry-run", "--book", tmp_path / "b.book")[0]
    found = as_json(capsys, "relink", tmp_path / "new", "--book", tmp_path / "b.book")["found"]

    assert [{"clip": 1, "was": str(film_path), "is": str(tmp_path / "new" / "b.mp4")}] == found
    assert (
        "All film of the book is in its place" in said(capsys, "relink", tmp_path, "--book", tmp_path / "b.book")[1]
    )


def test_two_entries_of_an_animal_are_merged_and_parted_again(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Book.open(path, backups=False) as book:
        book.add_animal(Animal(0, "Umbra (old)", Sex.FEMALE))
    assert 0 == said(capsys, "merge", "Umbra", "umbra (OLD)", "--book", path)[0]
    assert 2 == len(as_json(capsys, "list", "--animals", "--book", path)["animals"])
    assert "merge 1 into the animal Umbra" == as_json(capsys, "undo", "--book", path)["undone"]

    assert 3 == len(as_json(capsys, "list", "--animals", "--book", path)["animals"])
    assert 2 == said(capsys, "merge", "Umbra", "1", "--book", path)[0]


def test_a_book_goes_out_and_comes_in_as_json(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = path.with_name("new.book")
    assert 0 == said(capsys, "export", path.with_name("b.json"), "--book", path)[0]
    code, out, _ = said(capsys, "import", path.with_name("b.json"), "--book", new)
    assert 0 == code
    assert "brought in: 2 animals" in out
    assert "there already: 2 animals" in said(capsys, "import", path.with_name("b.json"), "--book", new)[1]

    ours, theirs = (as_json(capsys, "show", "1", "--book", one) for one in (path, new))
    assert ours == theirs


def test_nothing_is_made_for_a_file_that_cannot_be_brought_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "x.json").write_text("[1")
    code, _, err = said(capsys, "import", tmp_path / "x.json", "--book", tmp_path / "new.book")

    assert 1 == code
    assert "Nothing was brought in" in err
    assert ["x.json"] == [one.name for one in tmp_path.iterdir()]


def test_a_book_goes_out_as_csv(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = as_json(capsys, "export", "--csv", path.with_name("csv"), "--book", path)["files"]

    assert 21 == len(files) == len([one for one in files if Path(one).is_file()])


def test_what_is_due_is_listed_by_date(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "2026-05-30  1 First <visit>  pull the sac" in said(capsys, "due", "--book", path)[1]


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["show", "99"], 1, "no session “99”"),
        (["show", "--animal", "Nobody"], 1, "no animal called “Nobody”"),
        (["restore"], 1, "no backup yet"),
        (["relink", "/no/such/folder"], 1, "no folder"),
        (["import", "/no/such/file.json"], 1, "could not be read"),
        (["export", "/no/such/folder/x.json"], 1, "could not be written"),
        (["frobnicate"], 2, "invalid choice"),
        ([], 2, "required"),
        (["list", "--sort", "colour"], 2, "invalid choice"),
    ],
)
def test_trouble_is_one_sentence_and_a_code(
    path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, words: str
) -> None:
    before = path.read_bytes()
    named = ["--book", path] if arguments and arguments[0] != "frobnicate" else []
    got, out, err = said(capsys, *arguments, *named)

    assert (code, "") == (got, out)
    assert words in err
    assert 1 == len(err.strip().splitlines())
    assert before == path.read_bytes()


@pytest.mark.parametrize("verb", ["list", "show", "check", "backup", "restore", "merge", "undo", "export"])
def test_without_a_book_nothing_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str], verb: str) -> None:
    further = {"show": ["1"], "merge": ["1", "2"], "export": [str(tmp_path / "x.json")]}.get(verb, [])
    code, _, err = said(capsys, verb, *further, "--book", tmp_path / "none.book")

    assert 1 == code
    assert "There is no ba" in err or "There is no book" in err
    assert [] == list(tmp_path.iterdir())


def test_a_keepers_text_cannot_move_the_terminal(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Book.open(path, backups=False) as book:
        book.add_animal(Animal(0, "Ash\x1b[2J\nline two", Sex.MALE))
    out = said(capsys, "list", "--animals", "--book", path)[1]

    assert "\x1b" not in out
    assert 4 == len(out.splitlines())
