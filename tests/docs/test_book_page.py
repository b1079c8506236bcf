"""The page on the book: its commands, messages, tables and numbers are those of the program."""

import argparse
import re
from pathlib import Path

import pytest

import clipmark
from clipmark.book.errors import LONGEST_NAME, BookForeign
from clipmark.book.file import backup, schema
from clipmark.book.steps import carry_calls, journal
from clipmark.book.store import WAIT_S, Book
from clipmark.cli import book as command

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/book.md").read_text("utf-8")
PLAIN = re.sub(r"\s+", " ", PAGE)
KEEPERS, DEVELOPERS = PAGE.split("# For developers: the file")
COMMANDS = re.findall(r"^\| (`clipmark book[^|]*(?:\\\|[^|]*)*) \|", KEEPERS, re.M)
SOURCE = re.sub(
    r'"\s*\n\s*f?"', "", "\n".join(p.read_text("utf-8") for p in sorted(Path(clipmark.__file__).parent.rglob("*.py")))
)


def verbs() -> dict[str, argparse.ArgumentParser]:
    made = argparse.ArgumentParser()
    command.configure(made)
    return dict(next(a for a in made._actions if isinstance(a, argparse._SubParsersAction)).choices)


VERBS = verbs()


def test_every_verb_of_the_book_is_in_the_table_and_no_other():
    told = {word for row in COMMANDS for word in re.findall(r"(?:clipmark book|`, `)\s*`?([a-z]+)", row)}
    told |= {word for row in COMMANDS for word in re.findall(r"`([a-z]+)(?= |`)", row)} & set(VERBS)

    assert set(VERBS) - {"outcomes"} <= told  # told in reading.md, to which this page leads
    assert told <= set(VERBS)


@pytest.mark.parametrize("row", [row for row in COMMANDS if "--" in row])
def test_every_option_of_the_table_is_one_of_the_command(row):
    verb = re.match(r"`clipmark book ([a-z]+)", row)[1]
    known = {option for word in (verb, *(v for v in VERBS if f"`{v} " in row))
             for action in VERBS[word]._actions for option in action.option_strings}  # fmt: skip

    assert set(re.findall(r"--[a-z-]+", row)) <= known


def test_every_command_takes_json():
    assert "Every command takes `--json`." in PLAIN
    assert all("--json" in one._option_string_actions for one in VERBS.values())


@pytest.mark.parametrize("said", re.findall(r"^\| (\"[^|]+\") \|", PAGE, re.M))
def test_a_message_that_is_explained_is_one_that_the_program_gives(said):
    source = re.sub(r"\s+", " ", SOURCE) + str(BookForeign(Path("my.book"), "trigger", "on mark"))
    for part in re.findall(r"\"([^\"]+)\"", said):
        for piece in part.split(" … "):
            assert piece in source


def test_the_tables_of_the_page_are_those_of_the_file(tmp_path):
    rows = DEVELOPERS[DEVELOPERS.index("| table | holds |") : DEVELOPERS.index("Times in `shot`")]
    told = set(re.findall(r"`([a-z_]+)`", "\n".join(re.findall(r"^\| (`[^|]+) \|", rows, re.M))))
    with Book.open(tmp_path / "b.book") as book:
        there = {row[0] for row in book._db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}

    assert told == {name for name in there if not name.startswith("sqlite_")}


def test_the_numbers_of_the_page_are_those_of_the_program():
    assert f"0x{schema.APPLICATION_ID:08x}".lower() in PLAIN.lower()
    assert f"the book version (now {len(schema.STEPS)})" in PLAIN
    assert "2,000 steps are kept" in PLAIN
    assert 2_000 == journal.KEPT_STEPS
    assert "for more than five seconds" in PLAIN
    assert "a second writer waits up to five seconds" in PLAIN
    assert 5 == WAIT_S
    assert "whose onset lies within 0.4 s" in PLAIN
    assert 0.4 == pytest.approx(float(carry_calls.SAME_PULL))
    assert "the ten newest, the newest of each of the last twelve months" in PLAIN
    assert (10, 12, 3) == (backup.KEPT, backup.KEPT_MONTHS, backup.KEPT_BEFORE)
    assert "at most 240 bytes" in PLAIN
    assert 240 == LONGEST_NAME
