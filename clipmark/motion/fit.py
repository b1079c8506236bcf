"""Fitting the scorer: named features and yes-or-no answers in, weights out. Arrays only; files are the caller's.

A logistic regression with a pull towards the weights it starts from (common practice). With few calls the answer
stays close to the parameters that the keeper already has; with many it follows the calls.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from clipmark.errors import ClipmarkError
from clipmark.motion.parameters import MotionParameters
from clipmark.motion.pulls import shaped
from clipmark.motion.validation import Stand, Validation

Floats = NDArray[np.float64]

_SHARES = (1.0, 0.85, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.12, 0.06)


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


# What each measure can sensibly say: 1 speaks for a pull, -1 against one; left out is what may say either.
SIGNS = {
    "log_size": 1, "log_ratio": 1, "log_unusual": 1, "rise": -1, "rise_long": -1, "drift_before": -1,
    "drift_after": -1, "held": 1, "away": 1, "unrest": -1, "shake": -1, "zoomed": -1, "seen": 1, "quality": 1,
    "missing": -1, "inside": 1, "left": -1, "along": -1, "along_much": -1, "still": -1, "likeness": 1, "gain": -1,
    "blur": -1, "apart": -1,
}  # fmt: skip


def fit_weights(
    features: Sequence[dict[str, float]], pulled: Sequence[bool], start: dict[str, float] | None = None,
    strength: float = 1.0, counts: Sequence[float] | None = None, signed: bool = False,
) -> dict[str, float]:  # fmt: skip
    """Weights of the scorer, `bias` among them.

    Args:
        features: of each candidate, as `Flag.features` holds them.
        pulled: whether it was a pull.
        start: weights that the fit is drawn to (all zero when None).
        strength: how strongly; 1 means a weight that moves the log odds by one over the feature's own spread costs
            as much as half a unit of log likelihood.
        counts: how often each candidate counts (once each when None).
        signed: keep every weight on the side that `SIGNS` gives it.
    """
    x, names = design(features)
    n = np.ones(len(x)) if counts is None else np.asarray(counts, float)
    return fit_design(x, names, np.asarray(pulled, float), start, strength, n, signed)


def fit_design(
    x: Floats, names: Sequence[str], y: Floats, start: dict[str, float] | None, strength: float, n: Floats,
    signed: bool,
) -> dict[str, float]:  # fmt: skip
    """`fit_weights` on what `design` gives: x (m, k), answers y (m,), counts n (m,)."""
    from scipy.optimize import minimize

    middle = (n @ x) / n.sum()
    spread = np.maximum(np.sqrt((n @ (x - middle) ** 2) / n.sum()), 1e-3)
    z = np.column_stack([(x - middle) / spread, np.ones(len(x))])
    old = np.array([(start or {}).get(name, 0.0) for name in names])
    prior = np.append(old * spread, (start or {}).get("bias", 0.0) + float(middle @ old))
    hold = np.append(np.full(len(names), strength), 1e-3 * strength)

    def cost(weights: Floats) -> tuple[float, Floats]:
        total = z @ weights
        p = 1 / (1 + np.exp(-np.clip(total, -500, 500)))
        misfit = float(n @ (np.logaddexp(0, total) - y * total))
        drawn = weights - prior
        return misfit + 0.5 * float(hold @ drawn**2), z.T @ (n * (p - y)) + hold * drawn

    sides: list[tuple[float | None, float | None]] = [(None, None)] * (len(names) + 1)
    if signed:
        sides = [_side(SIGNS.get(name, 0), at) for name, at in zip(names, prior[:-1], strict=True)] + [(None, None)]
    options = {"maxiter": 2000, "maxfun": 4000, "ftol": 1e-12, "gtol": 1e-7}
    weights = minimize(cost, prior, jac=True, method="L-BFGS-B", bounds=sides, options=options).x
    found = {name: float(w / s) for name, w, s in zip(names, weights[:-1], spread, strict=True)}
    found["bias"] = float(weights[-1] - (weights[:-1] / spread) @ middle)
    return found


def _side(sign: int, at: float) -> tuple[float | None, float | None]:
    """Bounds of a weight; one that starts on the wrong side may stay there but goes no farther."""
    return (min(0.0, at) if sign > 0 else None, max(0.0, at) if sign < 0 else None)


@dataclass(frozen=True, slots=True)
class Refit:
    """New parameters from calls, and how they came about.

    Attributes:
        parameters: what to use from now on; with the old weights where nothing better was found.
        share: how far the way from the old weights to those that the calls alone suggest was gone, 0..1.
        said: one sentence for the keeper.
        before, after: mean log loss of the calls.
        validation_before, validation_after: how both do on the validation films.
    """

    parameters: MotionParameters
    share: float
    said: str
    before: float
    after: float
    validation_before: Stand
    validation_after: Stand


def refit(
    parameters: MotionParameters, features: Sequence[dict[str, float]], pulled: Sequence[bool], version: str,
    validation: Validation,
) -> Refit:  # fmt: skip
    """New parameters from a keeper's own calls, drawn to the old ones; the old value is not changed.

    The weights that the calls suggest are taken only so far as the validation films allow: where they would be judged
    worse, the way back to the old weights is searched for the farthest point that is not.

    Raises:
        TooFewCalls: fewer than ten of either kind.
    """
    yes = int(np.count_nonzero(pulled))
    if yes < 10 or len(pulled) - yes < 10:
        raise TooFewCalls(yes, len(pulled) - yes)
    old = parameters.weights
    goal = fit_weights(features, pulled, old, strength=8.0)
    before, stood = log_loss(features, pulled, old), validation.stand(parameters)
    hindrance = ""
    for share in _SHARES:
        between = {name: (1 - share) * old.get(name, 0.0) + share * goal[name] for name in goal}
        new = replace(parameters, version=version, weights=between)
        stands = validation.stand(new)
        after = log_loss(features, pulled, between)
        worse = stands.worse_than(stood) or ("" if after < before else "your calls would be explained no better")
        if not worse:
            said = "The new weights follow your calls and do no worse on the validation films."
            if hindrance:
                said = (
                    f"The new weights go {share:.0%} of the way to what your calls suggest; farther on, {hindrance}."
                )
            return Refit(new, share, said, before, after, stood, stands)
        hindrance = worse if worse.startswith("your") else f"{worse} on the validation films"
    kept = replace(parameters, version=version)
    said = f"The old weights stay: with what your calls suggest, {hindrance}."
    return Refit(kept, 0.0, said, before, before, stood, stood)


def log_loss(features: Sequence[dict[str, float]], pulled: Sequence[bool], weights: dict[str, float]) -> float:
    """Mean log loss of the answers under the scorer, natural logarithm; smaller is better."""
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
