"""What people read: links that lead somewhere, tables that render, words that are spelt right."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = sorted(
    path
    for path in (*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md"), *ROOT.glob("models/**/*.md"))
    if not any(part.startswith(".") for part in path.relative_to(ROOT).parts)
)
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"^```.*?^```", re.MULTILINE | re.DOTALL)


def text_of(page: Path) -> str:
    """A page without its blocks of code, which keep their lines."""
    return CODE.sub(lambda block: "\n" * block[0].count("\n"), page.read_text("utf-8"))


def anchors(page: Path) -> set[str]:
    """The names by which the headings of a page are linked to."""
    heads = re.findall(r"^#+ (.+)$", text_of(page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    dead = []
    for target in LINK.findall(text_of(page)):
        if re.match(r"[a-z]+:", target):
            continue  # an address outside: not asked in tests
        name, _, part = target.partition("#")
        there = (page.parent / name).resolve() if name else page
        if not there.exists() or (part and there.suffix == ".md" and part not in anchors(there)):
            dead.append(target)
    assert [] == dead


def cells(row: str) -> int:
    return len(re.split(r"(?<!\\)\|", re.sub(r"`[^`]*`", "", row).strip().strip("|")))


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_table_renders(page):
    wrong, lines = [], text_of(page).splitlines()
    for number, line in enumerate(lines):
        if not re.fullmatch(r"\s*\|?(\s*:?-+:?\s*\|)+\s*:?-*:?\s*", line):
            continue
        head = lines[number - 1]
        if number >= 2 and lines[number - 2].strip() and not re.match(r"#|\||.*-->$", lines[number - 2]):
            wrong.append(f"{number}: no empty line before the table")
        if cells(head) != cells(line):
            wrong.append(f"{number}: {cells(head)} heads, {cells(line)} columns")
        for place in range(number + 1, len(lines)):
            if "|" not in lines[place]:
                break
            if cells(lines[place]) != cells(line):
                wrong.append(f"{place + 1}: {cells(lines[place])} cells, {cells(line)} columns")
    assert [] == wrong


def test_words_are_spelt_right():
    code = [ROOT / name for name in ("clipmark", "tests", "models", "download")]
    pytest.importorskip("codespell_lib")
    folders = [*map(str, PAGES), *(str(folder) for folder in code if folder.is_dir())]
    command = [sys.executable, "-m", "codespell_lib", "--ignore-words", str(ROOT / "docs" / "spelling.txt")]
    command += ["--skip", "*.svg,*.json,*.pyc,*.sql", *folders]

    done = subprocess.run(command, capture_output=True, text=True)

    assert "" == done.stdout, done.stdout
    assert 0 == done.returncode, done.stderr
