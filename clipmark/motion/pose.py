"""Following one outline: where her abdomen is in each picture, how it is turned, and how much of it was seen.

Each picture is aligned to the texture inside the outline, not to the picture before, so that errors do not add up;
the texture is renewed slowly, and only where it was seen. Where it is lost the place is held still in the scene and
looked for again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.outlines import Shape, boxed
from clipmark.motion.search import coarser, finer, look_around, pyramid
from clipmark.motion.similarity import Similarity
from clipmark.motion.split import tell_apart
from clipmark.motion.texture import Fit, Grey, Image, Texture, without_shade

PATCH = 56  # an outline longer than this many pixels is looked at smaller
_WIDE_EVERY = 12  # pictures between two looks over the whole picture while it is lost
_WIDE_LIKE = 0.5  # correlation that makes such a look worth following up
_JUMP = 0.18  # a leap of so many lengths from one picture to the next needs to be seen well to be believed
LOST = 0.42  # quality below which the abdomen counts as not followed


@dataclass(frozen=True, slots=True)
class Crop:
    """The surroundings of the outline, cut from the picture and made smaller by a whole factor.

    `up` maps pixels of `grey` to pixels of the picture.
    """

    grey: Grey
    up: Similarity


@dataclass(frozen=True, slots=True)
class FollowResult:
    """What following gave for one picture: `place` maps outline coordinates (picture pixels from its middle, as
    drawn) to the picture; `quality` 0..1; `lost` when it was not followed; `crop` what was looked at."""

    place: Similarity
    quality: float
    lost: bool
    inside: float
    crop: Crop


class Follower:
    """Follows one outline from the picture it was drawn on, in either direction of time."""

    def __init__(self, picture: Grey, box: tuple[float, float, float, float], shape: Shape | None = None):
        x, y, w, h = box
        shape = shape or boxed(w, h)
        self.length = max(w, h)
        self._factor = max(1, int(self.length / PATCH))
        self._drawn = (w, h)
        self.middle = complex(x + (w - 1) / 2, y + (h - 1) / 2)
        self.place = Similarity(1 + 0j, self.middle)
        self._corner: tuple[int, int] | None = None
        self.crop = self._crop(picture)
        fine = self._shadeless(self.crop.grey)
        size = (max(8, round(w / self._factor)) + 4, max(8, round(h / self._factor)) + 4)
        start = self.crop.up.inverse.after(Similarity(complex(self._factor), self.middle))
        blank = Texture(np.zeros(size[::-1], np.float32), np.ones(size[::-1], np.float32))
        support = shape.support(size, self._factor)
        self.texture = Texture(blank.cut(fine, start), support)
        self._coarse: list[Texture] = []
        self._noise = 2.0
        self._usual = 1.0
        self._gain, self._bias = 1.0, 0.0
        self._gone = 0  # pictures since it was lost
        self._found = 4  # pictures since it was found again
        self._trusted = self.place
        self._age = 0
        self._last = 1.0
        self._spread = 1.0
        self.busy = 0.0
        self._whole = float(support.sum())
        self._still: Similarity | None = self.place
        self._worse = 0
        self._residual = np.zeros_like(self.texture.image)

    # --- coordinates: texture pixels (from the middle) <-> outline pixels: a whole factor
    def _to_crop(self, place: Similarity) -> Similarity:
        return self.crop.up.inverse.after(place).after(Similarity(complex(self._factor)))

    def _to_picture(self, found: Similarity) -> Similarity:
        return self.crop.up.after(found).after(Similarity(complex(1 / self._factor)))

    def follow(self, picture: Grey, step: Similarity, dt: float) -> FollowResult:
        """Take the next picture; `step` is the camera's motion since the last, `dt` the seconds between."""
        self.place, self._trusted = step.after(self.place), step.after(self._trusted)
        earlier, self.crop = self.crop, self._crop(picture)
        self._note_busy(earlier, step)
        if self._gone and self._gone % _WIDE_EVERY == 0 and self._found_elsewhere(picture):
            return FollowResult(self.place, 0.6, False, 1.0, self.crop)
        fine = self._shadeless(self.crop.grey)
        start = self._to_crop(self.place)
        outside, inside = self._outside(start)
        if inside < 0.4:
            self._gone += 1
            return FollowResult(self.place, 0.0, True, inside, self.crop)
        fit = self.texture.find(fine, start, self._noise, 4, self._gain, self._bias, outside, bend=True)
        quality = self._quality(fit)
        if quality < 0.85:
            again = self._align(fine, start, outside)
            if self._quality(again) > quality:
                fit, quality = again, self._quality(again)
        if quality < min(0.8, self._last - 0.1) or (self._gone and self._gone % 4 == 0):
            for guess in look_around(self._levels, fine, start, self._noise, self._gain, self._bias):
                again = self._align(fine, guess, outside)
                if self._quality(again) > quality + 0.04:
                    fit, quality = again, self._quality(again)
        fit, quality = self._told_apart(fine, fit, quality, step)
        self._last = quality
        quality *= min(1.0, inside / 0.8)
        jump = abs(fit.place.c - start.c) * self._factor / self.length
        far = jump > 0.7 or (jump > _JUMP and quality < (0.7 if self._gone else 0.85))
        needed = LOST if self._gone == 0 else 0.55
        if quality < needed or far or not _sane(fit.place, start, 1.6 if self._gone == 0 else 1.2):
            if self._found < 4:  # it was found again only for a moment: that was something else
                self.place = self._trusted
            self._gone, self._found = self._gone + 1, 0
            return FollowResult(self.place, min(quality, 0.4), True, inside, self.crop)
        self._gone, self._found = 0, self._found + 1
        self.place = self._to_picture(fit.place)
        if self._found >= 4:
            self._trusted = self.place
        self._gain, self._bias = fit.gain, fit.bias
        if self._found >= 2:
            self._learn(fit, quality, dt)
        return FollowResult(self.place, quality, False, inside, self.crop)

    def _found_elsewhere(self, picture: Grey) -> bool:
        """Look for her in the whole picture: the camera may have looked away and come back to another view, so that
        the place kept in the scene is no longer hers. Moves there and says so only if the texture really fits."""
        levels, f = self._levels, self._factor
        down = f * 2 ** len(levels)
        patch = levels[-1].image
        edge_y, edge_x = int(0.14 * patch.shape[0]), int(0.14 * patch.shape[1])
        patch = patch[edge_y : patch.shape[0] - edge_y, edge_x : patch.shape[1] - edge_x]
        size = (picture.shape[1] // f, picture.shape[0] // f)
        fine = self._shadeless(cv2.resize(picture, size, interpolation=cv2.INTER_AREA) if f > 1 else picture)
        view = cv2.resize(fine, (picture.shape[1] // down, picture.shape[0] // down), interpolation=cv2.INTER_AREA)
        if view.shape[0] < patch.shape[0] or view.shape[1] < patch.shape[1]:
            return False
        _, like, _, (x, y) = cv2.minMaxLoc(cv2.matchTemplate(view, patch, cv2.TM_CCOEFF_NORMED))
        if like < _WIDE_LIKE:
            return False
        kept, corner, crop = self.place, self._corner, self.crop
        middle = complex(x + (patch.shape[1] - 1) / 2, y + (patch.shape[0] - 1) / 2)
        self.place = Similarity(kept.m, middle * down + complex((down - 1) / 2, (down - 1) / 2), kept.n)
        self.crop = self._crop(picture)
        near, start = self._shadeless(self.crop.grey), self._to_crop(self.place)
        outside, inside = self._outside(start)
        fit = self._align(near, start, outside)
        if inside < 0.8 or self._quality(fit) < 0.7 or not _sane(fit.place, start, 1.2):
            self.place, self._corner, self.crop = kept, corner, crop
            return False
        self.place = self._to_picture(fit.place)
        self._gain, self._bias = fit.gain, fit.bias
        self._gone, self._found, self._last = 0, 1, self._quality(fit)
        return True

    def _note_busy(self, earlier: Crop, step: Similarity) -> None:
        """How much changed round the outline since the picture before, camera taken out: `busy`, grey levels."""
        way = self.crop.up.inverse.after(step).after(earlier.up).after(Similarity(2 + 0j, complex(0.5, 0.5)))
        size = (earlier.grey.shape[1] // 2, earlier.grey.shape[0] // 2)
        now = cv2.warpAffine(
            self.crop.grey, way.matrix(), size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        changed = cv2.absdiff(now, earlier.grey[: 2 * size[1] : 2, : 2 * size[0] : 2])
        middle = earlier.up.inverse(self.place.c) / 2
        half_w, half_h = (0.62 * side / self._factor / 2 for side in self._drawn)
        left, top = max(0, int(middle.real - half_w)), max(0, int(middle.imag - half_h))
        inner = changed[top : max(top, int(middle.imag + half_h)), left : max(left, int(middle.real + half_w))]
        area = changed.size - inner.size
        self.busy = (float(cv2.sumElems(changed)[0]) - float(inner.sum())) / max(area, 1)

    def _told_apart(self, fine: Image, fit: Fit, quality: float, step: Similarity) -> tuple[Fit, float]:
        """When the fit has just become worse: did part of the box go one way and part another?"""
        if quality > 0.93:
            self._still, self._worse = self.place, 0
            return fit, quality
        if self._still is None:
            return fit, quality
        self._still = step.after(self._still) if self._worse else self.place
        self._worse += 1
        if self._worse not in (1, 2, 3, 4, 6, 8, 11, 15):
            return fit, quality
        still = self._to_crop(self._still)
        parts = tell_apart(self.texture, fine, fit, still, self._whole, self._noise)
        if parts is None:
            return fit, quality
        support = self.texture.support
        self.texture.count_only(parts[1])
        again = self.texture.find(fine, parts[0].place, self._noise, 4, fit.gain, fit.bias, bend=True)
        better = self._quality(again)
        if better < quality:
            self.texture.count_only(support)
            return fit, quality
        self._coarse = []
        return again, better

    def _align(self, fine: Image, start: Similarity, outside: Image | None) -> Fit:
        """From half size to full size."""
        half = cv2.resize(fine, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        rough = self._levels[0].find(half, coarser(start), 1.5 * self._noise, 3, self._gain, self._bias)
        guess = finer(rough.place)
        return self.texture.find(fine, guess, self._noise, 4, self._gain, self._bias, outside, bend=True)

    def _quality(self, fit: Fit) -> float:
        like = fit.likeness / max(0.25, self._usual)
        return float(max(0.0, min(1.0, fit.seen / 0.9, like / 0.9)))

    def _learn(self, fit: Fit, quality: float, dt: float) -> None:
        self._age += 1
        if quality < 0.5:
            return
        pace = max(0.03, 1.0 / (1 + self._age)) if quality > 0.7 else 0.005
        if self._age < 8 or self._age % 3 == 0:
            inside = fit.residual[::2, ::2][self.texture.support[::2, ::2] > 0.5]
            self._spread = 1.4826 * float(np.median(np.abs(inside)))
        spread = self._spread
        self._noise += pace * (max(0.8, spread) - self._noise)
        self._usual += pace * (fit.likeness - self._usual)
        share = (1.0 - float(np.exp(-dt / 2.5))) if self._age > 8 else 1.0 / (1 + self._age)
        trust = np.minimum(fit.weight / np.maximum(self.texture.support, 0.05), 1.0)
        # what fits badly but stays the same for long is a new look of hers (turned to the light), not a passing leg
        same = np.abs(fit.residual - self._residual) < 2.5 * self._noise
        cv2.accumulateWeighted(fit.residual, self._residual, 1.0 - math.exp(-dt / 0.5))
        pace_at = np.maximum(share * trust, np.where(same, 0.4 * share, 0.0)).astype(np.float32)
        self.texture.image += pace_at * fit.residual
        self._residual *= 1.0 - pace_at
        if self._age < 8 or self._age % 4 == 0:
            self.texture.descend()
            self._coarse = []

    @property
    def _levels(self) -> list[Texture]:
        if not self._coarse:  # made only when asked for: most pictures do without
            self._coarse = pyramid(self.texture)
        return self._coarse

    def _shadeless(self, grey: Grey) -> Image:
        return without_shade(grey, 0.9, 2 * (int(0.35 * self.length / self._factor) // 2) + 5)

    def _outside(self, start: Similarity) -> tuple[Image | None, float]:
        """Weights that leave out what lies beyond the picture's edge, and the share inside."""
        height, width = self.crop.grey.shape
        w, h = self._drawn[0] / self._factor / 2 + 2, self._drawn[1] / self._factor / 2 + 2
        corners = [start(complex(sx * w, sy * h)) for sx in (-1, 1) for sy in (-1, 1)]
        if all(0 <= z.real <= width - 1 and 0 <= z.imag <= height - 1 for z in corners):
            return None, 1.0
        full = np.zeros((height, width), np.float32)
        full[1:-1, 1:-1] = 1
        shape = self.texture.image.shape
        weights = cv2.warpAffine(
            full, start.matrix(self.texture.middle), shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        inside = float((weights * self.texture.support).sum()) / (float(self.texture.support.sum()) + 1e-6)
        return weights, inside

    def _crop(self, picture: Grey) -> Crop:
        """Cut the surroundings; the cut stays where it is until the abdomen has wandered, so that a still abdomen is
        sampled alike in every picture."""
        height, width = picture.shape
        f = self._factor
        half = int(1.3 * self.length / f + 6) * f
        middle = self.place.c
        wanted = (round((middle.real - half) / f) * f, round((middle.imag - half) / f) * f)
        if (
            self._corner is None
            or max(abs(wanted[0] - self._corner[0]), abs(wanted[1] - self._corner[1])) > half // 4
        ):
            self._corner = wanted
        left, top = max(0, min(self._corner[0], width - 4 * f)), max(0, min(self._corner[1], height - 4 * f))
        right, bottom = min(width, self._corner[0] + 2 * half), min(height, self._corner[1] + 2 * half)
        right, bottom = max(right, left + 4 * f), max(bottom, top + 4 * f)
        even = 2 * f  # half-size pictures must not lose a column
        right, bottom = left + (right - left) // even * even, top + (bottom - top) // even * even
        crop = picture[top:bottom, left:right]
        if f > 1:
            size = ((right - left) // f, (bottom - top) // f)
            crop = cv2.resize(crop, size, interpolation=cv2.INTER_AREA)
        up = Similarity(complex(f), complex(left + (f - 1) / 2, top + (f - 1) / 2))
        return Crop(np.ascontiguousarray(crop), up)


def _sane(place: Similarity, start: Similarity, most: float) -> bool:
    return 1 / most < place.scale / start.scale < most and abs(place.n) < 0.35 * abs(place.m)
