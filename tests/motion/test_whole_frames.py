"""An outline on a frame that does not decode is taken to the nearest that does."""

import numpy as np

from clipmark.motion.result import Box
from clipmark.motion.scan import scan
from clipmark.motion.whole_frames import on_whole_frames


class Torn:
    """Film of one still picture in which some frames do not decode."""

    width, height = 320, 180

    def __init__(self, count: int, lost: set[int]):
        self.times, self.lost = np.arange(count) / 25.0, lost
        self.picture = np.random.default_rng(0).integers(20, 230, (180, 320)).astype(np.uint8)

    def frames(self, start=0, stop=None):
        for number in range(start, len(self.times) if stop is None else stop):
            if number not in self.lost:
                yield number, self.picture


def test_the_nearest_whole_frame_is_taken():
    film = Torn(40, {10, 11, 12, 39})
    boxes = [Box(frame, 120, 60, 60, 40) for frame in (3, 10, 12, 39)]

    assert [3, 9, 13, 38] == [box.frame for box in on_whole_frames(film, boxes)]


def test_a_pass_over_film_whose_outlined_frame_is_damaged_watches_her():
    film = Torn(100, {10})
    result = scan(film, on_whole_frames(film, [Box(10, 120, 60, 60, 40)]))

    assert 11 in {outline.frame for outline in result.outlines}
