"""Rhythm in the picture, gathered while the motion pass reads the film, and kept in the cache folder for the window.

Short bouts are found anywhere in the picture. For long, slow ones the outline of the male is looked at where one was
drawn; else the free region round her abdomen, one outline's size to each side.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark import settings
from clipmark.atomic_files import atomic_file
from clipmark.errors import ClipmarkError
from clipmark.json_values import from_plain, to_plain
from clipmark.motion.result import Box, Shot
from clipmark.motion.rhythm.beating import Looking
from clipmark.motion.rhythm.gathering import Gathering
from clipmark.motion.rhythm.seen import picture_bouts
from clipmark.motion.rhythm.values import Bout

if TYPE_CHECKING:
    from clipmark.motion.film import Film

VERSION = 2  # of what is kept: raised when the way of computing changes
_CELLS = (12, 9)  # at most, so that an hour of film needs some tens of megabytes


class Seeing:
    """A film that is handed through to the motion pass; on its first reading the cells of each outline are kept."""

    def __init__(self, film: Film, boxes: Sequence[Box]):
        self.times, self.width, self.height = film.times, film.width, film.height
        self._film, self._read = film, False
        self._anywhere: list[Bout] | None = None
        self._looking = Looking(film.times)
        self._looks = [_Look(self, box, span) for box, span in _stretches(boxes, len(film.times))]

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """The film's own frames; on the first way through they are looked at as well."""
        first, self._read = not self._read, True
        for number, picture in self._film.frames(start, stop):
            if first:
                self._looking.take(number, picture)
                for look in self._looks:
                    look.take(number, picture)
            yield number, picture

    def bouts(self, shots: Sequence[Shot]) -> tuple[Bout, ...]:
        """Bouts in the order of time, each from the outlines of its own shot."""
        found: list[Bout] = []
        for shot in shots:
            mine = [look for look in self._looks if shot.start <= look.box.frame < shot.end]
            mine = [look for look in mine if look.box.part == "male"] or mine
            for i, look in enumerate(mine):
                begin = shot.whole if i == 0 else look.box.frame
                end = mine[i + 1].box.frame if i + 1 < len(mine) else shot.end
                found += picture_bouts(*look.gathering.cells(self.times, begin, end))
        if self._anywhere is None:
            self._anywhere = [one.bout for one in self._looking.found()]
        found += [one for one in self._anywhere if not any(_same_time(one, other) for other in found)]
        return tuple(sorted(found, key=lambda bout: bout.start_s))


def _same_time(one: Bout, other: Bout) -> bool:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared > 0.4 * min(one.end_s - one.start_s, other.end_s - other.start_s)


class _Look:
    """One outline's region and the frames for which it may stand: since the outline before it, to the one after."""

    def __init__(self, film: Seeing, box: Box, span: tuple[int, int]):
        grow = 0.0 if box.part == "male" else 1.0
        region = (box.x - grow * box.w, box.y - grow * box.h, (1 + 2 * grow) * box.w, (1 + 2 * grow) * box.h)
        self.box, self._span = box, span
        self.gathering = Gathering(film.width, film.height, region, _CELLS)

    def take(self, number: int, picture: NDArray[np.uint8]) -> None:
        if self._span[0] <= number < self._span[1]:
            self.gathering.take(number, picture)


def _stretches(boxes: Sequence[Box], frames: int) -> Iterator[tuple[Box, tuple[int, int]]]:
    for part in ("male", "abdomen"):
        mine = sorted((box for box in boxes if box.part == part), key=lambda box: box.frame)
        edges = [0, *(box.frame for box in mine), frames]
        for i, box in enumerate(mine):
            yield box, (edges[i], edges[i + 2])


def keep_seen(fingerprint: str, bouts: Sequence[Bout]) -> None:
    """Keep the bouts of a film by its fingerprint; a cache that cannot be written costs this view only."""
    place = _place(fingerprint)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with atomic_file(place) as file:
            json.dump(to_plain(tuple(bouts)), file)
    except (OSError, ClipmarkError):
        return


def kept_seen(fingerprint: str) -> tuple[Bout, ...] | None:
    """What `keep_seen` kept; None where no pass has looked yet."""
    try:
        kept = json.loads(_place(fingerprint).read_text(encoding="utf-8"))
        return tuple(from_plain(Bout, bout, "bout") for bout in kept)
    except (OSError, ValueError, TypeError, ClipmarkError):
        return None


def _place(fingerprint: str) -> Path:
    return settings.cache_dir() / "rhythm" / f"{fingerprint}-{VERSION}.json"
