"""Stepping, jumping and running on the session clock."""

from __future__ import annotations

import time
from fractions import Fraction

import numpy as np
import pytest
from PySide6.QtCore import Qt

from clipmark.media.frames.reader import Reader as FrameReader
from clipmark.window.main_window import MainWindow
from tests import made
from tests.window.conftest import put_in, wait_shown
from tests.window.play.test_sound_out import MadeDevice

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


def press(window: MainWindow, qtbot, key: Qt.Key, modifier=Qt.KeyboardModifier.NoModifier) -> None:
    qtbot.keyClick(window.pages["film"], key, modifier)
    window.workspace.settle()  # a person leaves the event loop time for it


def on_screen(window: MainWindow) -> int | None:
    """The number that the pixels of the shown frame carry."""
    return made.number_in(window.pages["film"].cameras.current.picture.grey())


@pytest.mark.parametrize(
    ("key", "modifier", "expected"),
    [
        (Qt.Key.Key_Right, Qt.KeyboardModifier.NoModifier, 31),
        (Qt.Key.Key_Left, Qt.KeyboardModifier.NoModifier, 29),
        (Qt.Key.Key_Right, SHIFT, 40),
        (Qt.Key.Key_Left, SHIFT, 20),
        (Qt.Key.Key_Home, Qt.KeyboardModifier.NoModifier, 0),
        (Qt.Key.Key_End, Qt.KeyboardModifier.NoModifier, 59),
    ],
)
def test_a_key_steps_to_the_frame_it_names(on_view, qtbot, key, modifier, expected):
    on_view.pages["film"].going.to_number(30)
    wait_shown(on_view, qtbot, 30)
    press(on_view, qtbot, key, modifier)
    wait_shown(on_view, qtbot, expected)

    assert expected == on_screen(on_view)


def test_a_second_is_a_second_of_film_that_came_unevenly(on_view, film, qtbot):
    page = on_view.pages["film"]
    page.going.to_number(10)
    wait_shown(on_view, qtbot, 10)
    press(on_view, qtbot, Qt.Key.Key_Right, CTRL)

    wanted = film.pts[10] + 1000
    expected = int(np.searchsorted(film.pts, wanted, side="right")) - 1
    wait_shown(on_view, qtbot, expected)


def test_beyond_the_ends_of_the_film_the_last_frame_stays(on_view, qtbot):
    press(on_view, qtbot, Qt.Key.Key_Left)
    wait_shown(on_view, qtbot, 0)
    press(on_view, qtbot, Qt.Key.Key_End)
    press(on_view, qtbot, Qt.Key.Key_Right)
    wait_shown(on_view, qtbot, 59)


def test_the_clock_shows_the_exact_time_of_the_frame(on_view, film, qtbot):
    on_view.pages["film"].going.to_number(23)
    wait_shown(on_view, qtbot, 23)

    assert f"0:0{film.pts[23] / 1000:.3f}" == on_view.pages["film"].transport.clock.text()
    assert Fraction(film.pts[23], 1000) == on_view.workspace.place


def test_a_typed_time_goes_to_the_frame_on_screen_then(on_view, film, qtbot):
    clock = on_view.pages["film"].transport.clock
    clock.setText(f"{film.pts[41] / 1000:.3f}")
    qtbot.keyClick(clock, Qt.Key.Key_Return)

    wait_shown(on_view, qtbot, 41)


def test_a_typed_time_that_is_none_is_refused_in_words(on_view, qtbot):
    clock = on_view.pages["film"].transport.clock
    clock.setText("soon")
    qtbot.keyClick(clock, Qt.Key.Key_Return)

    assert "is not a time" in on_view.messages.text


def test_silent_film_at_real_speed_shows_every_frame_in_order(on_view, qtbot):
    page = on_view.pages["film"]
    seen: list[int] = []
    page.player.shown.connect(lambda _, picture, exact: seen.append(made.number_in(picture.grey())))
    page.player.set_speed(Fraction(1, 2))
    press(on_view, qtbot, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: bool(seen) and seen[-1] >= 15, timeout=10_000)
    page.player.pause()

    assert list(range(seen[0], seen[-1] + 1)) == seen


def test_running_stops_at_the_end_of_the_film(on_view, qtbot):
    page = on_view.pages["film"]
    page.going.to_number(52)
    wait_shown(on_view, qtbot, 52)
    page.player.set_speed(Fraction(8))
    press(on_view, qtbot, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not page.player.running, timeout=10_000)

    wait_shown(on_view, qtbot, 59)


def test_a_loop_comes_back_to_its_start(on_view, film, qtbot):
    page = on_view.pages["film"]
    seen: list[int] = []
    page.player.shown.connect(lambda _, picture, exact: seen.append(picture.number))
    page.player.set_loop((Fraction(film.pts[20], 1000), Fraction(film.pts[25], 1000)))
    page.player.play()
    qtbot.waitUntil(lambda: seen.count(20) >= 3, timeout=10_000)
    page.player.pause()

    assert {20, 21, 22, 23, 24} >= set(seen[seen.index(20) :])


def test_round_and_round_repeats_the_selected_act(on_view, film, qtbot):
    page = on_view.pages["film"]
    page.going.to_number(30)
    wait_shown(on_view, qtbot, 30)
    press(on_view, qtbot, Qt.Key.Key_C)
    press(on_view, qtbot, Qt.Key.Key_F9)

    at = Fraction(film.pts[30], 1000)
    assert (at - Fraction(1, 2), at + Fraction(1, 2)) == page.player.loop
    press(on_view, qtbot, Qt.Key.Key_F9)
    assert None is page.player.loop


def test_speeds_go_from_a_sixteenth_to_eight_times(on_view, qtbot):
    player = on_view.pages["film"].player
    for _ in range(12):
        press(on_view, qtbot, Qt.Key.Key_F6)
    assert Fraction(1, 16) == player.speed
    for _ in range(12):
        press(on_view, qtbot, Qt.Key.Key_F7)
    assert Fraction(8) == player.speed


def test_two_cameras_show_the_same_moment_of_the_session(on_view, film, tmp_path, qtbot):
    other = made.film(tmp_path / "other.mkv", [33 * n for n in range(60)])
    second = put_in(on_view.workspace, other, offset=Fraction(1, 4))
    page = on_view.pages["film"]
    qtbot.waitUntil(lambda: len(on_view.workspace._films) == 2)
    page.player.go(Fraction(1))
    qtbot.waitUntil(lambda: page.player.shown_number(second) is not None)

    first_frame = int(np.searchsorted(film.pts, 1000, side="right")) - 1
    at_first = Fraction(film.pts[first_frame], 1000)
    qtbot.waitUntil(lambda: page.player.shown_number(on_view.workspace.record.clips[0].id) == first_frame)
    second_frame = int((at_first - Fraction(1, 4)) * 1000 // 33)
    qtbot.waitUntil(lambda: page.player.shown_number(second) == second_frame)

    assert second_frame == made.number_in(page.cameras.views[1].picture.grey())


def test_a_camera_that_was_off_says_so(on_view, tmp_path, qtbot):
    other = made.film(tmp_path / "late.mkv", [33 * n for n in range(60)])
    put_in(on_view.workspace, other, offset=Fraction(1))
    page = on_view.pages["film"]
    qtbot.waitUntil(lambda: len(on_view.workspace._films) == 2)
    page.player.go(Fraction(0))
    qtbot.waitUntil(lambda: "not running" in page.cameras.views[1].told)


def test_stepping_past_the_end_goes_on_in_the_same_cameras_next_clip(on_view, film, tmp_path, qtbot):
    following = made.film(tmp_path / "next.mkv", [40 * n for n in range(20)])
    clip = on_view.workspace.clip
    end = clip.on_clock(clip.end_pts)
    second = put_in(on_view.workspace, following, offset=end)
    qtbot.waitUntil(lambda: len(on_view.workspace._films) == 2)
    page = on_view.pages["film"]
    page.going.to_number(-1)
    wait_shown(on_view, qtbot, 59)
    press(on_view, qtbot, Qt.Key.Key_Right)

    wait_shown(on_view, qtbot, 0)
    assert second == on_view.workspace.clip_id


def test_with_sound_the_picture_follows_what_was_heard(window, tmp_path, qtbot):
    tone = np.zeros(16_000 * 3, np.float32)
    film = made.film(tmp_path / "loud.mkv", [40 * n for n in range(75)], sound=tone)
    page = window.pages["film"]
    device = MadeDevice(size=8000)
    page.player.hearing.make_device = lambda: device
    put_in(window.workspace, film)
    wait_shown(window, qtbot, 0)
    page.player.play()
    qtbot.waitUntil(lambda: device.free() == 0)
    device.play(4000)  # a quarter of a second is heard, and no more
    qtbot.waitUntil(lambda: page.player.shown_number(window.workspace.clip_id) == 6, timeout=5000)
    qtbot.wait(150)

    assert 6 == page.player.shown_number(window.workspace.clip_id)
    page.player.pause()
    assert device.closed


def test_without_a_sound_output_the_film_runs_silent_and_says_so(on_view, qtbot, monkeypatch):
    monkeypatch.setattr("clipmark.window.play.hearing.can_sound", lambda: False)
    press(on_view, qtbot, Qt.Key.Key_F8, SHIFT)
    press(on_view, qtbot, Qt.Key.Key_F8, SHIFT)

    assert "no sound output" in on_view.messages.text


def test_leaving_the_page_stops_the_film_and_gives_the_threads_back(on_view, qtbot):
    page = on_view.pages["film"]
    press(on_view, qtbot, Qt.Key.Key_Space)
    on_view.show_page("after")

    assert not page.player.running
    assert {} == page.player._sources


def test_a_film_that_is_changed_while_it_is_on_view_is_lost_in_words_and_can_be_opened_again(on_view, film, qtbot):
    page, whole = on_view.pages["film"], film.path.read_bytes()
    clip = on_view.workspace.clip_id
    page.going.to_number(10)
    wait_shown(on_view, qtbot, 10)
    other = bytearray(whole)
    other[len(other) // 2] ^= 1
    film.path.write_bytes(other)
    on_view.workspace.cache.clear()
    with qtbot.waitSignal(on_view.workspace.clipLost) as lost:
        page.going.to_number(50)

    assert "it has changed since it was opened" in lost.args[1]
    assert "it has changed" in on_view.workspace.lost(clip)
    assert None is on_view.workspace.film(clip)

    film.path.write_bytes(whole)
    with qtbot.waitSignal(on_view.workspace.clipReady):
        on_view.workspace.reopen(clip)
    page.going.to_number(50)
    wait_shown(on_view, qtbot, 50)
    assert 50 == on_screen(on_view)


def run_up_to(window, qtbot, speed: Fraction, number: int) -> list[int]:
    """Frames shown, by the number in their pixels, from the place on until this one is reached."""
    page = window.pages["film"]
    seen: list[int] = []
    page.player.shown.connect(
        lambda _, picture, exact: seen.append(made.number_in(picture.grey())) if exact else None
    )
    page.player.set_speed(speed)
    page.player.play()
    qtbot.waitUntil(lambda: bool(seen) and seen[-1] >= number, timeout=20_000)
    page.player.pause()
    return seen


@pytest.fixture
def slow_on_view(window, long_groups, qtbot, monkeypatch):
    """240 frames of 40 ms, a keyframe in 80, of which each takes 60 ms to decode."""
    real = FrameReader.frame

    def slow(reader, number, passing=None):
        time.sleep(0.06)
        return real(reader, number, passing)

    with qtbot.waitSignal(window.workspace.clipReady):
        put_in(window.workspace, long_groups)
    wait_shown(window, qtbot, 0)
    window.pages["film"].player.go(Fraction(0))
    monkeypatch.setattr(FrameReader, "frame", slow)
    window.pages["film"].player._drop_all()
    window.workspace.cache.clear()
    return window


def test_faster_than_it_can_be_decoded_film_goes_on_from_keyframes(slow_on_view, qtbot):
    seen = run_up_to(slow_on_view, qtbot, Fraction(8), 160)

    assert {80, 160} <= set(seen)
    assert sorted(seen) == seen
    assert len(seen) < 100  # of 160


def test_at_real_speed_no_frame_is_passed_over_for_a_keyframe(slow_on_view, qtbot):
    slow_on_view.pages["film"].going.to_number(70)
    wait_shown(slow_on_view, qtbot, 70)
    seen = run_up_to(slow_on_view, qtbot, Fraction(1, 2), 84)

    assert list(range(71, seen[-1] + 1)) == seen


def test_a_loop_that_ends_past_the_end_of_the_film_repeats(on_view, film, qtbot):
    player = on_view.pages["film"].player
    starts = []
    player.moved.connect(lambda: starts.append(player.place) if player.place == player.loop[0] else None)
    end = film.pts[-1] * film.time_base
    player.set_loop((player._snapped(on_view.workspace.clip, end - Fraction(3, 10)), end + 1))
    player.play()
    qtbot.waitUntil(lambda: len(starts) >= 3, timeout=10_000)

    assert player.running
