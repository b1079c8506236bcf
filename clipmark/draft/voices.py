"""Whose strikes are heard: two animals sound unlike, so what is seen and heard tells whose is what is only heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from clipmark.motion.rhythm.values import Bout

Timbre = tuple[float, ...]

_SAME, _OTHER = 0.82, 0.72  # likeness (-1..1) from which two bouts are one animal's, and below which they are not
_AHEAD = 0.08  # by which one animal must be likelier than the other


def likeness(one: Timbre, other: Timbre) -> float:
    """How alike two bouts sound, -1..1; 0 where one was not kept."""
    if not one or len(one) != len(other):
        return 0.0
    return float(np.dot(one, other))


def whose(bout: Bout, known: Mapping[str, Sequence[Timbre]]) -> str | None:
    """Who sounds like this bout.

    Args:
        known: both animals, and for each how it sounded where it was seen as well; empty where it never was.
    Returns:
        None where nobody was seen and heard, or both sound alike.
    """
    near = {who: max(likeness(bout.timbre, one) for one in bouts) for who, bouts in known.items() if bouts}
    if not bout.timbre or not near:
        return None
    best = max(near, key=lambda who: near[who])
    if len(near) > 1:
        return best if near[best] - min(near.values()) >= _AHEAD else None
    if near[best] >= _SAME:
        return best
    return next(who for who in known if who != best) if near[best] < _OTHER else None
