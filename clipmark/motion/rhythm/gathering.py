"""Reads a film once and keeps the grey level of the small cells of a region."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.film import Film
from clipmark.motion.rhythm.values import Cells, Floats
from clipmark.progress import SILENT, Progress


def gather(
    film: Film, region: tuple[float, float, float, float] | None = None, progress: Progress = SILENT
) -> tuple[Cells, Cells]:
    """Read the film once: cells of the region, and coarse cells of the whole picture to compare with.

    Args:
        region: x, y, w, h in pixels of the displayed picture; None for the whole picture.
    Raises:
        ValueError: the region does not touch the picture.
    """
    gathering = Gathering(film.width, film.height, region)
    total = len(film.times)
    for number, grey in film.frames():
        gathering.take(number, grey)
        progress.advance(number + 1, total)
    return gathering.cells(film.times)


class Gathering:
    """Collects the cells of a region while a film is read for whatever purpose.

    Args:
        width, height: of the picture as displayed.
        region: x, y, w, h in pixels of that picture; None for the whole of it.
        most: cells across and down at most.
    Raises:
        ValueError: the region does not touch the picture.
    """

    def __init__(
        self,
        width: int,
        height: int,
        region: tuple[float, float, float, float] | None,
        most: tuple[int, int] = (24, 18),
    ):
        x, y, w, h = self._region = region or (0.0, 0.0, float(width), float(height))
        if min(x + w, width) - max(x, 0) < 2 or min(y + h, height) - max(y, 0) < 2:
            raise ValueError("the region lies outside the picture")
        self._width, self._most = width, most
        self._seen: list[int] = []
        self._inner: list[NDArray[np.float16]] = []
        self._outer: list[NDArray[np.float16]] = []

    def take(self, number: int, grey: NDArray[np.uint8]) -> None:
        """The next picture (h, w), of whatever size, and its number."""
        import cv2

        x, y, w, h = self._region
        s = grey.shape[1] / self._width
        left, top = max(0, int(x * s)), max(0, int(y * s))
        part = grey[top : max(top + 2, round((y + h) * s)), left : max(left + 2, round((x + w) * s))]
        across = int(np.clip(part.shape[1] // 5, 2, self._most[0]))
        down = int(np.clip(part.shape[0] // 5, 2, self._most[1]))
        self._inner.append(_shrink(cv2, part, across, down))
        self._outer.append(_shrink(cv2, grey, 8, 6))
        self._seen.append(number)

    def cells(self, times: Floats, start: int = 0, stop: int | None = None) -> tuple[Cells, Cells]:
        """Cells of the region and of the whole picture for the frames [start, stop); `times` of all frames."""
        seen = np.array(self._seen, dtype=int)
        a, b = np.searchsorted(seen, [start, len(times) if stop is None else stop])
        at = times[seen[a:b]] if b > a else np.empty(0)
        return Cells(at, _stack(self._inner[a:b])), Cells(at, _stack(self._outer[a:b]))


def _shrink(cv2: object, grey: NDArray[np.uint8], across: int, down: int) -> NDArray[np.float16]:
    small = cv2.resize(grey.astype(np.float32), (across, down), interpolation=cv2.INTER_AREA)  # type: ignore[attr-defined]
    return np.asarray(small, np.float16).ravel()


def _stack(rows: Sequence[NDArray[np.float16]]) -> NDArray[np.float32]:
    return np.stack(rows).astype(np.float32) if rows else np.empty((0, 0), np.float32)
