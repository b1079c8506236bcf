"""Where in the picture something beats, found by itself: no region is asked for.

The registered picture is divided into small cells. In short windows the grey level of each moving cell is fitted with
a rate and its double at the frames' own times (least squares, so uneven times and folded doubles are measured as they
are). Neighbouring cells are pooled: a palp that beats brings back the same picture again and again, and one rate
explains most of what moves there. Windows that agree in rate, time and place are one bout.

Source: least-squares spectra are Lomb 1976 and Scargle 1982 (from memory); pooling over cells is ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.values import Bout, Cells, Floats, folded, half_rate

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class RegionParameters:
    """Seconds, hertz, shares, grey levels; places and sizes in cells."""

    across: int = 80  # cells
    windows_s: tuple[float, ...] = (0.7, 1.1, 1.7, 2.6)
    step_s: float = 0.2
    slowest_hz: float = 2.2
    fastest_hz: float = 30.0
    least_cycles: float = 4.2  # in one window
    least_share: float = 0.62  # of the movement in a region that a rate and its double explain, beyond chance
    least_own: float = 0.35  # of that, what lies at the rate itself
    least_grey: float = 0.8  # deviation of a cell's grey level that is movement
    clear: float = 0.72  # share from which a bout needs no strong movement; a fainter one must move its cells by
    stands_out: float = 1.9  # so many grey levels more than the picture's restless cells do
    above_rest: float = 2.5  # times the usual deviation of the picture's cells
    reach: int = 2  # a region is (2 reach + 1)² cells
    same_rate: float = 0.12
    near: float = 6.0  # cells between windows of one bout
    chunk_s: float = 20.0
    overlap_s: float = 5.0


PARAMETERS = RegionParameters()


@dataclass(frozen=True, slots=True)
class Window:
    """One window in which a region beats: seconds, hertz, share explained, cell (row, column), grey levels moved."""

    start_s: float
    end_s: float
    rate_hz: float
    share: float
    row: int
    column: int
    moved: float

    @property
    def weight(self) -> float:
        """How much it says: cycles seen, by how clean they are."""
        return (self.end_s - self.start_s) * self.rate_hz * (self.share - 0.4) * min(self.moved, 10.0)


@dataclass(frozen=True, slots=True, eq=False)
class Beating:
    """A bout found in the picture, the cells that showed it, and its place (x, y, w, h) as shares of the picture."""

    bout: Bout
    cells: Cells
    place: Box


def windows_in(times: Floats, levels: NDArray[np.float32], p: RegionParameters = PARAMETERS) -> list[Window]:
    """All windows in which a region beats.

    Args:
        times: (n,) seconds; levels: (n, rows, columns) grey levels of the cells.
    """
    found: list[Window] = []
    if len(times) < 12:
        return found
    limit = half_rate(times)
    for length in p.windows_s:
        for start in np.arange(times[0], times[-1] - length + 1e-6, p.step_s):
            a, b = np.searchsorted(times, [start - 1e-6, start + length])
            if b - a >= 12:
                found += _window(times[a:b], levels[a:b], limit, length, p)
    return found


def _window(
    times: Floats, levels: NDArray[np.float32], limit: float, length: float, p: RegionParameters
) -> Iterator[Window]:
    slowest = max(p.slowest_hz, p.least_cycles / length)
    rates = np.arange(slowest, min(p.fastest_hz, 0.94 * limit), 0.18 / length)
    if not len(rates):
        return
    n, _, columns = levels.shape
    t = times - times.mean()
    trend = np.linalg.qr(np.stack([np.ones_like(t), t, t**2], axis=1))[0]
    flat = levels.reshape(n, -1)
    spread = flat.std(axis=0)
    active = spread > max(p.least_grey, p.above_rest * float(np.median(spread)))
    if active.sum() < 2:
        return
    rest = flat[:, active].astype(np.float32)
    rest -= trend @ (trend.T @ rest)
    row_of, column_of = np.divmod(np.flatnonzero(active), columns)
    top, left = int(row_of.min()), int(column_of.min())
    shape = int(row_of.max()) - top + 1, int(column_of.max()) - left + 1
    at = (row_of - top) * shape[1] + column_of - left
    energy = (rest**2).sum(axis=0)
    pooled = np.maximum(_pool(_laid(energy[None], at, shape), p.reach)[0], 1e-3)
    parts = [_explained(t, rest, trend, float(rate), length, 2 * limit) for rate in rates]
    own, full = (np.stack([part[k] for part in parts]) for k in (0, 1))
    free = (n - 3) / max(n - 3 - 5, 1)  # four columns and the rate were free
    share = 1 - (1 - _pool(_laid(full, at, shape), p.reach) / pooled) * free
    moved = np.sqrt(pooled / n) / (2 * p.reach + 1)
    best = np.where(moved >= 0.3, share.max(axis=0), 0.0)
    r = 2 * p.reach + 2
    for _ in range(8):
        clearest = int((best * (best >= p.least_share) * np.sqrt(moved)).argmax())
        row, column = divmod(clearest, best.shape[1])
        if best[row, column] < p.least_share:
            return
        best[max(0, row - r) : row + r + 1, max(0, column - r) : column + r + 1] = 0.0
        here = (np.abs(row_of - top - row) <= p.reach) & (np.abs(column_of - left - column) <= p.reach)
        mine, all_of_it = own[:, here].sum(axis=1), full[:, here].sum(axis=1)
        told = np.where(mine >= p.least_own * all_of_it, share[:, row, column], 0.0)
        k = int(np.argmax(told >= told.max() - 0.02))  # of equal ones the slowest
        if told[k] >= p.least_share:
            yield Window(
                float(times[0]), float(times[-1]), float(rates[k]), float(told[k]), row + top, column + left,
                float(moved[row, column]),
            )  # fmt: skip


def _laid(values: NDArray[np.float32], at: NDArray[np.int64], shape: tuple[int, int]) -> NDArray[np.float32]:
    """Values (k, cells) put at their places of a grid, (k, *shape)."""
    grid = np.zeros((len(values), shape[0] * shape[1]), np.float32)
    grid[:, at] = values
    return grid.reshape(-1, *shape)


def _explained(
    t: Floats, rest: NDArray[np.float32], trend: Floats, rate: float, length: float, frame_rate: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Energy of each cell at the rate alone, and at the rate and its double, left out where it folds to drift."""
    angle = 2 * np.pi * rate * t
    waves = [np.cos(angle), np.sin(angle)]
    if abs(folded(2 * rate, frame_rate)) > 1.3 / length:
        waves += [np.cos(2 * angle), np.sin(2 * angle)]
    columns = np.stack(waves, axis=1)
    columns -= trend @ (trend.T @ columns)
    basis, upper = np.linalg.qr(columns)
    basis = basis[:, np.abs(np.diag(upper)) > 1e-3].astype(np.float32)
    parts = (basis.T @ rest) ** 2
    return parts[:2].sum(axis=0), parts.sum(axis=0)


def _pool(grids: NDArray[np.float32], reach: int) -> NDArray[np.float32]:
    """Sums over (2 reach + 1)² cells, shape (k, rows, columns)."""
    _, rows, columns = grids.shape
    sums = np.zeros((len(grids), rows + 2 * reach + 1, columns + 2 * reach + 1))
    sums[:, reach + 1 : reach + 1 + rows, reach + 1 : reach + 1 + columns] = grids
    sums = sums.cumsum(axis=1).cumsum(axis=2)
    s = 2 * reach + 1
    pooled = sums[:, s:, s:] - sums[:, :-s, s:] - sums[:, s:, :-s] + sums[:, :-s, :-s]
    return pooled.astype(np.float32)
