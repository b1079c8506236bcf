"""The registered picture as a grid of small cells, taken from a film in pieces that fit in memory."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.camera import Camera, coarse
from clipmark.motion.rhythm.values import Floats

_CUT_GREY, _CUT_SHARE = 18.0, 0.4  # grey levels, and the share of cells that change by them at a cut


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Grey levels (n, rows, columns) of the cells at the times (n,), seconds; `core`: where this piece speaks."""

    times: Floats
    levels: NDArray[np.float32]
    core: tuple[float, float]


class Grid:
    """Takes pictures one after the other and keeps each as cells, laid on the first one of its view.

    Args:
        across: cells from left to right.
        steady: False where the camera is known to stand: nothing is registered then.
    """

    def __init__(self, across: int = 80, steady: bool = True):
        self._across, self._register = across, steady
        self._camera = Camera()
        self._last: NDArray[np.float32] | None = None
        self.cut = False

    def cells(self, grey: NDArray[np.uint8]) -> NDArray[np.float16]:
        """Mean grey level of each cell, (rows, columns); `cut` tells whether a new view began with this picture."""
        import cv2

        height, width = grey.shape
        size = (self._across, max(4, round(height * self._across / width)))
        plain = cv2.resize(grey, size, interpolation=cv2.INTER_AREA).astype(np.float32)
        self.cut = self._last is not None and float((np.abs(plain - self._last) > _CUT_GREY).mean()) > _CUT_SHARE
        self._last = plain
        if not self._register:
            return plain.astype(np.float16)
        if self.cut:
            self._camera = Camera()
        small = coarse(grey)
        scene = self._camera.follow(small, width / small.shape[1])
        if abs(scene.c) < 0.08 and abs(scene.m - 1) * width < 0.15:
            return plain.astype(np.float16)
        laid = cv2.warpAffine(
            grey, scene.matrix(), (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        return np.asarray(cv2.resize(laid, size, interpolation=cv2.INTER_AREA), np.float16)


class Pieces:
    """Collects a grid while a film is read, and gives it out piece by piece, each overlapping the next.

    A piece ends where a new view begins, so that no window lies over a cut.
    """

    def __init__(self, times: Floats, across: int, chunk_s: float, overlap_s: float):
        self._times, self._grid = times, Grid(across)
        self._chunk, self._overlap = chunk_s, overlap_s
        self._numbers: list[int] = []
        self._rows: list[NDArray[np.float16]] = []
        self._begin = 0.0

    def take(self, number: int, grey: NDArray[np.uint8]) -> Iterator[Piece]:
        """The next picture; a piece where one is full."""
        cells = self._grid.cells(grey)
        now = float(self._times[number])
        if self._grid.cut and self._rows:
            yield self._piece(now)
            self._numbers, self._rows, self._begin = [], [], now
        self._numbers.append(number)
        self._rows.append(cells)
        if now - self._begin >= self._chunk + self._overlap:
            until = self._begin + self._chunk
            yield self._piece(until)
            keep = int(np.searchsorted(self._times[self._numbers], until - self._overlap))
            self._numbers, self._rows, self._begin = self._numbers[keep:], self._rows[keep:], until

    def rest(self) -> Iterator[Piece]:
        """What is left at the end."""
        if self._rows:
            yield self._piece(float(self._times[self._numbers[-1]]) + 1.0)

    def _piece(self, until: float) -> Piece:
        return Piece(self._times[self._numbers], np.stack(self._rows).astype(np.float32), (self._begin, until))
