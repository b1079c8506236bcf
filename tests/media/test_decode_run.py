"""What a run of decoding says of a frame that it passes over, and which frames are in doubt."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from clipmark.media.frames.decode_run import DecodeRun, Doubt
from clipmark.media.index.packets import PacketTable


def table(keyframes: list[int], corrupt: list[int], count: int = 20) -> PacketTable:
    rows = np.arange(count, dtype=np.int64)
    return PacketTable(
        rows, rows, rows, rows, rows, np.isin(rows, keyframes), np.zeros(count, bool), np.isin(rows, corrupt)
    )


def frames(*numbers: int, filled_in: tuple[int, ...] = ()) -> Any:
    """Frames as a decoder brings them out; some with parts that it filled in."""
    return ((number, SimpleNamespace(name=number, is_corrupt=number in filled_in)) for number in numbers)


def run_of(*numbers: int, filled_in: tuple[int, ...] = (), keyframes: tuple[int, ...] = (0, 10)) -> DecodeRun:
    return DecodeRun(frames(*numbers, filled_in=filled_in), np.arange(20), Doubt(table(list(keyframes), []), 0))


def test_a_frame_that_comes_out_is_found_and_those_before_it_are_passed() -> None:
    run = run_of(0, 1, 2, 3)

    found = run.find(2)

    assert found is not None
    assert (2, False) == (found[0].name, found[1])
    assert 2 == run.at


def test_a_frame_that_is_passed_over_is_not_found_and_the_next_ones_still_are() -> None:
    run = run_of(0, 1, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)

    assert run.find(2) is None
    assert [3, 4, 5, 11] == [run.find(number)[0].name for number in (3, 4, 5, 11)]  # type: ignore[index]


def test_a_frame_that_comes_a_little_late_is_found_all_the_same() -> None:
    run = run_of(0, 2, 3, 1, 4)

    assert [0, 1, 2, 3, 4] == [run.find(number)[0].name for number in range(5)]  # type: ignore[index]


def test_the_end_of_the_film_is_the_end_of_the_run() -> None:
    run = run_of(0, 1)

    assert run.find(1) is not None
    assert run.find(2) is None
    assert run.find(3) is None


def test_frames_that_lean_on_a_filled_in_one_are_damaged_until_the_next_keyframe() -> None:
    run = run_of(*range(20), filled_in=(4,))

    damaged = [number for number in range(20) if run.find(number)[1]]  # type: ignore[index]

    assert list(range(4, 10)) == damaged


def test_data_that_the_file_marks_as_damaged_make_the_group_doubtful_from_there_on() -> None:
    doubt = Doubt(table([0, 10], corrupt=[12]), 0)

    assert [12, 13, 19] == [number for number in (0, 9, 10, 11, 12, 13, 19) if doubt.about(number, False)]


def test_a_refused_packet_does_not_make_a_later_group_doubtful() -> None:
    doubt = Doubt(table([0, 10], corrupt=[]), 2)  # two more packets may be in the decoder's threads
    doubt.refused(10)  # so it was the eighth that was refused

    assert [8, 9] == [number for number in range(20) if doubt.about(number, False)]


def test_where_every_frame_stands_alone_only_the_damaged_one_is_doubtful() -> None:
    run = run_of(*range(20), filled_in=(4,), keyframes=tuple(range(20)))

    assert [4] == [number for number in range(20) if run.find(number)[1]]  # type: ignore[index]
