"""Cuts and dissolves: where one camera view ends and the next begins."""

from __future__ import annotations

import cv2
import numpy as np

from clipmark.motion.align import Grey, Image
from clipmark.motion.result import Shot


class ShotFinder:
    """Takes small pictures one by one and says at the end where the cuts were."""

    def __init__(self) -> None:
        self._before: Image | None = None
        self._jumps: list[float] = []

    def take(self, small: Grey) -> float:
        """The next small picture (see `camera.coarse`); returns how much it differs from the one before, 0..1."""
        view = cv2.resize(small, (32, 18), interpolation=cv2.INTER_AREA).astype(np.float32)
        jump = 0.0
        if self._before is not None:
            a, b = view - view.mean(), self._before - self._before.mean()
            power = float(np.sqrt((a * a).sum() * (b * b).sum())) + 32 * 18 * 4.0
            jump = float(np.clip(1.0 - float((a * b).sum()) / power, 0, 1))
        self._before = view
        self._jumps.append(jump)
        return jump

    def shots(self) -> tuple[Shot, ...]:
        jumps = np.array(self._jumps)
        starts, begins = [0], ["film"]
        for i in np.flatnonzero(jumps > 0.45):
            around = np.r_[jumps[max(0, i - 6) : i], jumps[i + 1 : i + 7]]
            if jumps[i] > 3 * np.median(around) + 0.2 and i - starts[-1] >= 3:
                starts.append(int(i))
                begins.append("cut")
        ends = [*starts[1:], len(jumps)]
        return tuple(Shot(a, b, how) for a, b, how in zip(starts, ends, begins, strict=True) if b > a)
