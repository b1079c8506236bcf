"""The tick of every frame of a clip, for placing a trace."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clipmark.book.model import ClipRecord
from clipmark.report.films.opened import FilmMissing, Films


def frame_times(clip: ClipRecord, frames: int, films: Films) -> NDArray[np.int64]:
    """int64 (frames,): from the film's own index; where the film is not at hand (or has another number of frames)
    spread evenly between its first and last tick, which is only good enough for drawing."""
    try:
        index = films.reader(clip).clip.index
    except FilmMissing:
        index = None
    if index is not None and len(index) == frames:
        return index.pts
    return np.linspace(clip.first_pts, clip.end_pts, frames, endpoint=False).astype(np.int64)
