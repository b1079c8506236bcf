"""Which clip a camera shows at a session time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from clipmark.book.model import ClipRecord
from clipmark.review import lanes

BASE = ClipRecord(1, 1, "a.mp4", 1, "a", Fraction(0), Fraction(1, 1000), 500, 10_500, 250, 64, 48)


def clip(id: int, offset: Fraction | int, camera: str = "") -> ClipRecord:
    """Ten seconds of film at an offset on the session clock."""
    return replace(BASE, id=id, offset=Fraction(offset), camera=camera)


def ids(found) -> list[list[int]]:
    return [[c.id for c in lane] for lane in found]


def test_clips_that_follow_each_other_share_a_lane():
    assert [[1, 2]] == ids(lanes.lanes([clip(2, 10), clip(1, 0)]))


def test_clips_that_overlap_stand_side_by_side():
    assert [[1], [2]] == ids(lanes.lanes([clip(1, 0), clip(2, Fraction(99, 10))]))


def test_a_cameras_name_keeps_its_clips_together():
    found = lanes.lanes([clip(1, 0, "top"), clip(2, 5, "side"), clip(3, 12, "top"), clip(4, 15, "side")])

    assert [[1, 3], [2, 4]] == ids(found)


def test_a_clip_runs_from_its_first_frame_to_before_its_end():
    lane = (clip(1, 2),)

    assert None is lanes.at(lane, Fraction(199, 100))
    assert 1 == lanes.at(lane, Fraction(2)).id
    assert None is lanes.at(lane, Fraction(12))


def test_between_two_clips_the_nearer_edge_is_shown():
    first, second = clip(1, 0), clip(2, 20)

    assert (1, Fraction(9999, 1000)) == (lambda f: (f[0].id, f[1]))(lanes.nearest([first, second], Fraction(12)))
    assert (2, Fraction(20)) == (lambda f: (f[0].id, f[1]))(lanes.nearest([first, second], Fraction(18)))


def test_without_clips_nothing_is_near():
    assert None is lanes.nearest([], Fraction(0))
