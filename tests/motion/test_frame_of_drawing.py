"""It does not matter on which frame an outline was drawn: rest is found, not assumed."""

from __future__ import annotations

import numpy as np
import pytest

from clipmark.motion.result import Box
from clipmark.motion.scan import scan
from tests.motion.test_scan import MadeFilm


@pytest.mark.sweep
@pytest.mark.parametrize("off", [0.0, 0.3])
def test_twenty_frames_of_drawing_before_in_and_after_a_pull_give_the_same_flag(off: float) -> None:
    film = MadeFilm(onset=3.0, release=5.0, pull=0.12)
    draw = np.random.default_rng(4)
    told = []
    for frame in [*range(2, 72, 10), 74, 76, 78, *range(84, 124, 8), 126, 128, 132, 150, 175]:
        dx, dy, dw, dh = off * draw.uniform(-1, 1, 4)
        middle = 160 + float(film._aside[frame]) + 80 * dx, 120 + 56 * dy
        w, h = 80 * (1 + dw), 56 * (1 + dh)

        flags = scan(film, [Box(frame, middle[0] - w / 2, middle[1] - h / 2, w, h)]).flags

        told.append([flag.onset for flag in flags if flag.flagged])
    assert 20 == len(told)
    assert all([75] == pytest.approx(onsets, abs=3) for onsets in told)
