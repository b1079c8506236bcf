"""Rhythm heard in the sound: a bracket on the log roll, a line beside the reading, words for who cannot see them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPointF

from clipmark.motion.result import FrameSpan, Ticks
from clipmark.motion.rhythm.values import Bout
from clipmark.report.films.seeing import keep_seen
from clipmark.window.roll.bouts import bracket_x, placed
from tests import made
from tests.window.conftest import put_in
from tests.window.film.test_pass_runner import result

RATE = 16_000


def taps(starts: np.ndarray, seconds: float) -> np.ndarray:
    """Short knocks of noise in a quiet room."""
    random = np.random.default_rng(5)
    sound = random.normal(0, 0.001, int(seconds * RATE)).astype(np.float32)
    knock = random.normal(0, 0.5, 300) * np.exp(-np.arange(300) / 60)
    for start in starts:
        first = int(start * RATE)
        sound[first : first + 300] += knock.astype(np.float32)
    return sound


@pytest.fixture
def drummed(window, tmp_path: Path, qtbot):
    """The Sheet page over ten seconds of film at ten frames a second, drummed on at 8 Hz from 2 s to 5 s."""
    sound = taps(np.arange(2.0, 5.01, 1 / 8), 10.0)
    film = made.film(tmp_path / "drum.mkv", [100 * n for n in range(100)], sound=sound, sound_rate=RATE)
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    window.show_page("sheet")
    page = window.pages["sheet"]
    qtbot.waitUntil(lambda: page.rhythm is not None, timeout=10_000)
    return page


def test_a_drumming_is_listed_beside_the_reading_with_its_span_rate_and_vector_strength(drummed):
    assert ["Rhythm heard in the sound"] == [drummed.rhythm.text(0)]
    (bout,) = drummed.roll.bouts
    assert "0:02.0 to 0:05.0" == drummed.rhythm.child(0).text(0)
    assert drummed.rhythm.child(0).text(1).startswith("8.0 Hz, vector strength ")
    assert "25 strikes" == bout.strikes


def test_a_rate_above_half_the_frame_rate_says_that_the_picture_cannot_show_it(drummed):
    words = drummed.rhythm.child(0).text(1)

    assert "in the picture not resolvable at this frame rate (half of it is 5 Hz)" in words


def test_the_bracket_on_the_roll_is_told_to_the_pointer_and_to_a_reader(drummed):
    roll = drummed.roll.roll
    across = roll._columns()
    at = QPointF(bracket_x(across), roll.view.y(3.5))
    told = drummed.roll.bouts[0].told

    assert told == roll._hatch_told(at)
    assert "" == roll._hatch_told(QPointF(at.x(), roll.view.y(8.0)))
    assert told in roll.accessibleDescription()


def test_the_bracket_is_drawn_where_the_bout_is_and_nowhere_else(drummed):
    roll = drummed.roll.roll
    image = roll.viewport().grab().toImage()
    x, ratio = bracket_x(roll._columns()), image.devicePixelRatio()

    def dark(seconds: float) -> int:
        y = roll.view.y(seconds)
        return min(image.pixelColor(int((x + dx) * ratio), int(y * ratio)).lightness() for dx in (-1, 0, 1))

    assert dark(3.0) < 100
    assert dark(7.3) > 180


def test_a_listed_rhythm_leads_to_its_place(drummed):
    drummed.show_source(drummed.rhythm.child(0))

    assert 1.95 == pytest.approx(float(drummed.workspace.place), abs=0.06)
    drummed._explain(drummed.rhythm.child(0))
    assert "or something else beats in the room" in drummed.explained.text()


def test_a_change_in_the_session_leaves_one_list_of_rhythms(drummed):
    drummed.rhythm.setExpanded(False)
    drummed.refresh()
    titles = [drummed.tree.topLevelItem(i).text(0) for i in range(drummed.tree.topLevelItemCount())]

    assert 1 == titles.count("Rhythm heard in the sound")
    assert not drummed.rhythm.isExpanded()


def test_a_bout_without_a_rate_says_so_in_words():
    assert (
        "not resolvable, vector strength 0.80, too fast"
        == placed(Bout("sound", 1, 2, None, 0.8, 9, "too fast"), 0).figures
    )


@pytest.fixture
def seen(drummed, qtbot):
    """The same film after a motion pass that saw 4 Hz, and 2 Hz where the sound beats at 8 Hz: its fold."""
    workspace = drummed.workspace
    frames = 100
    keep_seen(
        workspace.clip.fingerprint,
        [Bout("picture", 2.2, 4.8, 2.0, 0.7), Bout("picture", 6.0, 9.0, 4.0, 0.81)],
    )
    workspace.book.add_pass(
        workspace.clip_id,
        replace(
            result(frames), flags=(), watched=(FrameSpan(0, frames),), unwatched=(),
            ticks=Ticks(np.arange(frames) * 100, frames * 100),
        ),
    )  # fmt: skip
    workspace.refresh()
    qtbot.waitUntil(lambda: drummed.seen is not None, timeout=10_000)
    return drummed


def test_rhythm_seen_in_the_picture_is_listed_apart_with_its_rate(seen):
    assert "Rhythm seen in the picture" == seen.seen.text(0)
    assert "0:06.0 to 0:09.0" == seen.seen.child(1).text(0)
    assert "4.0 Hz, regularity 0.81" == seen.seen.child(1).text(1)
    assert "Rhythm heard in the sound" == seen.rhythm.text(0)
    assert 1 == seen.rhythm.childCount()


def test_a_rate_seen_that_is_only_the_fold_of_one_heard_is_not_resolvable(seen):
    words = seen.seen.child(0).text(1)

    assert words.startswith("not resolvable, ")
    assert "not resolvable at this frame rate: the sound beats faster than half of it" in words


def test_seen_and_heard_brackets_stand_apart_and_the_seen_one_is_broken(seen):
    roll = seen.roll.roll
    across = roll._columns()
    image = roll.viewport().grab().toImage()
    ratio = image.devicePixelRatio()

    def inked(x: float, first: float, last: float) -> float:
        rows = range(int(roll.view.y(first)), int(roll.view.y(last)))
        dark = [
            min(image.pixelColor(int((x + d) * ratio), int(y * ratio)).lightness() for d in (-1, 0, 1)) for y in rows
        ]
        return float(np.mean([value < 120 for value in dark]))

    assert inked(bracket_x(across), 2.3, 4.7) > 0.95
    assert 0.2 < inked(bracket_x(across, seen=True), 6.2, 8.8) < 0.8
    told = roll._hatch_told(QPointF(bracket_x(across, seen=True), roll.view.y(7.0)))
    assert told.startswith("Rhythm seen in the picture: 0:06.0 to 0:09.0, 4.0 Hz")
    assert told in roll.accessibleDescription()
