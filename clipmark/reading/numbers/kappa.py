"""Agreement beyond chance: Cohen's kappa, plain and weighted, with its standard errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FEWEST_FOR_WORDS = 10
Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement of two reviewers who sorted the same n things.

    Attributes:
        value: 1 for full agreement, 0 for what chance gives; None where chance agreement is already full.
        observed, expected: agreement seen and by chance, 0..1 (weighted for weighted kappa).
        se: Fleiss, Cohen & Everitt 1969, for intervals; se_null: the same under no agreement, for tests.
        se_classic, se_classic_null: the older forms of Cohen 1960/1968, kept since published tables use them.
        maximum: the largest kappa that the reviewers' totals allow (plain kappa only, else None).
        low, high: 95 % limits, from `se` where the things are independent, else from a block bootstrap.
    """

    value: float | None
    observed: float
    expected: float
    n: int
    se: float | None
    se_null: float | None
    se_classic: float | None
    se_classic_null: float | None
    maximum: float | None
    low: float | None = None
    high: float | None = None

    @property
    def words(self) -> str:
        """The band of Landis & Koch 1977 [LK], edges .20, .40, ... on the unrounded value; empty below ten things, of
        which no word should be made, and where it is undefined."""
        return "" if self.value is None or self.n < FEWEST_FOR_WORDS else band(self.value)


def kappa(
    table: Sequence[Sequence[float]] | NDArray[np.generic], disagreement: Sequence[Sequence[float]] | None = None
) -> Kappa:
    """Cohen's kappa of a square table of counts.

    Args:
        table: shape (k, k), rows one reviewer, columns the other.
        disagreement: shape (k, k), 0 on the diagonal, larger for graver disagreement; None for plain kappa.
    Raises:
        ValueError: no square table, no counts in it, or weights that do not fit.
    Source: [C68]; checked against the values printed there, scikit-learn and statsmodels.
    """
    counts = np.asarray(table, float)
    k = len(counts)
    if counts.shape != (k, k) or k == 0 or counts.sum() <= 0 or (counts < 0).any():
        raise ValueError("kappa needs a square table with counts in it")
    v = 1 - np.eye(k) if disagreement is None else np.asarray(disagreement, float)
    if v.shape != counts.shape or (np.diag(v) != 0).any() or v.max(initial=0) <= 0:
        if k == 1:
            v = np.zeros((1, 1))
        else:
            raise ValueError("weights must fit the table and be zero on its diagonal")
    n = counts.sum()
    p = counts / n
    rows, columns = p.sum(1), p.sum(0)
    chance = np.outer(rows, columns)
    top = v.max() or 1.0
    w = 1 - v / top
    observed, expected = float((w * p).sum()), float((w * chance).sum())
    rest = 1 - expected
    if rest <= 1e-12:
        return Kappa(None, observed, expected, int(n), None, None, None, None, None)
    value = (observed - expected) / rest
    row_w, column_w = w @ columns, rows @ w
    both = row_w[:, None] + column_w[None, :]
    spread = float((p * (w * rest - both * (1 - observed)) ** 2).sum())
    variance = (spread - (observed * expected - 2 * expected + observed) ** 2) / (n * rest**4)
    null = (float((chance * (w - both) ** 2).sum()) - expected**2) / (n * rest**2)
    qc = float((v * chance).sum())
    classic = (float((v**2 * p).sum()) - float((v * p).sum()) ** 2) / (n * qc**2)
    classic_null = (float((v**2 * chance).sum()) - qc**2) / (n * qc**2)
    plain = disagreement is None
    maximum = (float(np.minimum(rows, columns).sum()) - expected) / rest if plain else None
    se = _root(variance)
    return Kappa(
        value=value,
        observed=observed,
        expected=expected,
        n=int(n),
        se=se,
        se_null=_root(null),
        se_classic=_root(classic),
        se_classic_null=_root(classic_null),
        maximum=maximum,
        low=max(-1.0, value - Z95 * se),
        high=min(1.0, value + Z95 * se),
    )


def value_of(counts: Floats) -> float | None:
    """Plain kappa of a square table of counts, shape (k, k), without its errors; None where it is undefined."""
    n = counts.sum()
    if n <= 0:
        return None
    expected = float(counts.sum(1) @ counts.sum(0)) / n**2
    return None if 1 - expected <= 1e-12 else (float(np.trace(counts)) / n - expected) / (1 - expected)


def _root(variance: float) -> float:
    return sqrt(max(variance, 0.0))


def band(value: float) -> str:
    """poor, slight, fair, moderate, substantial, almost perfect ([LK]); no band is good enough everywhere [BA97]."""
    if value < 0:
        return "poor"
    edges = ((0.20, "slight"), (0.40, "fair"), (0.60, "moderate"), (0.80, "substantial"))
    return next((word for edge, word in edges if value <= edge), "almost perfect")
