"""What is done ahead of need: frames converted for the screen, stills of keyframes; and what waits."""

from __future__ import annotations

from itertools import pairwise

import pytest

from clipmark.media.clip import open_clip
from clipmark.media.frames.cache import FrameCache
from clipmark.window.play.frames import FrameSource
from clipmark.window.play.stills import MOST, Stills
from tests import made
from tests.window.conftest import put_in, wait_shown


@pytest.fixture
def source(long_groups: made.Made, qtbot):
    opened = FrameSource(open_clip(long_groups.path), FrameCache(64 << 20))
    yield opened
    opened.stop()
    opened.deleteLater()


def is_ready(source: FrameSource, number: int) -> bool:
    picture = source.picture(number)
    return picture is not None and picture.is_ready(64, 48)


def test_the_frames_that_steps_show_next_are_converted_for_the_screen_ahead(source, qtbot):
    source.ask(10, 1, (64, 48))
    qtbot.waitUntil(lambda: all(is_ready(source, number) for number in (10, 11, 12, 13)))

    assert (48, 64, 4) == source.picture(12).bgra(64, 48).shape
    assert source.picture(12).bgra(64, 48) is source.picture(12).bgra(64, 48)
    assert source.picture(12).bgra(32, 24).shape == (24, 32, 4)


def test_what_was_converted_ahead_is_given_back(source, qtbot):
    for number in range(10, 40):
        source.ask(number, 1, (64, 48))
        qtbot.waitUntil(lambda n=number: is_ready(source, n))

    assert sum(is_ready(source, number) for number in range(240)) <= 8


def test_a_jump_into_film_not_seen_yet_shows_the_nearest_still_at_once(source, qtbot):
    source.ask(0)
    stills = source.stills
    qtbot.waitUntil(lambda: stills.next(0) is None, timeout=5000)
    assert [0, 80, 160] == [stills.nearest(n).number for n in (30, 90, 239)]
    source._cache.clear()
    with qtbot.waitSignal(source.arrived) as first:
        source.ask(150)
    picture, exact = first.args

    assert (160, False) == (picture.number, exact)


def test_a_film_of_keyframes_alone_has_stills_spread_over_it(tmp_path):
    film = made.film(tmp_path / "all.mkv", [40 * n for n in range(600)], width=16, height=16, options={"g": "1"})
    stills = Stills(open_clip(film.path).index)
    wanted = [number for number in range(600) if stills.wants(number)]

    assert (MOST, 0, 599) == (len(wanted), wanted[0], wanted[-1])
    assert max(b - a for a, b in pairwise(wanted)) <= 3


def test_nothing_else_is_begun_before_the_first_frame_is_shown(window, film, qtbot):
    begun = []
    window.workspace.tasks.started.connect(lambda task: begun.append((task.title, shown(window))))
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, film)
    wait_shown(window, qtbot, 0)
    qtbot.waitUntil(lambda: any("moves" in title for title, _ in begun))

    assert [] == [title for title, seen in begun if not seen and not title.startswith("Opening")]


def shown(window) -> bool:
    picture = window.pages["film"].cameras.current.picture
    return picture is not None


def test_film_that_nobody_looks_at_is_surveyed_after_a_while_all_the_same(window, film, qtbot):
    window.show_page("start")
    begun = []
    window.workspace.tasks.started.connect(lambda task: begun.append(task.title))
    put_in(window.workspace, film)

    qtbot.waitUntil(lambda: any("moves" in title for title in begun), timeout=5000)
