"""Her abdomen told from one press on a frame of a film. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark.progress import Progress

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.picture import Picture
    from clipmark.motion.region import Region

ROUND_S = 1.5  # seconds of film before and after the press that are looked through for what moves as one


@dataclass(frozen=True, slots=True)
class RegionFound:
    """The upright box round the region, displayed pixels; how sure (0..1); from what it is told: "moved", "looks"."""

    x: float
    y: float
    w: float
    h: float
    confidence: float
    source: str


def guessed_round(film: Clip, x: float, y: float) -> tuple[float, float, float, float]:
    """A box (x, y, w, h) of the size that an abdomen usually has in a picture, round a press on it, displayed pixels:
    what is shown until more is known."""
    from clipmark.motion.region import PRESS_SIZE

    size = PRESS_SIZE * min(film.width, film.height)
    left, top = (min(max(at - size / 2, 0.0), side - size) for at, side in ((x, film.width), (y, film.height)))
    return left, top, size, size


def region_on(film: Clip, picture: Picture, x: float, y: float, progress: Progress) -> RegionFound:
    """The region round a press as far as the picture on view tells it alone: nothing is decoded.

    Raises:
        NothingThere: no region can be told from this picture.
    """
    from clipmark.media.frames.grey import grey_size
    from clipmark.motion.region import NothingThere, find_region

    at = float(film.index.exact_seconds(picture.number))
    width, height = grey_size(film)
    ratio = film.width / width
    try:
        return _found(find_region([(at, picture.grey(width, height))], 0, (x / ratio, y / ratio)), ratio)
    except NothingThere as error:
        raise NothingThere(x, y, at) from error


def region_at(film: Clip, number: int, x: float, y: float, seconds: float, progress: Progress) -> RegionFound:
    """The region round a press at (x, y), displayed pixels of frame `number`; for a background task.

    Args:
        seconds: of film before and after the frame to look through.
    Raises:
        NothingThere: no region can be told there. ClipUnreadable: the film cannot be read any more.
        Cancelled: through `progress`.
    """
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.region import NothingThere, find_region

    grey, index = GreyFilm(film), film.index
    here = index.exact_seconds(number)
    first = index.frame_at(max(float(here) - seconds, 0.0))
    stop = min(index.frame_at(float(here) + seconds) + 1, len(index))
    pictures: list[tuple[float, NDArray[np.uint8]]] = []
    at: int | None = None
    for frame, picture in grey.frames(first, stop):
        progress.advance(frame - first, stop - first)
        if frame == number:
            at = len(pictures)
        pictures.append((float(index.exact_seconds(frame)), picture))
    if at is None:
        raise NothingThere(x, y, float(here))
    ratio = film.width / pictures[0][1].shape[1]
    try:
        return _found(find_region(pictures, at, (x / ratio, y / ratio)), ratio)
    except NothingThere as error:
        raise NothingThere(x, y, float(here)) from error


def _found(region: Region, ratio: float) -> RegionFound:
    """Enlarged from the small picture by `ratio`."""
    sides = (region.x * ratio, region.y * ratio, region.w * ratio, region.h * ratio)
    return RegionFound(*sides, region.confidence, region.source)
