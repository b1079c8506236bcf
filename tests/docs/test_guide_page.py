"""The keeper's guide walked through: keys, buttons, pages, acts, calls and figures are those of the program."""

import ast
import re
from pathlib import Path

import pytest

import clipmark
from clipmark import cli
from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import Decision, Sign
from clipmark.motion.rhythm.values import half_rate
from clipmark.reading.kinds import notices
from clipmark.report.pictures.shapes import SHAPES
from clipmark.window.commands import COMMANDS

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "docs/guide.md").read_text("utf-8")
PLAIN = re.sub(r"\s+", " ", GUIDE)
KEYS = {command.key: command for command in COMMANDS}
BY_NAME = {command.name: command for command in COMMANDS}
EMPHASIS = {  # italics that are no words of the window: a term explained, a stress
    "log roll", "motion pass", "Finding nothing there means nothing.", "The score", "seen",
}  # fmt: skip


def plainly(text: str) -> str:
    """A text of the window as a sentence of the guide may name it."""
    return text.replace("&", "").strip(" ↑↓…:").removeprefix("with ").casefold()


def texts() -> set[str]:
    """Every text in the window's source."""
    found = set()
    for path in sorted((Path(clipmark.__file__).parent / "window").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(plainly(node.value))
    return found


WINDOW = texts()
ITALIC = sorted(set(re.findall(r"(?<![*\w])\*([^*]+)\*(?![*\w])", re.sub(r"\*\*[^*]+\*\*", "", PLAIN))))


@pytest.mark.parametrize("words", [words for words in ITALIC if words not in EMPHASIS])
def test_what_the_guide_names_stands_in_the_window(words):
    assert plainly(words) in WINDOW | {plainly(act.label) for act in BUILT_IN}


@pytest.mark.parametrize(
    ("key", "name", "says"),
    [
        ("Ctrl+Z", "edit.undo", "takes back the last step"),
        ("F1", "help.keys", "Press **F1** for the keys of the page you are on"),
        ("Ctrl+1", "page.pair", "Ctrl+1 to Ctrl+5 open these five pages"),
        ("Ctrl+5", "page.after", "Ctrl+1 to Ctrl+5 open these five pages"),
        ("Ctrl+Shift+O", "page.start", "Ctrl+Shift+O the sessions"),
        ("Left", "step.back", "Left and Right go one frame back and forward"),
        ("Shift+Right", "step.forward_long", "with Shift ten frames"),
        ("Ctrl+Right", "step.forward_second", "with Ctrl one second"),
        ("Space", "play.toggle", "Space plays and pauses"),
        ("F6", "", "F6 and F7 play slower and faster"),
        ("F7", "", "F6 and F7 play slower and faster"),
        ("Up", "jump.mark_back", "Up and Down go from mark to mark"),
        ("F2", "", "With the keyboard: **F2**"),
        ("F3", "outline.next_bare", "**F3** goes to the next stretch without one"),
        ("F5", "", "**F5** runs the pass again"),
        ("Ctrl+F5", "", "**Ctrl+F5** over all clips of the session"),
        ("Shift+F5", "", "**Shift+F5** stops it"),
        ("H", "loop.hold", "**H** pauses the loop"),
        ("L", "palp.left", "L or R for the palp"),
        ("R", "", "L or R for the palp"),
        (",", "", "comma and full stop step through it"),
        (".", "", "comma and full stop step through it"),
        ("Ctrl+I", "pull.missed", "*Add a missed pull…* (Ctrl+I)"),
        *((key, "", "First tick what you saw (P, D, G, M, B;") for key in "PDGMB"),
        *((key, "", "One key each:") for key in "12345"),
        ("4", "", "4 and 5 lighten and darken the picture"),
    ],
)
def test_a_key_does_what_the_guide_says(key, name, says):
    assert says in PLAIN
    found = [command for command in COMMANDS if command.key == key]
    assert found
    assert not name or name in {command.name for command in found}


def test_the_keys_of_acts_are_those_of_the_guide():
    keys = {act.key.upper(): act.label for act in BUILT_IN}

    assert "Introduced" == keys["I"]
    assert ("contact" in keys["C"], "lasp" in keys["K"]) == (True, True)
    assert "Drumming" in keys["D"]
    drumming = next(act for act in BUILT_IN if act.key.upper() == "D")
    assert drumming.lasting  # begins with the first press, ends with the second


def test_the_five_pages_and_their_order_are_those_of_the_window():
    heads = re.findall(r"^## (\d)\. (\w+):", GUIDE, re.M)
    pages = [BY_NAME[f"page.{name}"] for name in ("pair", "film", "pulls", "sheet", "after")]

    assert [f"Ctrl+{k}" for k in range(1, 6)] == [page.key for page in pages]
    assert {"Pair", "Film", "Pulls", "Sheet", "After"} == {page.label for page in pages}
    assert ["Pair", "Film", "Pulls", "Sheet", "After"] == [
        name for _, name in heads if name in {page.label for page in pages}
    ]


def test_calls_signs_and_their_dishes_are_those_of_the_program():
    table = re.findall(r"^\| (\d) \| ([a-z ]+) \|", GUIDE, re.M)

    assert list(enumerate(map(str, Decision), 1)) == [(int(key), call) for key, call in table]
    assert {str(decision) for decision in Decision} <= set(SHAPES)
    assert all(f"| {word}" in GUIDE or f"{word}:" in GUIDE for word in map(str, Decision))
    assert 5 == len(Sign)  # P, D, G, M, B


def test_the_closing_words_are_those_that_the_program_shows():
    quoted = " ".join(line.lstrip("> ") for line in GUIDE.splitlines() if line.startswith(">"))

    assert notices.STANDING.text == re.sub(r"\s+", " ", quoted).strip()


def test_what_cannot_be_counted_is_half_the_frame_rate_and_a_moment_is_half_a_frame():
    import numpy as np

    assert "On film of 25 frames a second it counts up to 12.5 strokes a second" in PLAIN
    assert 12.5 == pytest.approx(half_rate(np.arange(100) / 25))
    assert "at 25 frames a second, to a fiftieth of a second" in PLAIN
    assert pytest.approx(1 / 50) == 0.5 / 25


def test_the_line_that_matters_reads_as_the_guide_quotes_it():
    from tests.reading.made_records import Made

    made = Made()
    for at, call in enumerate(["confirmed", "confirmed", "probable", "attempt", "not seen", "not seen", "not seen"]):
        made.flag(30 * at + 10, release=30 * at + 12, call=Decision(call))
    from clipmark.reading.session.measures import read

    said = read(made.record()).insertions.sentence
    assert "2 confirmed, 1 probable, 1 attempt, of 4 judgeable; 3 not visible" in PLAIN
    assert said.replace(" (2 without stated signs)", "").startswith("2 confirmed")
    assert all(part in said for part in ("1 probable", "1 attempt", "of 4 judgeable", "3 not visible"))


def test_the_commands_of_the_guide_are_commands():
    assert {"agree"} <= set(re.findall(r"`clipmark ([a-z]+)", GUIDE)) <= set(cli.COMMANDS)
