"""In which order packets are shown, where the stored times are all there is to go by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from clipmark.media.index import order
from clipmark.media.index.order import Order, find_order
from clipmark.media.index.packets import NONE, PacketTable


@dataclass
class Frame:
    """As much of a decoded frame as is looked at."""

    dts: int | None
    planes: list[Any] = field(default_factory=list)
    width: int = 4
    height: int = 4

    def __post_init__(self) -> None:
        plane = np.full(16, (self.dts or 0) % 256, np.uint8).data
        self.planes = [_Plane(plane)]


class _Plane(bytes):
    def __new__(cls, data: memoryview) -> _Plane:
        plane = super().__new__(cls, bytes(data))
        plane.line_size = 4  # type: ignore[attr-defined]
        return plane


def table(rows: list[tuple[int, int, str]]) -> PacketTable:
    """Packets of (pts, dts, marks): k keyframe, d never shown."""
    count = len(rows)
    return PacketTable(
        pts=np.array([row[0] for row in rows], np.int64),
        dts=np.array([row[1] for row in rows], np.int64),
        position=np.arange(count, dtype=np.int64) * 100,
        size=np.full(count, 100, np.int64),
        duration=np.full(count, 40, np.int64),
        keyframe=np.array(["k" in row[2] for row in rows]),
        discard=np.array(["d" in row[2] for row in rows]),
        corrupt=np.zeros(count, bool),
    )


def order_of(packets: PacketTable, decoded: list[int]) -> Order:
    """The order found where the decoder brings out these packets."""

    def decode(failed: list[int]) -> Iterator[tuple[int, Any]]:
        return ((number, Frame(number)) for number in decoded)

    found = find_order(packets, decode, Fraction(40))
    assert found is not None
    return found


def test_frames_that_lean_forward_are_shown_in_the_order_of_their_times() -> None:
    packets = table([(0, -80, "k"), (120, -40, ""), (40, 0, ""), (80, 40, "")])

    found = order_of(packets, [0, 2, 3, 1])

    assert ([0, 2, 3, 1], [0, 40, 80, 120]) == (found.ordinal.tolist(), found.pts.tolist())
    assert [] == found.inexact


def test_what_an_edit_list_cuts_away_is_not_counted() -> None:
    packets = table([(0, 0, "kd"), (40, 40, "d"), (80, 80, ""), (120, 120, "")])

    assert [2, 3] == order_of(packets, [2, 3]).ordinal.tolist()


def test_a_film_cut_in_mid_group_begins_with_its_first_whole_frame_and_says_so() -> None:
    packets = table([(0, 0, ""), (40, 40, ""), (120, 80, "k"), (80, 120, ""), (160, 160, "")])

    found = order_of(packets, [2, 4])

    assert [2, 4] == found.ordinal.tolist()
    assert ["The film starts in the middle of a group of frames; the first 3 cannot be shown."] == found.notes


def test_a_clock_that_is_set_back_is_continued_and_called_inexact_from_there() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (80, 80, ""), (0, 0, "k"), (40, 40, "")])

    found = order_of(packets, [0, 1, 2, 3, 4])

    assert [0, 40, 80, 120, 160] == found.pts.tolist()
    assert [(3, 5)] == found.inexact
    assert "restarts at frame 3" in found.notes[0]


def test_a_film_without_times_is_counted_by_its_rate_and_called_inexact() -> None:
    packets = table([(NONE, NONE, "k"), (NONE, NONE, ""), (NONE, NONE, "")])

    found = order_of(packets, [0, 2, 1])

    assert ([0, 2, 1], [0, 40, 80]) == (found.ordinal.tolist(), found.pts.tolist())
    assert [(0, 3)] == found.inexact


def test_where_the_decoder_brings_out_another_order_it_is_believed() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (80, 80, ""), (120, 120, "")])

    found = order_of(packets, [0, 2, 3])  # one packet gives no picture at all

    assert ([0, 2, 3], [0, 80, 120]) == (found.ordinal.tolist(), found.pts.tolist())
    assert found.checks is not None


def test_a_time_that_is_missing_lies_between_its_neighbours_and_is_called_inexact() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (NONE, NONE, ""), (120, 120, "")])

    found = order_of(packets, [0, 1, 2, 3])

    assert [0, 40, 80, 120] == found.pts.tolist()
    assert [(2, 3)] == found.inexact
    assert ["1 frame states no time; it is estimated, not exact."] == found.notes


def test_nothing_decoded_is_no_film() -> None:
    assert find_order(table([(0, 0, "k")]), lambda failed: iter(()), Fraction(40)) is None


def test_duplicate_times_keep_the_order_of_the_file() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (40, 40, ""), (80, 80, "")])

    assert [0, 1, 2, 3] == order_of(packets, [0, 1, 2, 3]).ordinal.tolist()


def test_a_packet_is_known_again_by_its_place_in_the_file() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (80, 80, "")])

    assert 1 == packets.ordinal(SimpleNamespace(pos=100, size=100, pts=None, dts=None))  # type: ignore[arg-type]
    assert packets.ordinal(SimpleNamespace(pos=100, size=99, pts=40, dts=40)) is None  # type: ignore[arg-type]


def test_a_packet_without_a_place_is_known_again_by_its_times_and_size() -> None:
    packets = table([(0, 0, "k"), (40, 40, ""), (80, 80, "")])

    assert 2 == packets.ordinal(SimpleNamespace(pos=None, size=100, pts=80, dts=80))  # type: ignore[arg-type]
    assert packets.ordinal(SimpleNamespace(pos=None, size=100, pts=81, dts=80)) is None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("size", "most"), [((640, 480), 64), ((1920, 1080), 64), ((3840, 2160), 24), ((7680, 4320), 24)]
)
def test_of_large_film_fewer_frames_are_decoded_to_check_the_order(size: tuple[int, int], most: int) -> None:
    packets = table([(40 * n, 40 * n, "k" if n % 25 == 0 else "") for n in range(200)])
    asked: list[int] = []

    def decode(failed: list[int]) -> Iterator[tuple[int, Any]]:
        for number in range(200):
            asked.append(number)
            yield number, Frame(number, width=size[0], height=size[1])

    found = find_order(packets, decode, Fraction(40))

    assert found is not None
    assert most == len(asked)
    assert list(range(200)) == found.ordinal.tolist()


def test_large_film_that_comes_out_otherwise_than_its_times_say_is_learned_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(order, "_PROBE_PIXELS", 16)  # the frames of four by four pixels are large then
    packets = table([(40 * n, 40 * n, "k" if n == 0 else "") for n in range(100)])
    comes = [*range(20), 21, 20, *range(22, 100)]

    found = order_of(packets, comes)

    assert comes == found.ordinal.tolist()
    assert found.checks is not None
