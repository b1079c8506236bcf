"""What docs/formats.md says of the files is what the program writes."""

import re
from dataclasses import replace
from pathlib import Path

from clipmark.book.store import Book
from clipmark.cli.export import WAYS
from clipmark.report.exports.columns import ACROSS, TABLES, described
from tests.report import by_hand

PAGE = (Path(__file__).parents[2] / "docs/formats.md").read_text(encoding="utf-8")


def test_every_table_stands_in_the_page_as_it_is_declared():
    for table in (*TABLES, *ACROSS):
        assert described(table) in PAGE + "\n"


def test_every_way_out_is_told():
    assert all(f"--{name}" in PAGE for name in (*WAYS, "burn-clock", "slow", "book"))


def test_the_notebook_in_the_page_runs_and_answers(tmp_path, monkeypatch, capsys):
    record = by_hand.pairing()
    with Book.open(tmp_path / "my.book") as book:
        session = book.add_session(replace(record.session, id=0, female_id=None, male_id=None))
        clip = book.add_clip(replace(record.clips[0], id=0, session_id=session.id))
        for mark in record.marks:
            if mark.act in ("drumming", "answering"):
                book.add_mark(replace(mark, id=0, clip_id=clip.id))
    monkeypatch.setenv("CLIPMARK_BOOK", str(tmp_path / "my.book"))
    code = re.findall(r"```python\n(.*?)```", PAGE, re.S)[1]

    exec(compile(code, "formats.md", "exec"), {})

    assert "1 bouts with an answer after them, in 1 sessions" in capsys.readouterr().out
