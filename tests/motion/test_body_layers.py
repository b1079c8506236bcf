"""A pull is her abdomen's alone; where her whole body went along, it is none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest

from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.motion.flag_texts import doubts
from clipmark.motion.layers import hers_alone
from clipmark.motion.result import Box
from clipmark.motion.scan import film_width, scan
from tests.motion.test_scan import BOX, MadeFilm

SAMPLE = Path(__file__).resolve().parents[2] / "sample_media"


class Lurching(MadeFilm):
    """Her abdomen is drawn at 2 s and let go at 3 s; at 5 s she lurches and stays, carapace and all."""

    def __init__(self, alone: bool) -> None:
        super().__init__(onset=2.0, release=3.0, pull=0.08)
        y, x = np.mgrid[0:240, 0:320]
        self._carapace = (((x - 228) / 30) ** 2 + ((y - 120) / 26) ** 2 < 1).astype(np.float32)
        self._forward = 5.0 * np.clip((self.times - 5.0) / 0.2, 0, 1)
        self._aside = self._aside + self._forward
        self._alone = alone

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        for i, picture in super().frames(start, stop):
            way = np.float64([[1, 0, 0.0 if self._alone else self._forward[i]], [0, 1, 0]])
            inside, skin = (cv2.warpAffine(one, way, (320, 240)) for one in (self._carapace, self._skin))
            yield i, np.clip(picture * (1 - inside) + (skin + self._noise[i % 4]) * inside, 0, 255).astype(np.uint8)


def test_a_lurch_of_the_whole_animal_is_not_flagged_and_the_reason_is_told() -> None:
    result = scan(Lurching(alone=False), [BOX])

    assert [50] == pytest.approx([one.onset for one in result.flags if one.flagged], abs=3)
    (lurch,) = (one for one in result.flags if abs(one.onset - 125) <= 3)
    assert "her whole body moved along" in lurch.doubts


def test_the_same_motion_of_her_abdomen_alone_is_flagged() -> None:
    result = scan(Lurching(alone=True), [BOX])

    assert [50, 125] == pytest.approx([one.onset for one in result.flags if one.flagged], abs=3)
    assert all("her whole body moved along" not in one.doubts for one in result.flags)


@pytest.mark.parametrize("one", ["beyond", "along"])
def test_one_witness_alone_takes_nothing_from_a_score(one: str) -> None:
    assert 1.0 == hers_alone({one: 1.0})
    assert "her whole body moved along" not in doubts({one: 1.0})


@pytest.mark.sweep
@pytest.mark.parametrize(
    ("at", "box"),
    [(0.0, (84, 141, 84, 67)), (4.2, (90, 130, 90, 72)), (0.0, (104, 158, 70, 50)), (8.0, (70, 128, 110, 80)),
     (15.0, (100, 140, 62, 72)), (20.0, (76, 160, 100, 48)), (0.0, (134, 134, 55, 68)), (0.0, (110, 149, 102, 37)),
     (0.0, (134, 181, 55, 37)), (12.0, (131, 133, 55, 67)), (30.0, (54, 110, 146, 97)), (30.0, (122, 155, 146, 97))],
)  # fmt: skip
def test_rough_boxes_find_all_pulls_of_the_sample_session_in_both_views_and_not_the_lurch(
    at: float, box: tuple[float, ...]
) -> None:
    clip = open_clip(SAMPLE / "pairing.mp4")
    drawn = Box(round(at * 25), *box)
    film = GreyFilm(clip, film_width(clip.width, clip.height, [drawn]))
    pulls = json.loads((SAMPLE / "pairing.truth.json").read_text())["pulls"]

    result = scan(film, [drawn])

    flagged = [float(film.times[one.onset]) for one in result.flags if one.flagged]
    due = [pull["onset_s"] for pull in pulls]
    assert due == pytest.approx(flagged, abs=0.2)
