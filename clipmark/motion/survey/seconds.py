"""From pairs of pictures to seconds in which something moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.change import Change, change
from clipmark.motion.survey.look import Look
from clipmark.motion.survey.regions import Region, Seen, see
from clipmark.motion.survey.stirring import Second, stirred
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Grey

_A_SECOND = 5  # pictures that are compared with the first one of each second


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """The pictures of one second (or two keyframes), and what they show together.

    Attributes:
        start_s, end_s: when the first and the last were taken.
        change: between those two of them that differ most by the camera's motion and focus.
        held: regions that moved and are sure.
    """

    start_s: float
    end_s: float
    change: Change
    seen: Seen
    held: tuple[Region, ...]


class CloseLook:
    """Takes the pictures of one run of frames and compares those of each second with its first."""

    def __init__(self, times: Floats, keyframe: NDArray[np.bool_]):
        self._times, self._keyframe = times, keyframe
        rate = len(times) / max(float(times[-1]), 1e-3) if len(times) > 1 else 1.0
        self.every = max(1, round(rate / _A_SECOND))
        self.seconds: list[Second] = []

    def take(self, pictures: Iterator[tuple[int, Grey]]) -> None:
        """Take in the small pictures of a film, in order: frame number and picture."""
        first: Look | None = None
        key, count = False, 0
        changes: list[Change] = []
        before: tuple[int, Grey] | None = None
        for number, picture in pictures:
            begins = bool(self._keyframe[number])
            ends = first is not None and int(self._times[first.number]) != int(self._times[number])
            if first is not None and not begins and not ends:
                count += 1
                before = (number, picture)
                if count % self.every == 0:
                    changes.append(change(first, Look(number, picture)))
                    before = None
                continue
            look = Look(number, picture)
            # the last picture of a second is the first of the next one, but for a keyframe, which is drawn anew
            if first is not None and before is not None:
                changes.append(change(first, Look(*before) if begins else look))
            self._keep(key, changes)
            first, key, count, changes, before = look, begins, 0, [], None
        self._keep(key, changes)

    def _keep(self, key: bool, changes: list[Change]) -> None:
        if changes:
            self.seconds.append(Second(key, tuple(changes)))

    def pairs(self, cuts: Sequence[int] = ()) -> list[Pair]:
        """What each second shows, in order of time.

        Args:
            cuts: frames that begin a new view: nothing is compared across them.
        """
        kept = [_before_cuts(one, cuts) for one in sorted(self.seconds, key=lambda one: one.changes[0].first)]
        kept = [one for one in kept if one.changes]
        pairs = []
        for one, seen in zip(kept, stirred(kept, cuts), strict=True):
            last = max(one.changes, key=lambda change: change.move.far / 6 + abs(change.sharper) / 0.25)
            held = tuple(region for region in seen.regions if region.sure)
            start, end = float(self._times[one.changes[0].first]), float(self._times[one.changes[-1].last])
            pairs.append(Pair(start, end, last, seen, held))
        return pairs


def _before_cuts(one: Second, cuts: Sequence[int]) -> Second:
    first = one.changes[0].first
    nearest = min((cut for cut in cuts if cut > first), default=None)
    if nearest is None:
        return one
    return Second(one.key, tuple(change for change in one.changes if change.last < nearest))


def key_pairs(times: Floats, changes: Sequence[Change]) -> list[Pair]:
    """Pairs of keyframes that follow each other, judged."""
    pairs = []
    for one, seen in zip(changes, see(changes), strict=True):
        pairs.append(Pair(float(times[one.first]), float(times[one.last]), one, seen, seen.moved))
    return pairs
