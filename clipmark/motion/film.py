"""What everything in this room reads: grey pictures with their times (`media.frames.grey.GreyFilm` is one)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.texture import Grey


class Film(Protocol):
    """What the pass reads: grey pictures with their times."""

    @property
    def times(self) -> NDArray[np.float64]:
        """Seconds of every frame from the first, (n,)."""

    @property
    def width(self) -> int:
        """Width of the picture as displayed; the pictures that `frames` yields may be smaller."""

    @property
    def height(self) -> int:
        """Height of the picture as displayed."""

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        """Each frame of [start, stop) that decodes: its position in the index and the picture, uint8 (h, w)."""
