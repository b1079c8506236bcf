"""Stretches watched in full: kept from here to here or as a whole film, taken out, and brought back by undo."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from clipmark.window.film.watched_part import WatchedPart
from clipmark.window.main_window import MainWindow
from tests import made
from tests.window.conftest import put_in


@pytest.fixture
def part(window: MainWindow, tmp_path: Path, qtbot) -> WatchedPart:
    film = made.film(tmp_path / "visit.mkv", list(range(0, 2_000, 40)))
    clip = put_in(window.workspace, film)
    qtbot.waitUntil(lambda: window.workspace.film(clip) is not None, timeout=20_000)
    return window.pages["film"].findChild(WatchedPart)  # type: ignore[return-value]


def stretches(part: WatchedPart) -> list[tuple[Fraction, Fraction]]:
    record = part.workspace.record
    return [
        (record.clip(one.clip_id).on_clock(one.start_pts), record.clip(one.clip_id).on_clock(one.end_pts))
        for one in record.reviewed
    ]


def test_a_stretch_runs_from_here_to_here_whichever_comes_first(part) -> None:
    for first, last in ((Fraction(1, 5), Fraction(1)), (Fraction(37, 25), Fraction(6, 5))):
        part.workspace.go(first)
        part.begin()
        part.workspace.go(last)
        part.finish()

    assert [(Fraction(1, 5), Fraction(1)), (Fraction(6, 5), Fraction(37, 25))] == sorted(stretches(part))
    assert {part.workspace.reviewer} == {one.reviewer for one in part.workspace.record.reviewed}


def test_a_whole_film_is_kept_in_one_press_and_undo_takes_it_back(part) -> None:
    part.all_of_it()
    [clip] = part.workspace.record.clips

    assert [(clip.offset, clip.on_clock(clip.end_pts))] == stretches(part)
    part.workspace.undo()
    assert [] == stretches(part)


def test_an_end_without_a_beginning_is_answered_in_a_sentence(part, qtbot) -> None:
    with qtbot.waitSignal(part.workspace.message) as said:
        part.finish()

    assert "Press “From here”" in said.args[0]
    assert [] == stretches(part)


def test_a_stretch_without_length_is_answered_in_a_sentence(part, qtbot) -> None:
    part.begin()
    with qtbot.waitSignal(part.workspace.message) as said:
        part.finish()

    assert "no length" in said.args[0]


def test_without_film_nothing_can_be_noted(window) -> None:
    part = window.pages["film"].findChild(WatchedPart)
    part.begin()
    part.all_of_it()

    assert not part.title.isEnabled()
    assert () == window.workspace.book.sessions()
