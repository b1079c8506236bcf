"""The second witness: held change. Pictures before and after a moment, laid on each other by the camera's motion, are
compared over the whole surroundings of an outline. What differs and stays different is kept as an event.

Nothing is followed here, so it does not matter what exactly the outline holds. Memory is bounded: half a second of
small pictures on each side of the present, and the strongest events.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey, Image, Texture

SIDE = 112  # cells along the side of the small picture
REACH = 1.6  # how far it reaches from the outline's middle, outline lengths
_HALF_S, _GAP_S = 0.42, 0.12  # seconds averaged on each side of a moment, and left out round it
_APART_S = 0.3  # of two events closer than this the stronger stays
_EVERY_S = 0.08  # moments are weighed so often
_FASTEST_S = 1 / 34  # denser pictures say no more
_MOST = 90  # events kept
SHADE = 75  # cells over which shading is taken out: wide, or what is dark drags a bright rim along
CAP = 9.0  # squared deviation at which a cell has said all that it can
_LEAST = 0.02  # share of the outline's area that must differ


@dataclass(frozen=True, slots=True)
class HeldChange:
    """One moment at which the surroundings of an outline changed and stayed so.

    Attributes:
        time: middle of the change, seconds.
        strength: cells that differ, as a share of the outline's area.
        before, after: mean pictures, float32 (SIDE, SIDE), grey levels, camera taken out.
        noise2: squared noise of their difference, (SIDE, SIDE).
    """

    time: float
    strength: float
    before: Image
    after: Image
    noise2: Image


class HeldChanges:
    """Collects held changes round one outline, in either direction of time.

    Args:
        middle: of the outline against the scene, pixels of the analysed picture.
        size: its width and height there.
        reach: how far to look from its middle, pixels; REACH outline lengths when 0.
    """

    def __init__(self, middle: complex, size: tuple[float, float], reach: float = 0.0):
        self.length = max(size)
        half = reach or REACH * self.length
        self.cell = max(2 * half / SIDE, 0.5)  # pixels of the analysed picture per cell
        corner = middle - complex(self.cell, self.cell) * (SIDE - 1) / 2
        self.grid = Similarity(complex(self.cell), corner)  # cell -> scene
        self.size = (size[0] / self.cell, size[1] / self.cell)
        self.events: list[HeldChange] = []
        self.seen: Image | None = None  # the surroundings on the outline's own frame
        self._views: deque[tuple[float, Image, Image]] = deque()
        self._weighed: float | None = None
        self._best: HeldChange | None = None
        y, x = np.mgrid[0:SIDE, 0:SIDE].astype(np.float32) - np.float32((SIDE - 1) / 2)
        self.near = np.exp(-0.5 * ((x / (0.75 * self.size[0])) ** 2 + (y / (0.75 * self.size[1])) ** 2)).astype(
            np.float32
        )
        self._area = float(self.size[0] * self.size[1]) * 0.785

    def take(self, time: float, picture: Grey, scene: Similarity) -> None:
        """The next picture, or the one before where the film is gone through backwards; `scene`: scene -> picture."""
        if self._views and abs(time - self._views[-1][0]) < _FASTEST_S:
            return
        view = self.cut(picture, scene)
        self._views.append((time, view, view * view))
        while abs(self._views[-1][0] - self._views[0][0]) > 2 * (_HALF_S + _GAP_S):
            self._views.popleft()
        middle = (self._views[-1][0] + self._views[0][0]) / 2
        if self._weighed is None or abs(middle - self._weighed) >= _EVERY_S:
            self._weighed = middle
            self._weigh(middle)

    def look_at(self, picture: Grey, scene: Similarity) -> None:
        """The picture on which the outline was drawn."""
        self.seen = self.cut(picture, scene)

    def cut(self, picture: Grey, scene: Similarity) -> Image:
        """The surroundings as they lie in the scene, averaged to cells."""
        place = scene.after(self.grid)
        factor = max(1, int(self.cell + 0.25))
        if factor > 1:
            ends = [place(complex(x, y)) for x in (-2, SIDE + 1) for y in (-2, SIDE + 1)]
            left, top = (max(0, int(min(v))) for v in ([e.real for e in ends], [e.imag for e in ends]))
            right = min(picture.shape[1], int(max(e.real for e in ends)) + 1)
            bottom = min(picture.shape[0], int(max(e.imag for e in ends)) + 1)
            if right - left < 2 * factor or bottom - top < 2 * factor:
                return np.zeros((SIDE, SIDE), np.float32)
            wide, high = (right - left) // factor, (bottom - top) // factor
            crop = picture[top : top + high * factor, left : left + wide * factor]
            picture = cv2.resize(crop, (wide, high), interpolation=cv2.INTER_AREA)
            up = Similarity(complex(factor), complex(left + (factor - 1) / 2, top + (factor - 1) / 2))
            place = up.inverse.after(place)
        return cv2.warpAffine(
            picture, place.matrix(), (SIDE, SIDE), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ).astype(np.float32)  # fmt: skip

    def finish(self) -> None:
        """The film has ended, or another view begins."""
        self._settle()
        self._views.clear()
        self._weighed = None

    def _weigh(self, middle: float) -> None:
        early = [v for v in self._views if v[0] <= middle - _GAP_S]
        late = [v for v in self._views if v[0] >= middle + _GAP_S]
        if len(early) < 2 or len(late) < 2:
            return
        before, spread0 = _mean(early)
        after, spread1 = _mean(late)
        noise2 = cv2.blur(spread0 / len(early) + spread1 / len(late), (5, 5)) + np.float32(0.35)
        change = differing(before, after, noise2)
        strength = float(((change > 4.0) * self.near).sum()) / self._area
        if self._best is not None and abs(middle - self._best.time) > _APART_S:
            self._settle()
        if strength > _LEAST and (self._best is None or strength > self._best.strength):
            self._best = HeldChange(middle, strength, before, after, noise2)

    def _settle(self) -> None:
        if self._best is not None:
            event, self._best = self._registered(self._best), None
            if event.strength < _LEAST:
                return
            self.events.append(event)
            if len(self.events) > _MOST:
                self.events.remove(min(self.events, key=lambda event: event.strength))

    def _registered(self, event: HeldChange) -> HeldChange:
        """The event with what the camera's motion left over taken out: ground nearer to the lens than the rest goes
        its own way."""
        shade = 25
        a, b = (v - cv2.blur(v, (shade, shade), borderType=cv2.BORDER_REFLECT) for v in (event.before, event.after))
        texture = Texture(a, (1.0 - 0.9 * self.near).astype(np.float32))
        noise = max(0.7, 1.5 * float(np.sqrt(np.median(event.noise2))))
        fit = texture.find(b, Similarity(1 + 0j, texture.middle), noise, 4)
        if fit.likeness < 0.3 or abs(fit.place.c - texture.middle) > 0.06 * SIDE or abs(fit.place.m - 1) > 0.1:
            return event
        after = texture.cut(event.after, fit.place)
        change = differing(event.before, after, event.noise2)
        strength = float(((change > 4.0) * self.near).sum()) / self._area
        if strength > event.strength:
            return event
        return HeldChange(event.time, strength, event.before, after, event.noise2)


def shadeless(view: Image) -> Image:
    """The picture without what changes slowly over it."""
    return view - cv2.blur(view, (SHADE, SHADE), borderType=cv2.BORDER_REFLECT)


def differing(before: Image, after: Image, noise2: Image) -> Image:
    """Squared difference in noise units, capped at CAP; light that changes slowly over the picture is taken out."""
    change = after - before
    change = change - cv2.blur(change, (31, 31), borderType=cv2.BORDER_REFLECT)
    slack = 0.003 * cv2.blur(before * before, (5, 5)) - 0.003 * cv2.blur(before, (5, 5)) ** 2
    return np.minimum(cv2.blur(change * change, (3, 3)) / (noise2 + np.maximum(slack, 0)), CAP)


def _mean(views: list[tuple[float, Image, Image]]) -> tuple[Image, Image]:
    total = views[0][1].copy()
    squares = views[0][2].copy()
    for _, view, square in views[1:]:
        total += view
        squares += square
    n = len(views)
    total /= n
    return total, np.maximum(squares / n - total * total, 0) * np.float32(n / max(n - 1, 1))
