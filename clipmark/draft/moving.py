"""What moves in the registered picture, moment by moment: blobs of cells that changed within a fifth of a second."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.grid import Piece

_APART_S, _STEP_S = 0.2, 0.1  # the two pictures that are compared, and how often
_GREY, _TIMES = 3.0, 4.0  # least change in grey levels, and times the usual change of the cell
_JOIN = 2  # cells between parts of one blob
_WHOLE = 0.55  # of the picture: light or camera, no animal
_STRIP = 0.03  # of the picture's width or height
LARGE = 0.03  # of the picture: a hand, where it reaches in from the edge


@dataclass(frozen=True, slots=True)
class Blob:
    """Cells that changed together: box x0, y0, x1, y1 as shares of the picture, and share of the picture covered."""

    x0: float
    y0: float
    x1: float
    y1: float
    area: float

    @property
    def edge(self) -> bool:
        """Whether it reaches the edge of the picture."""
        return self.x0 <= 0.02 or self.y0 <= 0.03 or self.x1 >= 0.98 or self.y1 >= 0.97

    @property
    def sliver(self) -> bool:
        """Whether it is a strip along the edge: where a moving camera shows what it did not show before."""
        thin = min(self.x1 - self.x0, self.y1 - self.y0) <= _STRIP
        return thin and self.edge

    @property
    def hand(self) -> bool:
        """Whether it is as large as a hand and comes from the edge."""
        return self.area >= LARGE and self.edge


@dataclass(frozen=True, slots=True)
class Instant:
    """All that moves at `time_s`; `lost` where light or camera changed the whole picture."""

    time_s: float
    blobs: tuple[Blob, ...]
    lost: bool = False


def instants(piece: Piece) -> Iterator[Instant]:
    """What moves within one piece, in order of time, in its core only."""
    times, levels = piece.times, piece.levels
    if len(times) < 8:
        return
    gap = max(1, round(_APART_S / max(float(np.median(np.diff(times))), 1e-3)))
    step = max(1, round(gap * _STEP_S / _APART_S))
    chosen = np.arange(gap, len(times), step)
    change = np.abs(levels[chosen] - levels[chosen - gap])
    usual = np.median(change, axis=0)
    for k, row in enumerate(chosen.tolist()):
        if not piece.core[0] <= times[row] < piece.core[1]:
            continue
        rest = float(np.median(change[k]))
        moved = change[k] > np.maximum(_GREY + 2.5 * rest, _TIMES * usual)
        if moved.mean() > _WHOLE:
            yield Instant(float(times[row]), (), True)
        else:
            yield Instant(float(times[row]), tuple(_blobs(moved)))


def _blobs(moved: NDArray[np.bool_]) -> list[Blob]:
    import cv2

    rows, columns = moved.shape
    mask = moved.astype(np.uint8)
    wide = cv2.dilate(mask, np.ones((2 * _JOIN + 1, 2 * _JOIN + 1), np.uint8))
    count, labels = cv2.connectedComponents(wide, connectivity=8)
    found = []
    for k in range(1, count):
        y, x = np.nonzero((labels == k) & moved)
        if len(x) < 3:
            continue
        left, top, right, bottom = int(x.min()), int(y.min()), int(x.max()) + 1, int(y.max()) + 1
        blob = Blob(left / columns, top / rows, right / columns, bottom / rows, len(x) / moved.size)
        if not blob.sliver:
            found.append(blob)
    return found
