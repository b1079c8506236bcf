"""What is told of each view."""

from __future__ import annotations

from clipmark.motion.result import Sensitivity, UsedOutline
from clipmark.motion.views_told import found_told, smallest_told

SECONDS = [0.0, 31.0, 62.0]


def test_each_view_tells_the_smallest_pull_that_would_have_been_found() -> None:
    told = smallest_told([Sensitivity(0, 8, 0.06), Sensitivity(1, 0, None), Sensitivity(2, 5, None)], SECONDS)

    assert [
        "In the view from 0:00.0 pulls of 6 % of her abdomen's length and more are found.",
        "In the view from 1:02.0 not even large pulls are surely found.",
    ] == told


def test_an_outline_that_nobody_drew_is_to_be_checked() -> None:
    used = [UsedOutline(0, "drawn", True, 1, 1, 9, 9, 9), UsedOutline(2, "found", False, 1, 1, 9, 9, 9)]

    assert ["Her outline was found by the program in the view from 1:02.0: check it."] == found_told(used, SECONDS)
