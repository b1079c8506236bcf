"""The whole job on the sample session, against the truth that its renderer wrote."""

import json

from clipmark.book.store import Book
from clipmark.cli import main
from clipmark.resources import resource


def test_the_demo_finds_every_pull_of_the_sample_session_and_writes_its_sheet(tmp_path, capsys):
    pulls = json.loads(resource("sample_media/pairing.truth.json").read_text("utf-8"))["pulls"]

    assert 0 == main(["demo", "--to", str(tmp_path), "--no-window"])

    assert "candidate insertions" in capsys.readouterr().out
    assert "<html" in (tmp_path / "sheet.html").read_text("utf-8")
    with Book.open(tmp_path / "demo.book", read_only=True) as book:
        record = book.session(1)
    clip = record.clips[0]
    onsets = [float(clip.on_clock(flag.onset_pts)) for flag in record.flags if flag.flagged]
    for pull in pulls:
        assert [t for t in onsets if pull["onset_s"] - 0.4 <= t <= pull["full_s"] + 0.6], pull["onset_s"]
    assert len(onsets) <= len(pulls) + 1
