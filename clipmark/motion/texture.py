"""Dense alignment of a texture: where a patch has moved, turned and grown to, below a pixel.

Inverse-compositional Gauss-Newton on a similarity with gain and bias, weighted by a support mask and robustly per
pixel, so that what passes in front, or background inside the patch, loses its say. Works on weak texture, since
every pixel with a gradient counts (common practice; the scheme is Baker and Matthews 2004, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dposv  # ten times quicker on six unknowns than the general solver

from clipmark.motion.similarity import Similarity

Image = NDArray[Any]  # float32; OpenCV does not say so in its types
Grey = NDArray[Any]  # uint8

_SLACK = 0.6  # misfit that is allowed at a pixel, as a share of the contrast round it

_DAMP = np.ones((8, 8), np.float32)  # steps are damped a little; squeezing needs more proof than moving
np.fill_diagonal(_DAMP, [1.001] * 6 + [1.05] * 2)


@dataclass(frozen=True, slots=True)
class Fit:
    """Where the texture lies.

    Attributes:
        place: maps patch coordinates (from its middle) to the picture searched.
        gain, bias: picture = gain · texture + bias.
        residual: picture minus texture as seen by the texture, grey levels, shape of the patch.
        weight: robust weight times support, 0..1, shape of the patch.
        fits: how many of the pixels round each are explained by texture and noise, 0..1, shape of the patch.
        seen: share of the support where most pixels fit, 0..1.
        likeness: correlation of picture and texture where they fit, -1..1.
    """

    place: Similarity
    gain: float
    bias: float
    residual: Image
    weight: Image
    fits: Image
    seen: float
    likeness: float


class Texture:
    """A patch to look for, with all that does not change from picture to picture worked out once.

    Args:
        image: float32 (h, w), grey levels.
        support: float32 (h, w), 0..1, how much each pixel counts.
    """

    def __init__(self, image: Image, support: Image):
        self.image, self.support = image, support
        height, width = image.shape
        self.middle = complex((width - 1) / 2, (height - 1) / 2)
        self._reach = max(width, height) / 2
        y, x = np.mgrid[0:height, 0:width].astype(np.float32)
        self._x = (x - np.float32(self.middle.real)) / np.float32(self._reach)
        self._y = (y - np.float32(self.middle.imag)) / np.float32(self._reach)
        self._support = support.ravel()
        self.descend()

    def descend(self) -> None:
        """Work out again what depends on `image` (after it was changed in place)."""
        gx = cv2.Scharr(self.image, cv2.CV_32F, 1, 0, scale=1 / 32)
        gy = cv2.Scharr(self.image, cv2.CV_32F, 0, 1, scale=1 / 32)
        xx, yy, xy, yx = gx * self._x, gy * self._y, gx * self._y, gy * self._x
        rows = [gx, gy, xx + yy, yx - xy, self.image, np.ones_like(gx), xx - yy, xy + yx]
        self._rows = np.stack([row.ravel() for row in rows])
        self._flat = self.image.ravel()
        side = max(5, int(self._reach * 0.25) * 2 + 1)
        power = cv2.blur(self.image * self.image, (side, side), borderType=cv2.BORDER_REFLECT)
        self._contrast2 = power.ravel()

    def count_only(self, support: Image) -> None:
        """Change which pixels count."""
        self.support, self._support = support, support.ravel()

    def cut(self, picture: Image, place: Similarity) -> Image:
        """The patch as it lies in `picture` at `place`."""
        height, width = self.image.shape
        return cv2.warpAffine(
            picture,
            place.matrix(self.middle),
            (width, height),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )

    def find(
        self,
        picture: Image,
        start: Similarity,
        noise: float,
        rounds: int = 4,
        gain: float = 1.0,
        bias: float = 0.0,
        outside: Image | None = None,
        bend: bool = False,
        enough: float = 0.01,
    ) -> Fit:
        """Align to `picture` from a first guess.

        Args:
            picture: float32 (H, W).
            start: first guess; should be within the texture's grain of the truth.
            noise: expected residual of good pixels, grey levels.
            rounds: at most this many Gauss-Newton steps.
            outside: optional weights (h, w), 0 where the picture does not reach.
            enough: a step of so few pixels ends the search.
            bend: let it be squeezed too, as when it tips towards the camera.
        """
        place = start
        support = self._support if outside is None else self._support * outside.ravel()
        sharp = np.float32(1.0 / (2.5 * noise))
        rows = self._rows if bend else self._rows[:6]
        flat, reach = self._flat, self._reach
        for turn in range(rounds + 1):
            seen = self.cut(picture, place).ravel()
            residual = (seen - np.float32(bias)) * np.float32(1.0 / gain) - flat
            misfit = residual * sharp
            weight = 1.0 + misfit * misfit
            weight = support / (weight * weight)
            if turn == rounds:
                break
            loaded = rows * weight
            normal = loaded @ rows.T
            normal = normal * _DAMP[: len(normal), : len(normal)]
            _, step, failed = dposv(normal, loaded @ residual)
            if failed:
                break
            dx, dy, grow, turned, brighter, lighter = (float(v) for v in step[:6])
            long = abs(complex(dx, dy))
            if long > 0.15 * reach:
                dx, dy = dx * 0.15 * reach / long, dy * 0.15 * reach / long
            grow, turned = max(-0.1, min(0.1, grow / reach)), max(-0.1, min(0.1, turned / reach))
            squeeze = complex(step[6], step[7]) / reach if bend else 0j
            squeeze *= min(1.0, 0.1 / max(abs(squeeze), 1e-9))
            change = Similarity(1 + complex(grow, turned), complex(dx, dy), squeeze)
            place = place.after(change.inverse)
            bias += gain * lighter
            gain = min(4.0, max(0.25, gain * (1.0 + brighter)))
            if long < enough and abs(turned) * reach < 2 * enough and abs(grow) * reach < 2 * enough:
                rounds = turn + 1  # one more look at the residual and done
                seen = self.cut(picture, place).ravel()
                residual = (seen - np.float32(bias)) * np.float32(1.0 / gain) - flat
                misfit = residual * sharp
                weight = 1.0 + misfit * misfit
                weight = support / (weight * weight)
                break
        total = float(support.sum()) + 1e-6
        # interpolation and turning light leave a share of the texture's own contrast unexplained
        near: Image = residual * residual < (2.5 * noise) ** 2 + _SLACK**2 * self._contrast2
        fits = cv2.blur(near.reshape(self.image.shape).astype(np.float32), (5, 5)).ravel()
        ok = float((support * np.clip((fits - 0.45) / 0.35, 0, 1)).sum()) / total
        like = _likeness(residual + flat, flat, support * fits)
        shape = self.image.shape
        return Fit(place, gain, bias, residual.reshape(shape), weight.reshape(shape), fits.reshape(shape), ok, like)


def _likeness(seen: Image, flat: Image, weight: Image) -> float:
    total = float(weight.sum()) + 1e-6
    a = seen - float((seen * weight).sum()) / total
    b = flat - float((flat * weight).sum()) / total
    wa = a * weight
    return float((wa @ b) / (np.sqrt(float(wa @ a) * float((b * weight) @ b)) + 1e-6))


def without_shade(picture: Grey, grain: float, shade: int) -> Image:
    """Grey levels without slow shading: smoothed by `grain` pixels, minus the mean over `shade` pixels round."""
    fine = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), grain)
    return fine - cv2.blur(fine, (shade, shade), borderType=cv2.BORDER_REFLECT)
