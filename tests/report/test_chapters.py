"""Chapters and captions are read by players, and no text of a keeper breaks out of its line."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from fractions import Fraction

import pytest
import webvtt

from clipmark.report.exports.chapters import (
    NoFilm,
    captions,
    chapters,
    ffmetadata,
    vtt,
    write_captions,
    write_chapters,
)
from tests import made
from tests.report import by_hand

RECORDS = [by_hand.pairing(), by_hand.hostile()]
IDS = ["pairing", "hostile"]


@pytest.mark.parametrize("record", RECORDS, ids=IDS)
@pytest.mark.parametrize("write", [write_chapters, write_captions])
def test_a_webvtt_reader_finds_every_cue(record, write, tmp_path):
    # the outside reader: webvtt-py
    path = write(record, tmp_path / "pairing.vtt")[0]
    expected = (chapters if write is write_chapters else captions)(record, record.clips[0])

    read = webvtt.read(str(path))

    assert len(expected) == len(read.captions)
    assert all(len(cue.lines) == 1 and cue.lines[0].strip() for cue in read.captions)
    assert all(cue.start_in_seconds <= 90 for cue in read.captions)


@pytest.mark.parametrize("record", RECORDS, ids=IDS)
def test_no_cue_text_holds_a_bare_sign_of_the_format(record):
    # W3C WebVTT, 4.1 "cue text": & and < escaped, no "-->", no line break, no blank line inside a cue
    clip = record.clips[0]
    for cues in (chapters(record, clip), captions(record, clip)):
        for block in vtt(clip, cues).rstrip("\n").split("\n\n")[1:]:
            number, times, text = block.split("\n")
            assert number.isdigit()
            assert re.fullmatch(r"\d\d:\d\d:\d\d\.\d{3} --> \d\d:\d\d:\d\d\.\d{3}", times)
            assert "<" not in text
            assert ">" not in text
            assert not re.search(r"&(?!amp;|lt;|gt;)", text)


def test_chapters_follow_each_other_without_a_gap_to_the_end_of_the_film():
    record = by_hand.pairing()
    found = chapters(record, record.clips[0])

    assert by_hand.FIRST == found[0].start
    assert by_hand.at(90) == found[-1].end
    assert [c.end for c in found[:-1]] == [c.start for c in found[1:]]


def test_an_act_left_open_runs_to_the_end_of_the_film():
    record = by_hand.pairing()
    opened = replace(record, marks=(replace(record.marks[2], end_pts=None),), flags=())

    assert [by_hand.at(90)] == [c.end for c in captions(opened, record.clips[0])]


def test_several_films_get_a_numbered_file_each(tmp_path):
    record = by_hand.pairing()
    second = replace(record.clips[0], id=2, offset=Fraction(90))
    paths = write_chapters(replace(record, clips=(record.clips[0], second)), tmp_path / "a.vtt")

    assert ["a.1.vtt", "a.2.vtt"] == sorted(p.name for p in tmp_path.iterdir())
    assert 2 == len(paths)


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffmpeg is not installed")
@pytest.mark.parametrize("record", RECORDS, ids=IDS)
def test_ffmpeg_takes_the_chapters_as_they_were_meant(record, tmp_path):
    # the outside reader: ffmpeg's own metadata demuxer
    film = made.film(tmp_path / "film.mkv", list(range(0, 90_000, 1000)))
    meta = tmp_path / "meta.txt"
    meta.write_text(ffmetadata(record, record.clips[0]), encoding="utf-8")
    joined = tmp_path / "joined.mkv"
    subprocess.run(
        ["ffmpeg", "-v", "error", "-i", film.path, "-i", meta, "-map_metadata", "1", "-map_chapters", "1",
         "-map", "0", "-c", "copy", joined],
        check=True,
    )  # fmt: skip
    shown = subprocess.run(
        ["ffprobe", "-v", "error", "-show_chapters", "-of", "json", joined], check=True, capture_output=True
    )

    read = json.loads(shown.stdout)["chapters"]
    expected = chapters(record, record.clips[0])
    assert len(expected) == len(read)
    for cue, chapter in zip(expected, read, strict=True):
        start = (cue.start - by_hand.FIRST) * by_hand.TICK
        assert float(start) == pytest.approx(float(chapter["start_time"]), abs=0.002)
        title = " ".join(chapter["tags"]["title"].split())
        assert title[:40] == " ".join(cue.text.replace("\x00", "\ufffd").replace("\x07", "\ufffd").split())[:40]


def test_a_session_without_film_has_no_chapters_and_says_so(tmp_path):
    with pytest.raises(NoFilm, match="no film yet"):
        write_chapters(replace(by_hand.pairing(), clips=(), marks=(), flags=()), tmp_path / "a.vtt")
    assert [] == list(tmp_path.iterdir())
