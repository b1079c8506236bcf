"""How loud a session's film was over time, and where something was struck, for the foot of the timeline."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Progress
from clipmark.report.films.listening import listen
from clipmark.report.films.opened import Films

LONGEST_S = 1800  # sound of a longer film is left out: decoding it would take longer than all the rest


@dataclass(frozen=True, slots=True, eq=False)
class ClipSound:
    """Sound of one clip on the session clock.

    Attributes:
        clock: seconds, shape (n,).
        levels: 0 (the quietest tenth) to 1 (the loudest), shape (n,).
        onsets: seconds at which something was struck.
    """

    clip_id: int
    clock: NDArray[np.float64]
    levels: NDArray[np.float64]
    onsets: NDArray[np.float64]


def heard(record: SessionRecord, films: Films, progress: Progress = SILENT) -> list[ClipSound]:
    """The sound of each clip that has some, is at hand, and is no longer than half an hour."""
    return [sound for clip in record.clips for sound in _of_clip(clip, films, progress)]


def _of_clip(record: ClipRecord, films: Films, progress: Progress) -> Iterable[ClipSound]:
    if (record.end_pts - record.first_pts) * record.time_base > LONGEST_S:
        return
    try:
        clip = films.reader(record).clip
        sound = listen(clip, progress) if clip.sound is not None else None
    except ClipmarkError:  # a sheet without its sound is still the sheet
        return
    if sound is not None and len(sound.times):
        offset = float(record.offset)
        yield ClipSound(record.id, sound.times + offset, sound.levels, sound.onsets + offset)
