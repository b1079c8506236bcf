"""Fitting the scorer: named features and yes-or-no answers in, weights out. Arrays only; files are the caller's.

A logistic regression with a pull towards the weights it starts from, by Newton's method (common practice). With few
calls the answer stays close to the parameters that the keeper already has; with many it follows the calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clipmark.errors import ClipmarkError
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.pulls import shaped

Floats = NDArray[np.float64]


class TooFewCalls(ClipmarkError):
    def __init__(self, yes: int, no: int):
        super().__init__(
            f"There are {yes} flags called as pulls and {no} called as something else; at least 10 of each are "
            "needed before the scorer can be fitted. Call more flags first."
        )
        self.yes, self.no = yes, no


def design(features: Sequence[dict[str, float]]) -> tuple[Floats, list[str]]:
    """The features of candidates as the scorer takes them, (n, k), and their names."""
    rows = [shaped(item) for item in features]
    names = list(rows[0]) if rows else []
    return np.array([[row[name] for name in names] for row in rows], float), names


def fit_weights(
    features: Sequence[dict[str, float]], pulled: Sequence[bool], start: dict[str, float] | None = None,
    strength: float = 1.0,
) -> dict[str, float]:  # fmt: skip
    """Weights of the scorer, `bias` among them.

    Args:
        features: of each candidate, as `Flag.features` holds them.
        pulled: whether it was a pull.
        start: weights that the fit is drawn to (all zero when None).
        strength: how strongly; 1 means a weight that moves the log odds by one over the feature's own spread costs
            as much as half a unit of log likelihood.
    """
    x, names = design(features)
    y = np.asarray(pulled, float)
    spread = np.maximum(x.std(axis=0), 1e-3)
    middle = x.mean(axis=0)
    z = np.column_stack([(x - middle) / spread, np.ones(len(x))])
    prior = np.zeros(z.shape[1])
    if start:
        prior[:-1] = np.array([start.get(name, 0.0) for name in names]) * spread
        prior[-1] = start.get("bias", 0.0) + float(middle @ [start.get(name, 0.0) for name in names])
    weights, hold = prior.copy(), np.full(z.shape[1], strength)
    hold[-1] = 1e-3 * strength
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(z @ weights, -30, 30)))
        slope = z.T @ (y - p) - hold * (weights - prior)
        bend = (z * (p * (1 - p))[:, None]).T @ z + np.diag(hold)
        step = np.linalg.solve(bend, slope)
        weights += step * min(1.0, 4.0 / max(float(np.abs(step).max()), 1e-12))
        if np.abs(step).max() < 1e-7:
            break
    found = {name: float(w / s) for name, w, s in zip(names, weights[:-1], spread, strict=True)}
    found["bias"] = float(weights[-1] - (weights[:-1] / spread) @ middle)
    return found


def refit(
    parameters: MotionParameters, features: Sequence[dict[str, float]], pulled: Sequence[bool], version: str
) -> MotionParameters:
    """New parameters from a keeper's own calls, drawn to the old ones; the old value is not changed.

    Raises:
        TooFewCalls: fewer than ten of either kind.
    """
    yes = int(np.count_nonzero(pulled))
    if yes < 10 or len(pulled) - yes < 10:
        raise TooFewCalls(yes, len(pulled) - yes)
    weights = fit_weights(features, pulled, parameters.weights, strength=8.0)
    old, new = log_loss(features, pulled, parameters.weights), log_loss(features, pulled, weights)
    kept = weights if new < old else dict(parameters.weights)
    return replace(parameters, version=version, weights=kept)


def log_loss(features: Sequence[dict[str, float]], pulled: Sequence[bool], weights: dict[str, float]) -> float:
    """Mean surprise of the answers under the scorer, natural logarithm; smaller is better."""
    x, names = design(features)
    total = x @ np.array([weights.get(name, 0.0) for name in names]) + weights.get("bias", 0.0)
    p = np.clip(1 / (1 + np.exp(-np.clip(total, -30, 30))), 1e-6, 1 - 1e-6)
    y = np.asarray(pulled, float)
    return float(-(y * np.log(p) + (1 - y) * np.log(1 - p)).mean())


def calibration_error(scores: Sequence[float], pulled: Sequence[bool], bins: int = 10) -> float:
    """Expected calibration error: mean distance of score and share of pulls over equal bins, weighted by count."""
    s, y = np.asarray(scores, float), np.asarray(pulled, float)
    if not len(s):
        return 0.0
    cell = np.minimum((s * bins).astype(int), bins - 1)
    gaps = [
        abs(s[cell == k].mean() - y[cell == k].mean()) * (cell == k).sum() for k in range(bins) if (cell == k).any()
    ]
    return float(np.sum(gaps) / len(s))
