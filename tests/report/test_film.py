"""Stills and cuts hold exactly the frames that were meant; a film that is gone takes only its pictures with it."""

import base64
import os
import re
from fractions import Fraction

import cv2
import numpy as np
import pytest

from clipmark.book.film.intake import clip_record
from clipmark.book.model import Actor, Call, Decision, FlagRecord, Mark, Outline, Session
from clipmark.book.store import Book
from clipmark.cli import main
from clipmark.media.clip import open_clip
from clipmark.media.frames.reader import Reader
from clipmark.motion.result import FrameSpan, ScanResult, Shot, Ticks, Trace
from clipmark.progress import Cancelled
from clipmark.report.exports.cuts import NoPulls, burnt, write_cuts, write_stills
from clipmark.report.films.opened import FilmMissing, Films
from clipmark.report.films.sounds import heard
from clipmark.report.sheets.sheet import sheet_of, write_sheet
from clipmark.report.sheets.sheet_json import from_json, to_json
from tests import made

# uneven on purpose, late start; ticks are milliseconds
PTS = [100 + 40 * k + (k % 3) * 7 for k in range(120)]
ONSET, FULL, RELEASE = 50, 54, 70


@pytest.fixture
def book(tmp_path):
    film = made.film(tmp_path / "film.mkv", PTS, width=128, height=96)
    with Book.open(tmp_path / "my.book") as book:
        session = book.add_session(Session(0, "Ember and Ash", None, None, "2026-03-01"))
        clip = book.add_clip(clip_record(open_clip(film.path), session.id))
        book.add_outline(Outline(0, clip.id, PTS[0], 40, 30, 48, 32))
        like = np.ones(len(PTS))
        values = {name: like.copy() for name in Trace.__dataclass_fields__}
        values |= {"x": 64 * like, "y": 46 * like, "angle": 0 * like}
        result = ScanResult(
            (Shot(0, len(PTS)),), Trace(**values), (), (FrameSpan(0, len(PTS)),), (), "pairing-1", 100.0,
            ticks=Ticks(np.array(PTS), PTS[-1] + 40),
        )  # fmt: skip
        book.add_pass(clip.id, result)
        flag = book.add_flag(FlagRecord(
            0, clip.id, None, PTS[ONSET], PTS[FULL], PTS[RELEASE], None, 0.2, 5.0, None, "She was drawn in", by="Mara"
        ))  # fmt: skip
        book.add_call(Call(0, flag.id, "Mara", Decision.CONFIRMED))
        book.add_mark(Mark(0, clip.id, "contact", Actor.BOTH, PTS[20], None, False, "Mara"))
        yield book


def frames_in(path):
    """The numbers that the frames of a film carry, and their times in its own ticks."""
    with Reader(open_clip(path)) as reader:
        pictures = list(reader.pictures())
        return [made.number_in(p.grey()) for p in pictures], [
            (p.pts - pictures[0].pts) * reader.clip.index.time_base for p in pictures
        ]


def test_a_cut_holds_every_frame_at_its_own_time_four_times_slower(book, tmp_path):
    (path,) = write_cuts(book.session(1), tmp_path / "cuts")
    numbers, times = frames_in(path)
    first, last = numbers[0], numbers[-1]

    assert list(range(first, last + 1)) == numbers
    assert [Fraction(4 * (PTS[n] - PTS[first]), 1000) for n in numbers] == times
    assert PTS[ONSET] - 1000 >= PTS[first] >= PTS[ONSET] - 1060
    assert PTS[RELEASE] + 940 <= PTS[last] <= PTS[RELEASE] + 1000


def test_the_burnt_in_clock_leaves_the_rest_of_the_picture_alone():
    picture = np.full((240, 320, 3), 120, np.uint8)
    marked = burnt(picture, "pull 1   0:12.000   frame 300")

    assert np.array_equal(picture[:200], marked[:200])
    assert 255 == marked[200:].max()
    assert 120 > marked[200:].min()


def test_stills_are_before_full_and_after_whole_and_exact(book, tmp_path):
    paths = write_stills(book.session(1), tmp_path / "stills")
    numbers = [made.number_in(cv2.imread(str(p), cv2.IMREAD_GRAYSCALE)) for p in paths]

    assert [f"{n + 1:06d}" for n in numbers] == [re.search(r"frame-(\d+)", p.name).group(1) for p in paths]
    before, full, after = numbers
    assert PTS[before] <= PTS[ONSET] - 125 < PTS[before + 1]
    assert FULL == full
    assert PTS[after] <= PTS[RELEASE] + 125 < PTS[after + 1]


def test_the_sheet_shows_three_stills_with_frame_time_and_outline(book, tmp_path):
    page = write_sheet(book, 1, tmp_path / "sheet.html").read_text(encoding="utf-8")
    stills = re.findall(r'<img src="data:image/jpeg;base64,([^"]+)" width="(\d+)" height="(\d+)" alt="([^"]+)"', page)

    assert 3 == len(stills)
    assert f"frame {FULL + 1}" in stills[1][3]  # people count from 1
    assert 3 == page.count('class="line" points=')
    for data, width, height, _ in stills:
        picture = cv2.imdecode(np.frombuffer(base64.b64decode(data), np.uint8), cv2.IMREAD_COLOR)
        assert (int(height), int(width)) == picture.shape[:2]


def test_a_sheet_with_its_pictures_comes_through_json_as_it_was(book):
    sheet = sheet_of(book, book.session(1))
    stills = [view.still for card in sheet.cards for view in card.stills]

    assert 3 == len(stills)
    assert all(still is not None and still.data.startswith(b"\xff\xd8") and still.outline for still in stills)
    assert sheet == from_json(to_json(sheet))


def test_a_sheet_is_written_without_its_film_and_says_what_is_missing(book, tmp_path):
    (tmp_path / "film.mkv").unlink()
    page = write_sheet(book, 1, tmp_path / "sheet.html").read_text(encoding="utf-8")

    assert "<img" not in page
    assert 3 == page.count("No picture: the film is not where the book says")
    assert "1 confirmed of 1 judgeable" in page


def test_another_film_under_the_same_name_is_not_taken_for_it(book, tmp_path):
    made.film(tmp_path / "film.mkv", PTS[:60], width=128, height=96)

    with pytest.raises(FilmMissing, match="another film"):
        write_cuts(book.session(1), tmp_path / "cuts")
    assert not (tmp_path / "cuts").exists()


def test_a_session_without_pulls_has_nothing_to_cut(book, tmp_path):
    book.remove_flag(book.session(1).flags[0].id)

    with pytest.raises(NoPulls):
        write_cuts(book.session(1), tmp_path / "cuts")
    assert ["film.mkv", "my.book"] == sorted(os.listdir(tmp_path))


def test_stopping_leaves_neither_sheet_nor_cuts(book, tmp_path):
    class Stop:
        def advance(self, done, total):
            raise Cancelled

    with pytest.raises(Cancelled):
        write_sheet(book, 1, tmp_path / "sheet.html", Stop())
    with pytest.raises(Cancelled):
        write_cuts(book.session(1), tmp_path / "cuts", progress=Stop())
    assert ["film.mkv", "my.book"] == sorted(os.listdir(tmp_path))


def test_the_commands_write_what_is_asked_and_nothing_else(book, tmp_path, capsys, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.chdir(out)
    named = ["--book", str(tmp_path / "my.book")]

    assert 0 == main(["sheet", "1", *named])
    places = "--csv t --json s.json --vtt c.vtt --captions w.vtt --ffmetadata m.txt --clips cuts --stills stills"
    assert 0 == main(["export", "Ember and Ash", *named, *places.split(), "--burn-clock"])
    assert ["c.vtt", "cuts", "ember-and-ash.html", "m.txt", "s.json", "stills", "t", "w.vtt"] == sorted(os.listdir())
    assert "ember-and-ash.html" == capsys.readouterr().out.splitlines()[0]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["export", "1"], 2, "Say what to write"),
        (["export", "1", "--burn-clock", "--json", "s.json"], 2, "--clips"),
        (["export", "1", "--slow", "0", "--clips", "c"], 2, "--slow"),
        (["export", "7", "--json", "s.json"], 1, "7"),
        (["sheet", "nobody"], 1, "nobody"),
        (["sheet", "1", "-o", "none/such/s.html"], 1, "could not be written"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence_and_leaves_nothing(
    book, tmp_path, words, code, said, capsys, monkeypatch
):
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.chdir(out)

    assert code == main([*words, "--book", str(tmp_path / "my.book")])
    assert said in capsys.readouterr().err
    assert [] == os.listdir()


def test_taps_in_the_sound_stand_at_their_time_on_the_session_clock(tmp_path):
    sound = np.zeros(16_000 * 5, np.float32)
    for at in (1.0, 2.5, 4.0):
        sound[int(16_000 * at) : int(16_000 * at) + 400] = 0.8 * np.sin(np.arange(400))
    made.film(tmp_path / "film.mkv", list(range(0, 5000, 40)), sound=sound)
    clip = open_clip(tmp_path / "film.mkv")
    with Book.open(tmp_path / "my.book") as book:
        session = book.add_session(Session(0, "taps", None, None))
        book.add_clip(clip_record(clip, session.id, Fraction(60)))
        with Films() as films:
            (found,) = heard(book.session(1), films)

    assert [61.0, 62.5, 64.0] == pytest.approx(found.onsets.tolist(), abs=0.03)
    assert 60.0 == pytest.approx(found.clock[0], abs=0.02)


def test_a_film_without_sound_has_no_lane_of_sound(book):
    with Films() as films:
        assert [] == heard(book.session(1), films)


def test_a_cut_of_film_in_which_two_frames_state_one_tick_is_written(tmp_path):
    film = made.film(tmp_path / "doubled.mkv", [0, 40, 80, 81, 120, *range(160, 2000, 40)], restated={81: 80})
    with Book.open(tmp_path / "doubled.book") as book:
        session = book.add_session(Session(0, "Doubled", None, None))
        clip = book.add_clip(clip_record(open_clip(film.path), session.id))
        book.add_flag(FlagRecord(0, clip.id, None, 200, 240, None, None, None, None, None, "seen", by="Ada"))
        (path,) = write_cuts(book.session(session.id), tmp_path / "out")

    assert len(open_clip(path).index) > 40


def test_a_sheet_holds_the_called_pulls_against_each_other_on_paper_too(book):
    from clipmark.report.sheets.sheet import render

    sheet = sheet_of(book, book.session(1))

    assert ["pulls-picture"] == [name for svg in sheet.comparisons for name in re.findall(r'id="(\w+-picture)', svg)][
        :1
    ]
    assert "Held against other pulls and sessions" in render(sheet)
