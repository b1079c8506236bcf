"""Where her abdomen, her carapace and his body lie at the onset of a pull, from all that is known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from clipmark.draft.sighting import Oval, SmallFilm
from clipmark.draft.things import Thing
from clipmark.motion.proposals import propose
from clipmark.motion.result import Box, Trace, UsedOutline

_SLIM = 0.36  # half of how wide an abdomen is, against its length
_BODY = 0.3  # half of how long his body is, against his box with the legs
_WENT = 0.8  # of his box's size, that he must have gone


def her_abdomen(trace: Trace, outlines: Sequence[UsedOutline], frame: int) -> Oval | None:
    """Her abdomen on `frame` as the pass followed it; None where it did not."""
    if not 0 <= frame < len(trace.x) or not np.isfinite(trace.x[frame] + trace.y[frame] + trace.length[frame]):
        return None
    earlier = [one for one in outlines if one.frame <= frame]
    used = max(earlier, key=lambda o: o.frame) if earlier else next(iter(outlines), None)
    half = 0.5 * float(trace.length[frame])
    x, y = float(trace.x[frame]), float(trace.y[frame])
    if used is None or used.angle_deg is None:
        return Oval(x, y, half, 0.9 * half)
    return Oval(x, y, half, 2 * _SLIM * half, used.angle_deg + float(np.nan_to_num(trace.angle[frame])))


def outlined(boxes: Sequence[Box], part: str, frame: int, first: int, end: int) -> Box | None:
    """The keeper's outline of a part that is nearest in time, of those in frames [first, end); None where none is."""
    there = [box for box in boxes if box.part == part and first <= box.frame < end and not box.pressed]
    return min(there, key=lambda box: abs(box.frame - frame), default=None)


def found_again(film: SmallFilm, box: Box, frame: int) -> Oval | None:
    """What was outlined on one frame, looked for on another of the same shot; None where it is not surely there."""
    here = _picture(film, frame)
    there = here if box.frame == frame else _picture(film, box.frame)
    if here is None or there is None:
        return None
    ratio = film.width / here.shape[1]
    found = propose(there, box, here, frame, ratio)
    if found is None or not found.found:
        return None
    middle = found.box.x + found.box.w / 2, found.box.y + found.box.h / 2
    return Oval(*middle, 0.5 * max(box.w, box.h), 0.5 * min(box.w, box.h))


def _picture(film: SmallFilm, frame: int) -> NDArray[np.uint8] | None:
    return next((grey for number, grey in film.frames(frame, frame + 1) if number == frame), None)


def from_draft(him: Thing | None, at_s: float, size: tuple[int, int]) -> Oval | None:
    """His body where the draft followed him, at `at_s` seconds; `size`: the picture's width and height, pixels."""
    if him is None or not him.times:
        return None
    k = int(np.clip(np.searchsorted(him.times, at_s) - 1, 0, len(him.times) - 1))
    x0, y0, x1, y1 = him.boxes[k]
    width, height = size
    half = _BODY * max((x1 - x0) * width, (y1 - y0) * height)
    return Oval((x0 + x1) / 2 * width, (y0 + y1) / 2 * height, half, 0.8 * half)


def well_followed(him: Thing | None) -> bool:
    """Whether he went far enough that his box is a measure of him: one that hardly moved shows only a part."""
    if him is None or not him.times:
        return False
    size = max(him.box[2] - him.box[0], him.box[3] - him.box[1], 1e-3)
    return him.known or float(np.ptp(him.middles, axis=0).max()) >= _WENT * size
