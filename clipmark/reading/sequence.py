"""What followed what: counts from each act to the next, against what the acts' frequencies alone would give.

Repeats of one act count as one stay in it, so an act cannot follow itself: those cells are structurally empty and the
expected counts are fitted to the others. Sessions are never glued together: no transition runs from the last act of
one session to the first of the next, and the test across sessions shuffles the order within each of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clipmark.reading import roles
from clipmark.reading.session.occurrences import Occurrence

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
_AT_ONCE = 2_000  # acts whose order is shuffled in one go: some 50 MB at 999 shuffles


@dataclass(frozen=True, slots=True, eq=False)
class Transitions:
    """A table of transitions; rows are what came first, columns what followed. Arrays of shape (k, k).

    Attributes:
        codes: the acts, in order of first appearance.
        counts: how often the column followed the row.
        share: counts by row sum; NaN in a row with no successor.
        expected: under independence of before and after, fitted round the empty cells.
        residual: adjusted residuals, about standard normal under independence; NaN where there is none.
        possible: False in structurally empty cells.
        chi2, g, df, p: Pearson's and likelihood-ratio statistic against `expected`; None where df is 0.
    """

    codes: tuple[str, ...]
    counts: Counts
    share: Floats
    expected: Floats
    residual: Floats
    possible: NDArray[np.bool_]
    chi2: float | None
    g: float | None
    df: int
    p: float | None

    @property
    def n(self) -> int:
        """Transitions in all."""
        return int(self.counts.sum())


def acts_in_order(happened: Iterable[Occurrence]) -> list[str]:
    """The acts of a session in the order in which they began, the keeper's own and out-of-view left out."""
    return [o.act for o in sorted(happened, key=lambda o: o.start) if o.act not in roles.NO_BEHAVIOUR]


def transitions(sequences: Sequence[Sequence[str]], repeats: bool = False) -> Transitions:
    """Count what followed what in one or more sessions.

    Args:
        sequences: the acts of each session in order.
        repeats: True where an act following itself is a transition too.
    """
    codes = tuple(dict.fromkeys(code for sequence in sequences for code in sequence))
    place = {code: i for i, code in enumerate(codes)}
    counts = np.zeros((len(codes), len(codes)), np.int64)
    for sequence in sequences:
        for before, after in pairwise(sequence):
            if repeats or before != after:
                counts[place[before], place[after]] += 1
    possible = np.ones_like(counts, bool) if repeats else ~np.eye(len(codes), dtype=bool)
    return against_independence(codes, counts, possible)


def against_independence(
    codes: Sequence[str], counts: NDArray[np.generic], possible: NDArray[np.bool_]
) -> Transitions:
    """A table of counts with its expected values, residuals and tests.

    Source: quasi-independence by iterative proportional scaling (Goodman 1968, citation seen only in a stored page);
    adjusted residuals as of Haberman (from memory), with the leverages of the log-linear model, which for full tables
    give TRADE 5.3's formula.
    """
    table = np.where(possible, np.asarray(counts), 0).astype(np.int64)
    rows = table.sum(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(rows[:, None] > 0, table / rows[:, None], np.nan)
    expected = scale_to_margins(table.astype(float), possible)
    residual, rank = _adjusted(table.astype(float), expected)
    live = expected > 1e-12
    df = int(live.sum()) - rank
    chi2 = g = p = None
    if df > 0:
        seen = live & (table > 0)
        chi2 = float(((table - expected)[live] ** 2 / expected[live]).sum())
        g = float(2 * (table[seen] * np.log(table[seen] / expected[seen])).sum())
        from scipy.special import chdtrc

        p = float(chdtrc(df, chi2))
    return Transitions(tuple(codes), table, share, expected, residual, possible, chi2, g, max(df, 0), p)


def scale_to_margins(table: Floats, possible: NDArray[np.bool_], rounds: int = 5000) -> Floats:
    """Expected counts with the table's row and column sums, zero where not possible; shape (k, k).

    Iterative proportional scaling until no margin is off by more than a billionth of the total.
    """
    rows, columns = table.sum(1), table.sum(0)
    fitted = np.where(possible & (rows[:, None] > 0) & (columns[None, :] > 0), 1.0, 0.0)
    for _ in range(rounds):
        for axis, wanted in ((1, rows), (0, columns)):
            sums = fitted.sum(axis, keepdims=True)
            factor = np.divide(np.expand_dims(wanted, axis), sums, out=np.zeros_like(sums), where=sums > 0)
            fitted = fitted * factor
        if np.abs(fitted.sum(1) - rows).max(initial=0) <= 1e-9 * max(table.sum(), 1):
            break
    return fitted


def _adjusted(table: Floats, expected: Floats) -> tuple[Floats, int]:
    """Adjusted residuals, and the rank of the log-linear model of rows and columns on the cells that live."""
    k = len(table)
    residual = np.full((k, k), np.nan)
    row, column = np.nonzero(expected > 1e-12)
    if not len(row):
        return residual, 0
    e = expected[row, column]
    design = np.zeros((len(row), 2 * k))
    design[np.arange(len(row)), row] = 1
    design[np.arange(len(row)), k + column] = 1
    weighted = design * np.sqrt(e)[:, None]
    u, s, _ = np.linalg.svd(weighted, full_matrices=False)
    basis = u[:, s > 1e-9 * s.max()]
    room = 1 - (basis**2).sum(1)
    free = room > 1e-9
    values = np.full(len(row), np.nan)
    values[free] = (table[row, column] - e)[free] / np.sqrt(e[free] * room[free])
    residual[row, column] = values
    return residual, basis.shape[1]


@dataclass(frozen=True, slots=True, eq=False)
class ShuffleTest:
    """Transitions of several sessions against shuffles of the order within each. Arrays of shape (k, k).

    Attributes:
        counts: as seen, over all sessions.
        mean, sd: over the shuffles.
        z: (counts - mean) / sd, NaN where no shuffle varies.
        p_cell: two-sided for each cell, held against the largest |z| of each shuffle, so that picking the most
            striking of many cells is paid for.
        p: of the whole table.
        sessions, draws: how many.
    """

    codes: tuple[str, ...]
    counts: Counts
    mean: Floats
    sd: Floats
    z: Floats
    p_cell: Floats
    p: float
    sessions: int
    draws: int


def shuffle_within_sessions(
    sequences: Sequence[Sequence[str]], draws: int = 999, seed: int = 0
) -> ShuffleTest | None:
    """Does what follows depend on what came before? Order shuffled within each session (TRADE 5.3, a proposal).

    Self-transitions are not counted, neither as seen nor shuffled. None where there are no transitions at all.
    The same seed gives the same answer.
    """
    codes = tuple(dict.fromkeys(code for sequence in sequences for code in sequence))
    place = {code: i for i, code in enumerate(codes)}
    k = len(codes)
    usable = [np.array([place[c] for c in sequence]) for sequence in sequences if len(sequence) > 1]
    random = np.random.default_rng(seed)
    seen = np.zeros(k * k)
    shuffled = np.zeros((draws, k * k))
    for acts in usable:
        seen += _pairs(acts[None, None, :], k)[0]
    for alike in _of_one_length(usable):
        shuffled += _pairs(random.permuted(np.repeat(alike[:, None, :], draws, axis=1), axis=2), k)
    if not seen.any():
        return None
    mean, sd = shuffled.mean(0), shuffled.std(0)
    live = sd > 0
    z = np.full(k * k, np.nan)
    z[live] = (seen - mean)[live] / sd[live]
    largest = (np.abs(shuffled - mean)[:, live] / sd[live]).max(1) if live.any() else np.zeros(draws)
    p_cell = np.full(k * k, np.nan)
    p_cell[live] = (1 + (largest[:, None] >= np.abs(z[live])[None, :] - 1e-12).sum(0)) / (draws + 1)
    whole = ((seen - mean)[live] ** 2 / mean[live]).sum()
    each = ((shuffled - mean)[:, live] ** 2 / mean[live]).sum(1)
    p = (1 + int((each >= whole - 1e-9).sum())) / (draws + 1)
    shape = (k, k)
    return ShuffleTest(
        codes, seen.reshape(shape).astype(np.int64), mean.reshape(shape), sd.reshape(shape), z.reshape(shape),
        p_cell.reshape(shape), float(p), len(usable), draws,
    )  # fmt: skip


def _of_one_length(usable: Sequence[NDArray[np.int64]]) -> Iterator[NDArray[np.int64]]:
    """Sessions with equally many acts as arrays (sessions, acts), a few thousand acts at a time: one shuffle of many
    sessions costs little more than of one."""
    lengths: dict[int, list[NDArray[np.int64]]] = {}
    for acts in usable:
        lengths.setdefault(len(acts), []).append(acts)
    for length, group in lengths.items():
        many = max(1, _AT_ONCE // length)
        for start in range(0, len(group), many):
            yield np.stack(group[start : start + many])


def _pairs(acts: NDArray[np.int64], k: int) -> Floats:
    """Counts of (before, after) with before != after, added up over sessions; acts of shape (sessions, draws, n),
    result (draws, k * k)."""
    draws = acts.shape[1]
    before, after = acts[..., :-1], acts[..., 1:]
    cell = np.where(before != after, before * k + after, k * k)
    cell = cell + np.arange(draws)[None, :, None] * (k * k + 1)
    return np.bincount(cell.ravel(), minlength=draws * (k * k + 1)).reshape(draws, -1)[:, : k * k].astype(float)
