"""Large film: held shrunk while one moves, in full where one stays, and always the frame that is named."""

from __future__ import annotations

import time

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication

from clipmark.media.clip import open_clip
from clipmark.media.frames.cache import FrameCache
from clipmark.media.frames.picture import Picture
from clipmark.window.keyboard import FocusFirst
from clipmark.window.play import decoder, planning
from clipmark.window.play.frames import FrameSource
from clipmark.window.play.planning import kept_width
from tests import made
from tests.window.conftest import put_in, wait_shown


@pytest.mark.parametrize(
    ("size", "width"),
    [
        ((640, 480), 640),
        ((1920, 1080), 1920),
        ((1920, 1440), 1920),
        ((2704, 1520), 1352),
        ((3840, 2160), 1280),
        ((2160, 3840), 720),
        ((5312, 2988), 1328),
    ],
)
def test_film_up_to_about_full_hd_is_held_as_it_is_and_larger_film_at_a_whole_part(size, width):
    assert width == kept_width(*size)


@pytest.fixture
def large(monkeypatch):
    """What counts as large is brought down to the films of these tests (128 x 96)."""
    monkeypatch.setattr(planning, "LARGE", 10_000)
    monkeypatch.setattr(planning, "SHRUNK", 5_000)
    monkeypatch.setattr(decoder, "PREVIEW_FROM", 8)


@pytest.fixture
def source(large, long_groups: made.Made, qtbot):
    opened = FrameSource(open_clip(long_groups.path), FrameCache(64 << 20))
    yield opened
    opened.stop()
    opened.deleteLater()


def answers_of(source: FrameSource) -> list[tuple[int | None, int, bool, bool]]:
    """(number in the pixels, number told, exact, reduced) of each answer as it comes."""
    came: list[tuple[int | None, int, bool, bool]] = []
    source.arrived.connect(
        lambda picture, exact: came.append((made.number_in(picture.grey()), picture.number, exact, picture.reduced))
    )
    return came


def test_neighbours_are_held_shrunk_and_are_the_frames_they_say(source, qtbot):
    source.ask(150)
    qtbot.waitUntil(lambda: all(source.ready(n) for n in range(142, 159)))

    for number in (*range(142, 150), *range(151, 159)):
        picture = source.picture(number)
        assert (number, number, 64, 48) == (
            made.number_in(picture.grey()),
            picture.number,
            picture.width,
            picture.height,
        )
        assert (128, 96) == picture.film_size


def test_a_jump_answers_with_the_frame_in_full(source, qtbot):
    came = answers_of(source)
    source.ask(150)
    qtbot.waitUntil(lambda: any(exact for *_, exact, _ in came))

    assert [(80, 80, False, False), (150, 150, True, False)] == came


@pytest.mark.parametrize("direction", [+1, -1])
def test_a_step_shows_the_shrunk_frame_at_once_and_the_full_one_when_one_stays(source, qtbot, direction):
    source.ask(150)
    qtbot.waitUntil(lambda: all(source.ready(n) for n in range(145, 156)))
    came = answers_of(source)
    number = 150 + 3 * direction

    at_once = source.ask(number, direction)
    assert (number, number, True) == (made.number_in(at_once.grey()), at_once.number, at_once.reduced)
    qtbot.waitUntil(lambda: bool(came))

    assert [(number, number, True, False)] == came
    assert not source.picture(number).reduced


def test_nothing_is_made_sharp_while_one_moves_on(source, qtbot, monkeypatch):
    monkeypatch.setattr(decoder, "STILL_S", 30.0)
    source.ask(150)
    qtbot.waitUntil(lambda: source.ready(160))
    came = answers_of(source)
    for number in range(151, 159):
        assert source.ask(number, +1).number == number
        qtbot.wait(10)

    assert [] == came


def test_going_back_slowly_finds_the_frames_before_sharp_too(source, qtbot):
    source.ask(150)
    qtbot.waitUntil(lambda: all(source.ready(n) for n in range(142, 150)))
    source.ask(147, -1)
    qtbot.waitUntil(lambda: not source.picture(147).reduced)

    assert [False] * 4 == [source.picture(n).reduced for n in range(144, 148)]
    assert [144, 145, 146, 147] == [made.number_in(source.picture(n).grey()) for n in range(144, 148)]


def test_only_a_few_frames_are_held_in_full(source, qtbot):
    for number in (20, 60, 100, 140, 180, 220, 10):
        source.ask(number)
        qtbot.waitUntil(lambda n=number: source.ready(n) and not source.picture(n).reduced)

    whole = [n for n in range(240) if (found := source.picture(n)) is not None and not found.reduced]
    assert decoder.WHOLE == len(whole)
    assert 10 in whole


def test_a_source_for_small_pictures_makes_nothing_sharp(large, long_groups, qtbot):
    source = FrameSource(open_clip(long_groups.path), FrameCache(64 << 20), in_full=False)
    source.ask(150)
    qtbot.waitUntil(lambda: source.ready(155))
    came = answers_of(source)
    source.ask(152)
    qtbot.wait(round(decoder.STILL_S * 1000) + 150)

    assert [] == came
    source.stop()
    source.deleteLater()


def test_a_cache_too_small_for_a_full_frame_does_not_keep_the_thread_busy(large, long_groups, qtbot):
    cache: FrameCache[Picture] = FrameCache(15_000)  # a shrunk frame fits, a full one of 18 kB does not
    source = FrameSource(open_clip(long_groups.path), cache)
    source.ask(0)
    qtbot.waitUntil(lambda: source.ready(0))
    source.ask(0)
    qtbot.wait(round(decoder.STILL_S * 1000) + 200)
    busy = time.process_time() - time.thread_time()
    qtbot.wait(200)

    assert time.process_time() - time.thread_time() - busy < 0.1
    source.stop()
    source.deleteLater()


@pytest.fixture
def groups_on_view(large, window, long_groups, qtbot):
    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, long_groups)
    wait_shown(window, qtbot, 0)
    return window


def test_a_shrunk_frame_fills_the_place_of_the_full_one_so_that_outlines_stay_where_they_are(groups_on_view, qtbot):
    view = groups_on_view.pages["film"].cameras.current
    source = groups_on_view.pages["film"].player.source(groups_on_view.workspace.clip_id)
    qtbot.waitUntil(lambda: not view.picture.reduced)
    before = view.from_film(100, 50)

    small = source.picture(0).shrunk(64)
    view.show_picture(small)

    assert small.reduced
    assert before == view.from_film(100, 50)
    assert QPointF(100, 50) == view.to_film(before)


def test_a_frame_that_is_shown_coarser_than_it_is_drawn_says_so(groups_on_view, qtbot, monkeypatch):
    view = groups_on_view.pages["film"].cameras.current
    said: list[str] = []
    monkeypatch.setattr(view, "_badge", lambda painter, text, y: said.append(text) or y)
    whole = view.picture
    view.show_picture(whole.shrunk(64))
    view.repaint()
    view.show_picture(whole)
    view.repaint()

    assert ["the right frame, coarse; it comes sharp in a moment"] == said


def test_the_picture_on_screen_turns_sharp_by_itself(groups_on_view, qtbot):
    page = groups_on_view.pages["film"]
    page.going.to_number(100)
    wait_shown(groups_on_view, qtbot, 100)
    qtbot.waitUntil(lambda: page.player.source(groups_on_view.workspace.clip_id).ready(104))
    for _ in range(3):
        qtbot.keyClick(page, Qt.Key.Key_Right)
    wait_shown(groups_on_view, qtbot, 103)

    qtbot.waitUntil(lambda: not page.cameras.current.picture.reduced)
    assert 103 == made.number_in(page.cameras.current.picture.grey())


def test_a_key_held_down_waits_for_the_picture(groups_on_view, qtbot):
    page = groups_on_view.pages["film"]
    page.player.key_held = lambda: True
    qtbot.wait(50)
    groups_on_view.workspace.cache.clear()
    page.going.to_number(150)  # not there yet: the repeats that come now are not counted
    for _ in range(5):
        page.player.step(-1)
    assert 150 == page.player.number()

    seen: list[int] = []
    page.player.shown.connect(lambda _, picture, exact: seen.append(picture.number) if exact else None)
    wait_shown(groups_on_view, qtbot, 150)
    while page.player.number() > 120:
        page.player.step(-1)
        qtbot.wait(2)
    wait_shown(groups_on_view, qtbot, 120)

    assert list(range(150, 119, -1)) == list(dict.fromkeys(seen))  # every frame was on the screen, in order


def test_presses_of_their_own_are_all_counted_though_the_picture_is_not_there_yet(groups_on_view, qtbot):
    page = groups_on_view.pages["film"]
    groups_on_view.workspace.cache.clear()
    page.going.to_number(150)
    for _ in range(5):
        page.player.step(-1)

    assert 145 == page.player.number()
    wait_shown(groups_on_view, qtbot, 145)


def test_a_repeated_key_is_told_from_a_pressed_one(window):
    first = FocusFirst(QApplication.instance(), window)
    page = window.pages["film"]

    def key(what: QEvent.Type, repeat: bool) -> bool:
        first.eventFilter(page, QKeyEvent(what, Qt.Key.Key_Right, Qt.KeyboardModifier.NoModifier, "", repeat))
        return first.held

    assert [False, True, True, False] == [
        key(QEvent.Type.ShortcutOverride, False),
        key(QEvent.Type.ShortcutOverride, True),
        key(QEvent.Type.KeyRelease, True),
        key(QEvent.Type.KeyRelease, False),
    ]


def test_the_page_asks_the_keyboard_whether_a_key_is_held(window):
    window._focus_first.held = True
    assert window.pages["film"].player.key_held()
    window._focus_first.held = False
    assert not window.pages["film"].player.key_held()
