"""Which parts of a film are decoded: keyframes first, then whole groups where it matters most, within a budget.

Costs are reckoned from sizes, not measured, so that the same film is always looked at in the same places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.values import Floats

Ints = NDArray[np.int64]

# Milliseconds of one core, measured on one machine; only their ratios matter.
_A_MEGAPIXEL, _A_KILOBYTE, _A_COMPARISON = 1.2, 0.085, 5.0
_SHRINKING, _WATCHING = 0.7, 0.5  # of a frame that is looked at: a megapixel, and whatever its size
_SHARE = 1 / 11  # of what decoding the whole film would take
_ANYWAY = 20_000.0  # milliseconds that are spent in any case on film that is not long
_LONG = 1800.0  # seconds
_A_SECOND = 5  # comparisons
_SPARSE = 6.0  # seconds of a group at least
_SHORT, _PLAIN = 3700.0, 1.0  # seconds of a film; in longer ones a sparse group must be wanted by more than this


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """
    Attributes:
        groups: (g, 2) frames [start, stop) of each group that is decoded from one keyframe.
        look_cost: (g,) milliseconds of looking at each closely.
        key_cost: milliseconds of its keyframe.
        budget: milliseconds for all of it.
        sparse: (g,) whether the group lasts so long that its keyframe says too little.
        short: whether all of the film may be decoded if need be.
    """

    groups: Ints
    look_cost: Floats
    key_cost: Floats
    budget: float
    sparse: NDArray[np.bool_]
    short: bool


def plan(times: Floats, sizes: Ints, keyframe: NDArray[np.bool_], pixels: int) -> Plan:
    """What each part of a film costs, and how much may be spent."""
    n = len(times)
    starts = np.flatnonzero(keyframe)
    if not len(starts) or starts[0] != 0:
        starts = np.r_[0, starts]
    groups = np.stack([starts, np.r_[starts[1:], n]], axis=1)
    each = _A_MEGAPIXEL * pixels / 1e6 + _A_KILOBYTE * sizes / 1e3
    total = np.r_[0.0, np.cumsum(each)]
    decode = total[groups[:, 1]] - total[groups[:, 0]]
    ends = np.r_[times, times[-1]][groups[:, 1]]
    shown = (groups[:, 1] - groups[:, 0]) * (_SHRINKING * pixels / 1e6 + _WATCHING)
    look = decode + shown + _A_COMPARISON * (_A_SECOND * (ends - times[groups[:, 0]]) + 1)
    key: Floats = (1.1 * each[starts] + 1.2 * _A_COMPARISON).astype(np.float64)
    sparse = ends - times[groups[:, 0]] > _SPARSE
    budget = _SHARE * float(total[-1])
    if times[-1] < _LONG:
        budget = max(budget, _ANYWAY)
    return Plan(groups, look, key, budget, sparse, float(times[-1]) < _SHORT)


def thinned(of: Plan) -> Ints:
    """Numbers of the groups whose keyframes are decoded: all, or every so many-th where all would take more than
    half of the budget."""
    every = 1
    while every < 8 and float(of.key_cost[::every].sum()) > 0.5 * of.budget:
        every += 1
    chosen = np.arange(0, len(of.groups), every)
    return np.unique(np.r_[chosen, len(of.groups) - 1])


def between(of: Plan, keys: Ints, changed: NDArray[np.bool_]) -> list[Ints]:
    """For intervals between thinned keyframes in which something changed, the numbers of all groups from one end to
    the other, as far as a quarter of the budget goes.

    Args:
        changed: (len(keys) - 1,)
    """
    found: list[Ints] = []
    spent = 0.0
    for place in np.flatnonzero(changed & (np.diff(keys) > 1)).tolist():
        inner = np.arange(keys[place], keys[place + 1] + 1)
        spent += float(of.key_cost[inner].sum())
        if spent > 0.25 * of.budget:
            break
        found.append(inner)
    return found


def affordable(of: Plan, wanted: Floats, spent: float) -> Ints:
    """Groups that are looked at closely, the most wanted first, as far as the budget goes; in order of time. Groups
    between keyframes that lie far apart are looked at in any case: the keyframes alone say too little of them.

    Args:
        wanted: (g,) how much each is wanted; 0 or less: not at all.
    """
    sparse = of.sparse & (wanted > (0 if of.short else _PLAIN))
    order = np.argsort(-wanted, kind="stable")
    order = order[(wanted[order] > 0) & ~sparse[order]]
    until = np.cumsum(of.look_cost[order]) <= of.budget - spent
    return np.sort(np.r_[order[until], np.flatnonzero(sparse)])
