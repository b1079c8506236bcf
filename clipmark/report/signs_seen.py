"""The signs of a pull read from the film: what `clipmark draft` and the Pulls page propose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from clipmark.draft.sighting import look, width_for
from clipmark.draft.signs import signs_of
from clipmark.draft.things import Thing
from clipmark.draft.values import SignSeen
from clipmark.draft.whereabouts import found_again, from_draft, her_abdomen, outlined, well_followed
from clipmark.media.clip import Clip
from clipmark.motion.result import Box, Trace, UsedOutline
from clipmark.progress import SILENT, Progress


@dataclass(frozen=True, slots=True)
class Pulled:
    """A pull by the frames of its onset, full size and release (None: none seen), and its size in abdomen lengths."""

    onset: int
    full: int
    release: int | None
    pull: float | None


def signs_seen(
    clip: Clip, trace: Trace, boxes: Sequence[Box], pulls: Sequence[Pulled], used: Sequence[UsedOutline] = (),
    him: Thing | None = None, progress: Progress = SILENT,
) -> list[tuple[SignSeen, ...]]:  # fmt: skip
    """The signs of each pull, read from some seconds of film round it.

    Args:
        trace, used: of the motion pass. boxes: the keeper's outlines. him: as the draft followed him.
    Raises:
        ClipUnreadable: the film has gone. Cancelled: through `progress`.
    """
    from clipmark.media.frames.grey import GreyFilm

    followed = trace.length[np.isfinite(trace.length)]
    length = float(np.median(followed)) if len(followed) else clip.width / 8
    film = GreyFilm(clip, width_for(length, clip.width))
    found = []
    for number, one in enumerate(pulls):
        progress.advance(number, len(pulls))
        his = shell = None
        drawn = outlined(boxes, "male", one.onset, 0, len(film.times))
        if drawn is not None:
            his = found_again(film, drawn, one.onset)
        about = from_draft(him, float(film.times[one.onset]), (clip.width, clip.height))
        if his is None and well_followed(him):
            his = about
        front = outlined(boxes, "carapace", one.onset, 0, len(film.times))
        if front is not None:
            shell = found_again(film, front, one.onset)
        sight = look(film, trace, one.onset, one.full, one.release)
        found.append(signs_of(sight, one.pull, her_abdomen(trace, used, one.onset), his, shell, about))
    return found
