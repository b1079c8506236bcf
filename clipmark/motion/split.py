"""Telling the abdomen from what else lies inside its box: ground in the corners, bark in front, a resting leg.

As long as nothing moves they cannot be told apart. Once part of the box stays with the scene and part of it does not,
the part that moved is the abdomen and the part that stayed is not; from then on only the abdomen counts.
"""

from __future__ import annotations

import cv2
import numpy as np

from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Fit, Image, Texture

_LEAST = 0.10  # share of the support that must disagree before it is looked into
_KEPT = 0.18  # share of the drawn support that must remain


def tell_apart(
    texture: Texture, picture: Image, fit: Fit, still: Similarity, whole: float, noise: float
) -> tuple[Fit, Image] | None:
    """Where the abdomen went, and the support without what stayed behind; None where there is nothing to tell.

    Args:
        texture, fit: the texture and how it was found in `picture`.
        still: where the texture would lie had nothing in it moved against the scene.
        whole: sum of the support as drawn.
        noise: grey levels.
    """
    total = float(texture.support.sum()) + 1e-6
    unfit = texture.support * (1.0 - fit.fits)
    if float(unfit.sum()) < _LEAST * total:
        return None
    reach = max(texture.image.shape)
    moved = abs(fit.place.c - still.c) + 0.3 * reach * abs(fit.place.m / still.m - 1)
    if moved < 0.02 * reach + 0.7:
        found = _elsewhere(texture, picture, fit, unfit, noise)
        if found is None:
            return None
        stays, goes = fit, found
    else:
        stays, goes = texture.find(picture, still, noise, 0, fit.gain, fit.bias), fit
    stayed = stays.fits * (1.0 - goes.fits)
    if float((texture.support * stayed).sum()) < 0.06 * total:
        return (goes, texture.support) if goes is not fit else None
    support = (texture.support * (1.0 - cv2.blur(stayed, (3, 3)))).astype(np.float32)
    if float(support.sum()) < max(_KEPT * whole, 0.3 * total if goes is fit else 0.0):
        return None
    return goes, support


def _elsewhere(texture: Texture, picture: Image, fit: Fit, unfit: Image, noise: float) -> Fit | None:
    """Look for the part that does not fit where it was: it must turn up close by as a whole."""
    solid = (unfit > 0.5).astype(np.uint8)
    if int(solid.sum()) < 25:
        return None
    part = Texture(texture.image, unfit)
    x, y, w, h = cv2.boundingRect(solid)
    reach = int(0.4 * max(texture.image.shape)) + 1
    middle = texture.middle
    size = (texture.image.shape[1] + 2 * reach, texture.image.shape[0] + 2 * reach)
    view = cv2.warpAffine(
        picture, fit.place.matrix(middle + complex(reach, reach)), size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    area = view[y : y + h + 2 * reach, x : x + w + 2 * reach]
    score = cv2.matchTemplate(
        area, texture.image[y : y + h, x : x + w], cv2.TM_CCORR_NORMED, mask=unfit[y : y + h, x : x + w]
    )
    score[~np.isfinite(score)] = -1
    _, _, _, (right, down) = cv2.minMaxLoc(score)
    shift = complex(right - reach, down - reach)
    start = Similarity(fit.place.m, fit.place(shift), fit.place.n)
    best = part.find(picture, start, noise, 6, fit.gain, fit.bias)
    away = abs(best.place.c - fit.place.c)
    if best.seen < 0.6 or best.likeness < 0.6 or away < 0.7 or abs(best.place.scale / fit.place.scale - 1) > 0.25:
        return None
    # the whole texture at that place: what of it fits there too
    return texture.find(picture, best.place, noise, 0, fit.gain, fit.bias)
