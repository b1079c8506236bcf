"""The other outlines, where the keeper drew them: her carapace and the male, followed beside the abdomen.

The carapace tells a pull from a step of the whole animal without guessing. The male tells which way a pull went.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.pose import Follower
from clipmark.motion.result import Box
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey


class Companions:
    """Follows every outline that is no abdomen, forwards from where it was drawn.

    `places` holds, by part, the middle relative to the scene, complex pixels of the analysed picture, (n,); NaN
    where it was not followed.
    """

    def __init__(self, boxes: Sequence[Box], frames: int):
        self._drawn: dict[int, list[Box]] = {}
        for box in boxes:
            if box.part != "abdomen":
                self._drawn.setdefault(box.frame, []).append(box)
        parts = {box.part for box in boxes if box.part != "abdomen"}
        self.places = {part: np.full(frames, np.nan, complex) for part in parts}
        self._followers: dict[str, Follower] = {}

    def take(self, i: int, picture: Grey, ratio: float, step: Similarity, scene: Similarity, dt: float) -> None:
        """The next picture; `ratio`: displayed by analysed pixels, `step`: the camera's motion since the last."""
        fresh = {box.part: box for box in self._drawn.get(i, ())}
        for part, follower in self._followers.items():
            if part not in fresh:
                look = follower.follow(picture, step, dt)
                if not look.lost:
                    self.places[part][i] = scene.inverse(look.place.c)
        for part, box in fresh.items():
            follower = Follower(picture, (box.x / ratio, box.y / ratio, box.w / ratio, box.h / ratio))
            self._followers[part] = follower
            self.places[part][i] = scene.inverse(follower.place.c)


def went_along(
    carapace: NDArray[np.complex128], times: NDArray[np.float64], onset: float, full: float, change: complex
) -> float | None:
    """Share of the abdomen's shift `change` (pixels) that the carapace made too; None where it was not seen."""
    before = carapace[(times >= onset - 0.35) & (times <= onset) & np.isfinite(carapace)]
    after = carapace[(times >= full) & (times <= full + 0.35) & np.isfinite(carapace)]
    if len(before) < 2 or len(after) < 2 or abs(change) < 0.5:
        return None
    shift = complex(np.median(after.real) - np.median(before.real), np.median(after.imag) - np.median(before.imag))
    return float((shift * change.conjugate()).real / abs(change) ** 2)


def towards(
    male: NDArray[np.complex128], times: NDArray[np.float64], at: float, abdomen: complex, change: complex
) -> float | None:
    """Cosine between the pull and the way to the male, -1 away to 1 towards; None where he was not seen."""
    near = male[(np.abs(times - at) < 0.3) & np.isfinite(male)]
    if not len(near) or abs(change) < 1e-6:
        return None
    way = complex(np.median(near.real), np.median(near.imag)) - abdomen
    return float((way * change.conjugate()).real / max(abs(way) * abs(change), 1e-9))
