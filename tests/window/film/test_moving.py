"""Where anything moves, in the window: the lane beside the ruler, the keys, and playing what moves alone."""

from __future__ import annotations

import time
from fractions import Fraction

import numpy as np
import pytest

from clipmark.report.kept_surveys import KeptSurvey
from clipmark.window.main_window import MainWindow


def survey(moving: tuple[tuple[float, float], ...], rests_on: str = "keyframes", seconds: int = 4) -> KeptSurvey:
    lane = np.zeros(seconds)
    for start, end in moving:
        lane[int(start) : int(end)] = 0.1
    return KeptSurvey(rests_on, True, lane, moving, (), (), (), {})


@pytest.fixture
def surveyed(on_view: MainWindow, qtbot) -> MainWindow:
    """The film's survey says: it moves in the second from 1 to 2."""
    moving = on_view.pages["film"].moving
    film = on_view.workspace.film(on_view.workspace.clip_id)
    qtbot.waitUntil(lambda: not on_view.workspace.tasks.tasks, timeout=20_000)
    moving._known[film.fingerprint] = None
    moving._take(film.fingerprint, survey(((1.0, 2.0),)))
    return on_view


def test_keys_go_to_where_something_moves(surveyed: MainWindow) -> None:
    page = surveyed.pages["film"]
    page.player.go(Fraction(0))

    page.going.to_moving(1)
    assert pytest.approx(1.0, abs=0.05) == float(page.player.place)
    page.going.to_moving(1)
    assert "further" in surveyed.messages.text


def test_the_lane_is_drawn_and_told(surveyed: MainWindow) -> None:
    roll = surveyed.pages["film"].roll.roll

    assert 1 == len(roll._moving)
    from clipmark.window.roll.moving import moving_told

    assert "Something moves" in moving_told(roll._moving, 1.5)
    assert "Nothing moves" in moving_told(roll._moving, 0.5)


def test_packets_do_not_take_the_place_of_pictures(surveyed: MainWindow) -> None:
    moving = surveyed.pages["film"].moving
    film = surveyed.workspace.film(surveyed.workspace.clip_id)

    moving._take(film.fingerprint, survey((), rests_on="packets"))

    assert "keyframes" == moving.survey(surveyed.workspace.clip_id).rests_on


def test_what_is_still_is_skipped_to_just_before_it_moves(surveyed: MainWindow) -> None:
    moving = surveyed.pages["film"].moving
    film = surveyed.workspace.film(surveyed.workspace.clip_id)
    moving._known[film.fingerprint] = survey(((60.0, 70.0),), seconds=100)

    assert Fraction(119, 2) == moving.skipped_to(Fraction(3))
    assert moving.skipped_to(Fraction(65)) is None
    assert moving.skipped_to(Fraction(90)) is None


def test_the_survey_rests_while_the_keeper_steps() -> None:
    from clipmark.window.film.moving import RESTS_S, _Patient, _Turn

    told: list[tuple[int, int]] = []

    class Told:
        def advance(self, done: int, total: int) -> None:
            told.append((done, total))

    turn = _Turn()
    turn.taken()
    begun = time.monotonic()
    _Patient(Told(), turn).advance(3, 9)

    assert time.monotonic() - begun >= 0.9 * RESTS_S
    assert {(3, 9)} == set(told)
