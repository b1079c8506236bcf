"""The camera's own motion, from everything that is not an animal.

The whole picture, made small, is aligned densely to a key picture of the same view; the robust weights let animals,
hands and brushes drop out. Aligning to a key instead of adding up frame after frame keeps a tripod at exactly zero
and a hand-held view free of drift until it has wandered off; then a new key is taken and the path continues.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.similarity import STILL, Similarity
from clipmark.motion.texture import Fit, Grey, Image, Texture, without_shade

COARSE = 128  # width of the small picture
_GROW, _ANIMAL = 0.1, 0.05  # how far round an animal, and how much it counts there


def coarse(picture: Grey) -> Grey:
    """The picture at most COARSE wide, averaged."""
    height, width = picture.shape
    if width <= COARSE:
        return picture
    return cv2.resize(picture, (COARSE, max(16, round(height * COARSE / width))), interpolation=cv2.INTER_AREA)


_EVERY, _FORGOTTEN = 3, 480  # pictures between two looks for a view that was hidden, and until it is given up


@dataclass(slots=True)
class _Hidden:
    key: Texture
    base: Similarity
    place: Similarity
    noise: float
    usual: float
    waited: int = 0


class Camera:
    """Follows the scene from picture to picture; `scene` maps the first picture's pixels to the present one's."""

    def __init__(self) -> None:
        self.scene = STILL
        self.seen = 1.0  # how well the background was followed, 0..1
        self._base = STILL
        self._key: Texture | None = None
        self._place = self._last_good = STILL
        self._noise, self._usual = 2.0, 1.0
        self._fit: Fit | None = None
        self._hidden: _Hidden | None = None  # the view that something came in front of, to be known again

    def restart(self) -> None:
        """Forget the view (after a cut): the scene begins anew."""
        self.__init__()  # type: ignore[misc]

    def follow(
        self, small: Grey, scale: float, animals: Sequence[tuple[float, float, float, float]] = ()
    ) -> Similarity:
        """Take the next picture.

        Args:
            small: the picture made small by `coarse`.
            scale: pixels of the picture per pixel of `small`.
            animals: boxes (x, y, w, h) in picture pixels that must not be taken for background.
        Returns:
            `scene` for this picture.
        """
        view = without_shade(small, 0.8, 17)
        if self._hidden is not None:
            self._look_for_hidden(view)
        if self._key is None:
            self._take_key(view, scale, animals)
            return self.scene
        assert self._key is not None
        fit = self._key.find(view, self._place, self._noise, rounds=4, enough=0.015)
        if fit.likeness < 0.8 * self._usual:
            fit = self._search(view, fit)
        self._fit, self._place = fit, fit.place
        middle = self._key.middle
        step = Similarity(fit.place.m, fit.place.c - fit.place.m * middle)
        self.scene = _magnified(step, scale).after(self._base)
        self.seen = max(0.0, min(1.0, fit.likeness / max(self._usual, 0.3)))
        spread = 1.4826 * float(np.median(np.abs(fit.residual[::3, ::3])))
        if fit.likeness > 0.8 * self._usual:
            self._last_good = fit.place
            self._noise += 0.1 * (max(0.7, spread) - self._noise)
            self._usual += 0.02 * (fit.likeness - self._usual)
        wandered = abs(step(middle) - middle) > 0.2 * small.shape[1] or not 0.85 < fit.place.scale < 1.18
        if wandered or fit.likeness < 0.6 * self._usual:
            if not wandered and self._hidden is None:
                self._hidden = _Hidden(self._key, self._base, self._last_good, self._noise, self._usual)
            self._base = self.scene
            self._take_key(view, scale, animals)
        return self.scene

    def _look_for_hidden(self, view: Image) -> None:
        """Whether the view that was hidden is back; then its key holds again, and nothing is lost of the way."""
        hidden = self._hidden
        assert hidden is not None
        hidden.waited += 1
        if hidden.waited > _FORGOTTEN:
            self._hidden = None
        elif hidden.waited % _EVERY == 0:
            fit = hidden.key.find(view, hidden.place, 2 * hidden.noise, 6)
            if fit.likeness > 0.8 * hidden.usual:
                self._key, self._base, self._place = hidden.key, hidden.base, fit.place
                self._noise, self._usual, self._hidden = hidden.noise, hidden.usual, None

    def _take_key(self, view: Image, scale: float, animals: Sequence[tuple[float, float, float, float]]) -> None:
        support = np.ones(view.shape, np.float32)
        for x, y, w, h in animals:
            grow = _GROW * max(w, h)
            left, top = max(0, int((x - grow) / scale)), max(0, int((y - grow) / scale))
            right, bottom = int((x + w + grow) / scale) + 1, int((y + h + grow) / scale) + 1
            support[top:bottom, left:right] = _ANIMAL
        support[0], support[-1], support[:, 0], support[:, -1] = 0, 0, 0, 0
        self._key = Texture(view, support)
        self._place = Similarity(1 + 0j, self._key.middle)
        self._noise, self._usual = max(2.0, self._noise), 1.0

    def _search(self, view: Image, poor: Fit) -> Fit:
        """After a bump: the shift of the whole picture by phase correlation, then aligned from there."""
        assert self._key is not None
        (dx, dy), _ = cv2.phaseCorrelate(self._key.image, view, cv2.createHanningWindow(view.shape[::-1], cv2.CV_32F))
        start = Similarity(1 + 0j, self._key.middle + complex(dx, dy))
        fit = self._key.find(view, start, 2 * self._noise, rounds=6)
        return fit if fit.likeness > poor.likeness else poor


def _magnified(small: Similarity, scale: float) -> Similarity:
    """The same motion in pixels of the large picture (pixel centres at whole numbers in both)."""
    up = Similarity(complex(scale), complex((scale - 1) / 2, (scale - 1) / 2))
    return up.after(small).after(up.inverse)
