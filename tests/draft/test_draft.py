"""From what moves and what beats to proposals: instants and bouts written by hand."""

from __future__ import annotations

import numpy as np
import pytest

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import Actor
from clipmark.draft import values as v
from clipmark.draft.make import Sources, draft
from clipmark.draft.moving import Blob, Instant, instants
from clipmark.draft.things import follow, hands
from clipmark.motion.result import Box, Cause, FrameSpan, ScanResult, Trace
from clipmark.motion.rhythm.grid import Piece
from clipmark.motion.rhythm.values import Bout

SIZE = (640, 360)
HERS = Box(0, 60, 150, 60, 60)  # her abdomen at the left


def _blob(x: float, y: float = 0.5, w: float = 0.14, h: float = 0.25, area: float = 0.02) -> Blob:
    return Blob(x - w / 2, y - h / 2, x + w / 2, y + h / 2, area)


def story() -> list[Instant]:
    """A hand at 1 to 3 s; he walks from .8 to .6 (5 to 7 s), to .42 (10 to 12 s), runs back to .8 (20 to 20.6 s); she
    steps at 28 s; a hand at 32 s."""
    way = [(0, 0.8), (5, 0.8), (7, 0.6), (10, 0.6), (12, 0.42), (20, 0.42), (20.6, 0.8), (40, 0.8)]
    seen = []
    for t in np.arange(0, 35, 0.1):
        blobs = []
        if 1 <= t < 3 or 32 <= t < 34:
            blobs.append(Blob(0.7, 0.0, 0.95, 0.6, 0.09))
        x, before = (float(np.interp(s, *zip(*way, strict=True))) for s in (t, t - 0.2))
        if t > 4 and abs(x - before) > 1e-6:
            blobs.append(_blob((x + before) / 2, w=0.14 + abs(x - before)))
        if 28 <= t < 29:
            blobs.append(_blob(0.12))
        seen.append(Instant(float(t), tuple(blobs)))
    return seen


def sources(
    boxes: tuple[Box, ...] = (HERS,), pictured: tuple[Bout, ...] = (), heard: tuple[Bout, ...] = ()
) -> Sources:
    return Sources(story(), pictured, heard, boxes, None, np.arange(0, 35, 0.04), SIZE)


def test_acts_and_actors_are_those_of_the_book():
    assert set(v.ACTS) <= {act.code for act in BUILT_IN}
    assert {v.HIM, v.HER, v.BOTH, v.KEEPER, v.NOBODY} == {actor.value for actor in Actor}


def test_a_pairing_from_hand_to_hand_is_proposed_in_its_order():
    found = draft(sources())

    told = [(one.act, one.actor) for one in found]
    assert told.index((v.INTRODUCED, v.KEEPER)) < told.index((v.SEARCHING, v.HIM)) < told.index((v.CONTACT, v.BOTH))
    assert told.index((v.CONTACT, v.BOTH)) < told.index((v.BOLTING, v.HIM)) < told.index((v.SEPARATED, v.KEEPER))
    by_act = {one.act: one for one in found}
    assert 20.0 == pytest.approx(by_act[v.BOLTING].start_s, abs=0.5)
    assert 20.0 == pytest.approx(by_act[v.RELEASE].start_s, abs=0.5)
    assert (20.0, 28.0) == pytest.approx((by_act[v.STILLNESS].start_s, by_act[v.STILLNESS].end_s), abs=0.6)
    assert by_act[v.CONTACT].end_s is None
    assert all(0 < one.probability <= 1 and one.because for one in found)


def test_the_place_tells_who_drums_and_picture_and_sound_are_one_bout():
    seen = (
        Bout("picture", 8.0, 9.0, 6.0, 0.8, place=(0.58, 0.5, 0.05, 0.05)),
        Bout("picture", 9.2, 9.9, 7.0, 0.8, place=(0.12, 0.5, 0.05, 0.05)),
    )
    heard = (Bout("sound", 8.0, 9.0, 12.0, 0.9, 12), Bout("sound", 30.0, 31.0, 5.0, 0.9, 6))

    found = [one for one in draft(sources(pictured=seen, heard=heard)) if one.act in (v.DRUMMING, v.ANSWERING)]

    assert [("him", 8.0), ("her", 9.2), ("him", 30.0)] == [(one.actor, one.start_s) for one in found]
    assert "Seen and heard" in found[0].because
    assert "a guess" in found[2].because
    assert found[0].probability > found[2].probability


def test_the_sound_tells_who_struck_where_nothing_is_seen():
    his, hers = (0.6, -0.8), (-0.6, 0.8)
    seen = (Bout("picture", 8.0, 9.0, 6.0, 0.8, place=(0.58, 0.5, 0.05, 0.05)),)
    heard = (
        Bout("sound", 8.0, 9.0, 6.0, 0.9, 6, timbre=his),
        Bout("sound", 9.2, 9.9, 7.0, 0.9, 6, timbre=hers),
        Bout("sound", 13.0, 14.0, 7.0, 0.9, 6, timbre=his),
    )

    found = [one for one in draft(sources(pictured=seen, heard=heard)) if one.start_s in (9.2, 13.0)]

    assert [v.ANSWERING, v.PADDLING] == [one.act for one in found]
    assert "sounds" in found[0].because


def test_legs_that_beat_are_no_walk_of_his():
    beats = (Bout("picture", 5.0, 7.0, 6.0, 0.9, place=(0.7, 0.5, 0.05, 0.05)),)

    walked = [one.start_s for one in draft(sources()) if one.act == v.SEARCHING]
    beaten = [one.start_s for one in draft(sources(pictured=beats)) if one.act == v.SEARCHING]

    assert len(walked) >= len(beaten)


def test_what_beats_while_they_touch_is_not_called_drumming():
    seen = (Bout("picture", 15.0, 16.0, 6.0, 0.8, place=(0.3, 0.5, 0.05, 0.05)),)

    found = [one for one in draft(sources(pictured=seen)) if one.start_s == 15.0]

    assert [v.PADDLING] == [one.act for one in found]


def test_without_outlines_who_is_who_is_a_guess_with_less_probability():
    outlined = {one.act: one.probability for one in draft(sources())}
    found = {one.act: one.probability for one in draft(sources(boxes=()))}

    assert found[v.SEARCHING] < outlined[v.SEARCHING]


def test_a_hand_founds_no_animal():
    seen = story()

    assert 2 == len(hands(seen))
    assert all(thing.times and thing.box[1] > 0.2 for thing in follow(seen, (), hands(seen)))


def test_an_animal_that_walks_to_the_edge_is_no_hand():
    def blob(x1: float, area: float) -> Blob:
        return Blob(0.6, 0.3, x1, 0.7, area)

    walk = [Instant(5 + k / 10, (blob(0.9, 0.02),)) for k in range(3)]
    walk += [Instant(5.3 + k / 10, (blob(0.99, 0.06),)) for k in range(12)]

    assert [] == hands(walk)
    assert 1 == len(hands(walk[3:]))


def test_a_strip_along_the_edge_is_the_camera_and_no_animal():
    assert Blob(0.2, 0.0, 0.6, 0.02, 0.005).sliver
    assert not Blob(0.2, 0.0, 0.6, 0.2, 0.05).sliver


@pytest.mark.parametrize(("cause", "told"), [(Cause.COVERED, 1), (Cause.OUTSIDE, 1), (Cause.FAINT, 0)])
def test_she_is_out_of_view_where_the_pass_saw_her_covered_or_outside_for_long(cause, told):
    trace = Trace(**{name: np.full(875, np.nan) for name in Trace.__dataclass_fields__})
    spans = (FrameSpan(250, 500, "why", cause), FrameSpan(600, 625, "why", cause))
    result = ScanResult((), trace, (), (), spans, "pulls-2", 1.0)

    found = draft(Sources(story(), (), (), (HERS,), result, np.arange(0, 35, 0.04), SIZE))

    assert [(10.0, 20.0)] * told == [(p.start_s, p.end_s) for p in found if p.act == v.OUT_OF_VIEW]


def test_nothing_is_proposed_where_nothing_moves_and_a_step_of_the_light_is_no_motion():
    rng = np.random.default_rng(1)
    times = np.arange(0, 8, 0.04)
    levels = np.broadcast_to(rng.uniform(50, 150, (45, 80)), (200, 45, 80)) + rng.normal(0, 0.4, (200, 45, 80))
    levels[100:] += 30  # the lamp

    seen = list(instants(Piece(times, levels.astype(np.float32), (0.0, 9.0))))

    assert [] == [instant for instant in seen if instant.blobs]
    assert [] == draft(Sources(seen, (), (), (), None, times, SIZE))
