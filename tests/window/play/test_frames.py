"""Frames on their way to the screen."""

from __future__ import annotations

import pytest

from clipmark.media.clip import open_clip
from clipmark.media.frames.cache import FrameCache
from clipmark.window.play.decoder import Decoder, Wish
from clipmark.window.play.frames import FrameSource
from clipmark.window.play.planning import DecodePlan, Room, plan, room
from tests import made

ROOM = Room(ahead=30, behind=10, block=50)


def start_of_80(number: int) -> int:
    return number // 80 * 80


def planned(number: int, direction: int, held: set[int], count: int = 240) -> DecodePlan | None:
    return plan(number, direction, count, ROOM, held.__contains__, start_of_80)


def test_a_jump_decodes_the_frame_and_keeps_its_neighbours_on_both_sides():
    assert DecodePlan(keep=140, stop=161) == planned(150, 0, set())


def test_a_jump_to_the_start_of_a_group_keeps_nothing_before_it():
    assert DecodePlan(keep=160, stop=171) == planned(160, 0, set())


def test_going_on_fills_the_frames_ahead_first():
    assert DecodePlan(keep=153, stop=181) == planned(150, +1, set(range(140, 153)))


def test_going_back_takes_a_block_of_the_group_that_ends_where_the_held_frames_begin():
    assert DecodePlan(keep=90, stop=140) == planned(150, -1, set(range(140, 181)))


def test_going_back_with_half_a_block_in_hand_asks_for_nothing_yet():
    assert None is planned(150, -1, set(range(120, 181)))


def test_a_block_never_reaches_beyond_its_group():
    assert DecodePlan(keep=80, stop=100) == planned(110, -1, set(range(100, 181)))


def test_nothing_is_planned_when_all_round_the_place_is_held():
    assert None is planned(150, 0, set(range(130, 200)))


def test_nothing_beyond_the_ends_of_the_film_is_planned():
    assert None is planned(239, +1, set(range(200, 240)))
    assert None is planned(0, -1, set(range(0, 60)))


@pytest.mark.parametrize("frame_bytes", [115_200, 3_110_400, 12_441_600])
def test_the_window_stays_within_nine_tenths_of_the_cache(frame_bytes: int):
    limit = 512 << 20
    for sharing in (1, 2):
        found = room(limit, frame_bytes, sharing)
        assert (found.ahead + found.behind + found.block) * frame_bytes * sharing <= 0.9 * limit


@pytest.fixture
def source(long_groups: made.Made, qtbot):
    opened = FrameSource(open_clip(long_groups.path), FrameCache(64 << 20))
    yield opened
    opened.stop()
    opened.deleteLater()


def read(picture) -> int | None:
    return made.number_in(picture.grey())


def exact_answer(source: FrameSource, qtbot, number: int, direction: int = 0):
    held = source.ask(number, direction)
    if held is not None:
        return held
    with qtbot.waitSignal(source.arrived, check_params_cb=lambda _, exact: exact, timeout=5000) as got:
        pass
    return got.args[0]


@pytest.mark.parametrize("number", [0, 79, 80, 131, 239])
def test_the_frame_that_was_asked_for_is_the_frame_that_comes(source, qtbot, number):
    picture = exact_answer(source, qtbot, number)

    assert number == read(picture)
    assert number == picture.number


def test_a_far_frame_is_preceded_by_its_keyframe_as_a_preview(source, qtbot):
    answers = []
    source.arrived.connect(lambda picture, exact: answers.append((picture.number, exact)))

    source.ask(150)
    qtbot.waitUntil(lambda: (150, True) in answers)

    assert [(80, False), (150, True)] == answers


def test_only_the_last_of_many_requests_is_answered(source, qtbot):
    answers = []
    source.arrived.connect(lambda picture, exact: answers.append(picture.number) if exact else None)

    for number in (10, 60, 110, 200, 30):
        source.ask(number)
    qtbot.waitUntil(lambda: 30 in answers)
    qtbot.wait(100)

    assert {30} == set(answers)


def test_a_frame_that_comes_in_while_it_is_asked_for_is_shown(source, qtbot, monkeypatch):
    came, keep = [], Decoder._keep

    def keep_while_asked(decoder, picture, asked):
        keep(decoder, picture, asked)
        if picture.number == 103 and source._request == 1:  # `ask` looked just before and found nothing
            source._request = 2
            decoder.wish(Wish(2, 103, 1))

    monkeypatch.setattr(Decoder, "_keep", keep_while_asked)
    source.arrived.connect(lambda picture, exact: came.append((picture.number, exact)))
    source.ask(100)
    qtbot.waitUntil(lambda: (103, True) in came, timeout=5000)


def test_neighbours_are_there_without_being_asked_for(source, qtbot):
    exact_answer(source, qtbot, 150)

    qtbot.waitUntil(lambda: all(source.ready(n) for n in range(145, 156)))

    assert 151 == read(source.ask(151, +1))
    assert 149 == read(source.ask(149, -1))


def test_stepping_back_through_the_whole_film_shows_every_frame_once_and_in_order(source, qtbot):
    seen = [read(exact_answer(source, qtbot, number, -1)) for number in range(239, -1, -1)]

    assert list(range(239, -1, -1)) == seen


def test_the_cache_never_holds_more_than_it_may(long_groups, qtbot):
    cache = FrameCache(1 << 20)
    source = FrameSource(open_clip(long_groups.path), cache)
    for number in (0, 100, 239, 50):
        exact_answer(source, qtbot, number)
    source.stop()

    assert cache.nbytes <= 1 << 20
    source.deleteLater()


def test_decoding_begins_anew_after_an_error_that_nobody_foresaw(source, qtbot, monkeypatch):
    from clipmark.media.frames.reader import Reader

    real, broken = Reader.frame, [True]

    def once(self, number, passing=None):
        if broken:
            broken.pop()
            raise MemoryError("no room to decode")
        return real(self, number, passing)

    monkeypatch.setattr(Reader, "frame", once)
    with qtbot.waitSignals([source.stumbled, source.arrived], timeout=10_000):
        source.ask(100)

    qtbot.waitUntil(lambda: source.picture(100) is not None)


def test_film_whose_decoding_breaks_off_again_and_again_is_given_up_in_words(source, qtbot, monkeypatch):
    from clipmark.media.frames.reader import Reader

    def never(self, number, passing=None):
        raise MemoryError("no room to decode")

    monkeypatch.setattr(Reader, "frame", never)
    monkeypatch.setattr("clipmark.window.play.decoder.PAUSE_S", 0.0)
    with qtbot.waitSignal(source.failed, timeout=10_000) as said:
        source.ask(100)

    assert "could not be decoded any further" in said.args[0]
    assert "clipmark.log" in said.args[0]
