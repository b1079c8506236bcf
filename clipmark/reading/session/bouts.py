"""Where one bout of an act ends and the next begins, from the gaps between its occurrences (TRADE 5.4).

Two kinds of gaps are fitted, within and between bouts; the criterion is the gap at which they are equally frequent.
Where the gaps do not show two kinds, there is no criterion, and that is what is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.bouts import GapModel, bout_criterion, fit_gaps
from clipmark.reading.figure import plural
from clipmark.reading.session.occurrences import Occurrence

Floats = NDArray[np.float64]
FEWEST_GAPS = 8


@dataclass(frozen=True, slots=True)
class Criterion:
    """The outcome of looking for a bout criterion.

    Attributes:
        seconds: the criterion; None where there is none.
        why: in words, always; the reason where there is none.
        model: the two kinds of gaps, None where none were fitted.
        too_long: gaps within bouts that are longer than the criterion, as the model expects.
        too_short: gaps between bouts that are shorter.
    """

    seconds: float | None
    why: str
    model: GapModel | None = None
    too_long: float | None = None
    too_short: float | None = None


def misplaced(model: GapModel, criterion_s: float) -> tuple[float, float]:
    """Expected gaps on the wrong side of a criterion: within-bout gaps too long, between-bout gaps too short."""
    return (
        model.n_fast * exp(-model.rate_fast * criterion_s),
        model.n_slow * (1 - exp(-model.rate_slow * criterion_s)),
    )


def find_criterion(gaps_s: Sequence[float]) -> Criterion:
    """Look for a bout criterion in gaps (seconds).

    Two kinds must explain the gaps better than one, by Schwarz's criterion (three parameters against one).
    Source: Slater & Lester 1982 as used in [SI90]; formula from memory; the test against one kind is a proposal.
    """
    positive = [gap for gap in gaps_s if gap > 0]
    if len(positive) < FEWEST_GAPS:
        return Criterion(None, f"no criterion: {plural(len(positive), 'gap')}, at least {FEWEST_GAPS} are needed")
    gaps = np.asarray(positive, float)
    model = fit_gaps(gaps)
    if model is None:
        return Criterion(None, "no criterion: the gaps are all of one kind")
    if not _two_kinds(gaps, model):
        return Criterion(None, "no criterion: one kind of gap explains these gaps as well as two", model)
    found = bout_criterion(model)
    if found is None:
        return Criterion(None, "no criterion: gaps within bouts are not the shorter and more frequent ones", model)
    long, short = misplaced(model, found)
    why = f"gaps up to {found:.2f} s belong to one bout (about {long + short:.1f} of {len(gaps)} gaps misplaced)"
    return Criterion(found, why, model, long, short)


def _two_kinds(gaps: Floats, model: GapModel) -> bool:
    n = len(gaps)
    share = model.n_fast / (model.n_fast + model.n_slow)
    fast = share * model.rate_fast * np.exp(-model.rate_fast * gaps)
    slow = (1 - share) * model.rate_slow * np.exp(-model.rate_slow * gaps)
    two = float(np.log(np.maximum(fast + slow, 1e-300)).sum())
    one = n * (log(1 / gaps.mean()) - 1)
    return 2 * (two - one) > 2 * log(n)


def into_bouts(group: Sequence[Occurrence], criterion_s: float) -> list[tuple[Occurrence, ...]]:
    """Occurrences of one act, sorted, put together where the gap from end to start is at most the criterion."""
    bouts: list[list[Occurrence]] = []
    for occurrence in group:
        if bouts and float(occurrence.start - bouts[-1][-1].span.end) <= criterion_s:
            bouts[-1].append(occurrence)
        else:
            bouts.append([occurrence])
    return [tuple(bout) for bout in bouts]
