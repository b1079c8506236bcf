"""What stands out from its surroundings at a hint, where nothing has moved yet: brightness and texture of the middle
against those round it (GrabCut on both, after Rother et al. 2004, from memory; OpenCV's)."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.texture import Image

Mask = NDArray[np.bool_]


def stands_out(seen: Image, size: tuple[float, float], press: bool) -> tuple[Mask, float] | None:
    """The region at the middle of a small picture, and a confidence of at most a half; None where none stands out.

    Args:
        seen: grey levels, float32 (n, n).
        size: width and height of what is hinted at, cells.
        press: whether the size is only a guess.
    """
    side = seen.shape[0]
    y, x = np.mgrid[0:side, 0:side].astype(np.float32) - np.float32((side - 1) / 2)
    found: list[tuple[Mask, float]] = []
    for scale in (0.55, 0.8, 1.2, 1.7) if press else (1.0,):
        r = np.hypot(x / (0.5 * scale * size[0]), y / (0.5 * scale * size[1]))
        if r[0].min() < 1.6:
            continue
        one = _grabbed(seen, r)
        if one is not None:
            found.append(one)
    return max(found, key=lambda item: item[1], default=None)


def _grabbed(seen: Image, r: Image) -> tuple[Mask, float] | None:
    smooth = cv2.GaussianBlur(seen, (0, 0), 1.0)
    rough = cv2.blur(np.abs(seen - cv2.blur(seen, (5, 5))), (7, 7))
    even = cv2.blur(seen, (9, 9))
    planes = [np.clip(128 + 50 * (p - p.mean()) / (p.std() + 1.0), 0, 255).astype(np.uint8)
              for p in (smooth, even, rough)]  # fmt: skip
    labels: Image = np.full(seen.shape, cv2.GC_PR_BGD, np.uint8)
    labels[r < 0.95] = cv2.GC_PR_FGD
    labels[r < 0.35] = cv2.GC_FGD
    labels[r > 1.9] = cv2.GC_BGD
    cv2.setRNGSeed(1)
    try:
        models = np.zeros((1, 65)), np.zeros((1, 65))
        cv2.grabCut(cv2.merge(planes), labels, (0, 0, 1, 1), *models, 4, cv2.GC_INIT_WITH_MASK)
    except cv2.error:
        return None
    inside = ((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)).astype(np.uint8)
    inside = cv2.morphologyEx(inside, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, pieces = cv2.connectedComponents(inside)
    here = int(pieces[seen.shape[0] // 2, seen.shape[1] // 2])
    if count < 2 or here == 0:
        return None
    mask = (pieces == here).astype(np.uint8)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(mask, outlines, -1, 1, cv2.FILLED)
    area, hinted = float(mask.sum()), float((r < 1).sum())
    hull = float(cv2.contourArea(cv2.convexHull(max(outlines, key=len)))) + 1.0
    if not 0.3 * hinted < area < 2.2 * hinted or area / hull < 0.8:
        return None
    wide, close = (cv2.dilate(mask, np.ones((side, side), np.uint8)).astype(bool) for side in (9, 3))
    ring = wide & ~close
    own = mask.astype(bool)
    apart = [abs(float(p[own].mean()) - float(p[ring].mean())) / (0.5 * float(p[own].std() + p[ring].std()) + 1.0)
             for p in (smooth, rough)]  # fmt: skip
    clear = max(apart)
    if clear < 0.8 or float(np.abs(smooth[own].mean() - smooth[ring].mean())) + float(rough[own].mean()) < 2.0:
        return None
    return own, float(min(0.5, 0.25 * clear))
