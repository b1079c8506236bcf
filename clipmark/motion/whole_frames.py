"""Outlines on frames that come out of the film: one on a damaged frame is taken to the nearest that decodes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from clipmark.motion.result import Box

if TYPE_CHECKING:
    from clipmark.motion.film import Film

REACH = 50  # frames to each side that are tried


def on_whole_frames(film: Film, boxes: Sequence[Box]) -> list[Box]:
    """The outlines, each on a frame that decodes: its own, else the nearest within REACH; of two as near the later.

    One with no such frame keeps its own. Reads only the frames of the outlines, and a few round a damaged one."""
    there: dict[int, bool] = {}

    def decodes(frame: int) -> bool:
        if frame not in there:
            there[frame] = any(number == frame for number, _ in film.frames(frame, frame + 1))
        return there[frame]

    return [replace(box, frame=_nearest(box.frame, len(film.times), decodes)) for box in boxes]


def _nearest(frame: int, count: int, decodes: Callable[[int], bool]) -> int:
    for step in range(REACH + 1):
        for tried in (frame + step, frame - step):
            if 0 <= tried < count and decodes(tried):
                return tried
    return frame
