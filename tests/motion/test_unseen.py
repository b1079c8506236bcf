"""What following did not see is never silent, and a view without an outline is followed where she is surely found."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from clipmark.motion.result import ScanResult
from clipmark.motion.scan import scan
from clipmark.motion.watch import Watch
from tests.motion.test_scan import BOX, MadeFilm


def blind(monkeypatch: pytest.MonkeyPatch) -> ScanResult:
    """The pass over a clear pull of which following sees nothing."""
    monkeypatch.setattr(Watch, "found", property(lambda _: [], lambda *_: None))
    return scan(MadeFilm(onset=3.0, release=9.0, pull=0.12), [BOX])


def test_a_held_change_that_following_did_not_see_is_listed_with_the_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    (weak,) = blind(monkeypatch).flags

    assert not weak.flagged
    assert 75 == pytest.approx(weak.onset, abs=8)
    assert 0.12 == pytest.approx(weak.pull, rel=0.3)
    assert ("seen only in the pictures before and after, not by following her",) == weak.doubts


def test_a_pull_that_following_saw_is_not_listed_a_second_time() -> None:
    result = scan(MadeFilm(onset=3.0, release=9.0, pull=0.12), [BOX])

    assert [75] == pytest.approx([one.onset for one in result.flags], abs=3)


class Cut(MadeFilm):
    """From frame 100 on another view: other ground, and the same abdomen elsewhere (or not at all)."""

    def __init__(self, there: bool) -> None:
        super().__init__(onset=6.0, release=9.0, pull=0.12)
        self._there = there
        self._other = MadeFilm._texture(np.random.default_rng(8), (240, 320), 150, 25)

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        first = self._ground
        for i in range(len(self.times))[start:stop]:
            self._ground = first if i < 100 else self._other
            ((_, picture),) = super().frames(i, i + 1)
            self._ground = first
            if i >= 100 and not self._there:
                picture = np.clip(self._other + self._noise[i % 4], 0, 255).astype(np.uint8)
            yield i, np.roll(picture, (40, 60), (0, 1)) if i >= 100 else picture


def test_after_a_cut_she_is_found_again_and_her_pull_there_too() -> None:
    result = scan(Cut(there=True), [BOX])

    drawn, found = result.outlines
    assert ("drawn", "found") == (drawn.source, found.source)
    assert (180, 132) == pytest.approx((found.x, found.y), abs=6)
    assert [150] == pytest.approx([one.onset for one in result.flags if one.flagged], abs=3)


def test_after_a_cut_to_a_view_without_her_nothing_is_watched() -> None:
    result = scan(Cut(there=False), [BOX])

    assert ["drawn"] == [one.source for one in result.outlines]
    assert any(span.start <= 100 and span.end >= 195 for span in result.unwatched)
