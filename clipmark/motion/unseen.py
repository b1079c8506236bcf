"""Large held changes that following did not see: never silent, listed with the reason."""

from __future__ import annotations

import math

import cv2
import numpy as np

from clipmark.motion.held import HeldChange, HeldChanges
from clipmark.motion.moved import Mask, MovedPart, moved_parts
from clipmark.motion.pulls import AbdomenTrack
from clipmark.motion.result import Flag
from clipmark.motion.watch import PostureChange

_NEAR_S = 0.7  # a posture change so close to an event is the same moment
_LARGE = 0.05  # abdomen lengths
_LIKE = 0.35  # of what either covers: the part that moved is her abdomen
_MOST = 12  # events looked into


def unseen_steps(
    changes: HeldChanges, own: Mask, middle: complex, track: AbdomenTrack, found: list[PostureChange], length: float
) -> list[Flag]:
    """Weak candidates for what only the pictures before and after show.

    Args:
        own, middle: her abdomen among the cells of `changes`, and its middle there.
        found: the posture changes that following saw.
        length: abdomen length, pixels of the analysed picture.
    """
    inside = [e for e in changes.events if track.times[0] <= e.time <= track.times[-1]]
    alone = [e for e in inside if all(abs(e.time - one.at) > _NEAR_S for one in found)]
    flags = []
    for event in sorted(alone, key=lambda e: -e.strength)[:_MOST]:
        here = _placed(own, middle, changes, track, event.time, length)
        part = next((p for p in moved_parts(event, changes.near) if here is not None and _is_hers(p, here)), None)
        size = 0.0 if part is None else part.shift * changes.cell / length
        if part is not None and size >= _LARGE:
            flags.append(_flag(event, part, size, track))
    return flags


def _placed(
    own: Mask, middle: complex, changes: HeldChanges, track: AbdomenTrack, at: float, length: float
) -> Mask | None:
    """Her abdomen where it was followed just before a moment."""
    near = track.values[(np.abs(track.times - at + 0.2) < 0.3) & (track.quality > 0.5)]
    if not len(near):
        return None
    shift = changes.grid.inverse(complex(*np.median(near[:, :2], axis=0)) * length) - middle
    way = np.array([[1, 0, shift.real], [0, 1, shift.imag]])
    return np.asarray(cv2.warpAffine(own.astype(np.uint8), way, own.shape[::-1])).astype(bool)


def _is_hers(part: MovedPart, own: Mask) -> bool:
    return float((part.mask & own).sum()) > _LIKE * float((part.mask | own).sum()) and part.share > 0.7


def _flag(event: HeldChange, part: MovedPart, size: float, track: AbdomenTrack) -> Flag:
    rows, columns = np.nonzero(part.mask)
    middle = complex(float(columns.mean()), float(rows.mean()))
    moved = part.move(middle) - middle
    onset, full = (int(track.frames[min(int(np.searchsorted(track.times, event.time + d)), len(track.times) - 1)])
                   for d in (-0.1, 0.1))  # fmt: skip
    return Flag(
        onset, full, None, 0.4 * part.share, size, math.degrees(math.atan2(part.move.m.imag, part.move.m.real)),
        math.degrees(math.atan2(moved.imag, moved.real)) % 360,
        f"The pictures before and after differ as if the abdomen had moved by {size:.0%} of its length.",
        ("seen only in the pictures before and after, not by following her",), False,
        {"size": size, "held_change": event.strength, "share": part.share},
    )  # fmt: skip
