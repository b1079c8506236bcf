"""From pairs of pictures to seconds in which something moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.change import Change, change
from clipmark.motion.survey.look import Look
from clipmark.motion.survey.regions import Region, Seen, see
from clipmark.motion.survey.values import Floats
from clipmark.motion.texture import Grey, Image

_A_SECOND = 8  # pictures that are compared with the first one of each second
_NOISE = 0.35  # of what differs between keyframes is taken for noise between the others
_NO_KEYS = 0.5  # grey levels² where there are no keyframes to know it from


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two pictures of one second (or of two keyframes), and what they show together.

    Attributes:
        start_s, end_s: when they were taken.
        held: regions that moved and are sure, or were seen again in the next pair of that second.
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
        self.from_key: list[Change] = []
        self.from_other: list[Change] = []

    def take(self, pictures: Iterator[tuple[int, Grey]]) -> None:
        """Take in the small pictures of a film, in order: frame number and picture."""
        first: Look | None = None
        key, count = False, 0
        for number, picture in pictures:
            second = int(self._times[number])
            begins = bool(self._keyframe[number])
            if first is None or begins or int(self._times[first.number]) != second:
                first, key, count = Look(number, picture), begins, 0
                continue
            count += 1
            if count % self.every == 0:
                (self.from_key if key else self.from_other).append(change(first, Look(number, picture)))

    def pairs(self, noise: Image | None) -> list[Pair]:
        """All pairs, judged; in order of time.

        Args:
            noise: energy that usually differs between keyframes, per block.
        """
        floor: Image | float = _NO_KEYS * _NOISE if noise is None else _NOISE * noise
        found = [*self._held(self.from_key, floor), *self._held(self.from_other, floor)]
        return sorted(found, key=lambda pair: (pair.start_s, pair.end_s))

    def _held(self, changes: list[Change], floor: Image | float) -> list[Pair]:
        changes = sorted(changes, key=lambda one: (one.first, one.last))
        judged = see(changes, floor)
        pairs = []
        for i, (one, seen) in enumerate(zip(changes, judged, strict=True)):
            near = [judged[j] for j in (i - 1, i + 1) if 0 <= j < len(judged) and changes[j].first == one.first]
            held = tuple(
                region for region in seen.moved if region.sure or any(_again(region, other) for other in near)
            )
            start, end = float(self._times[one.first]), float(self._times[one.last])
            pairs.append(Pair(start, end, one, seen, held))
        return pairs


def key_pairs(times: Floats, changes: Sequence[Change]) -> list[Pair]:
    """Pairs of keyframes that follow each other, judged."""
    pairs = []
    for one, seen in zip(changes, see(changes), strict=True):
        pairs.append(Pair(float(times[one.first]), float(times[one.last]), one, seen, seen.moved))
    return pairs


def usual_noise(changes: Sequence[Change]) -> Image | None:
    """Median energy of each block between keyframes; None for too few."""
    if len(changes) < 3:
        return None
    noise: Image = np.median(np.stack([one.energy for one in changes]), axis=0)
    return np.maximum(noise, 0.02)


def _again(region: Region, other: Seen) -> bool:
    x, y, w, h = region.box
    return any(
        x < one.box[0] + one.box[2] and one.box[0] < x + w and y < one.box[1] + one.box[3] and one.box[1] < y + h
        for one in other.moved
    )
