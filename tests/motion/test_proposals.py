"""After a cut the program proposes where the abdomen is; the keeper confirms."""

from __future__ import annotations

import cv2
import numpy as np

from clipmark.motion.proposals import propose
from clipmark.motion.result import Box


def scene(x: float, y: float, degrees: float, ground: int) -> np.ndarray:
    draw = np.random.default_rng(ground)
    picture = 120 + 15 * cv2.GaussianBlur(draw.normal(0, 3, (180, 240)).astype(np.float32), (0, 0), 2)
    skin = 50 + 20 * cv2.GaussianBlur(
        np.random.default_rng(77).normal(0, 3, (180, 240)).astype(np.float32), (0, 0), 3
    )
    inside = np.zeros((180, 240), np.float32)
    cv2.ellipse(inside, (120, 90), (30, 22), 0, 0, 360, 1.0, -1)
    move = cv2.getRotationMatrix2D((120, 90), -degrees, 1.0) + np.float64([[0, 0, x - 120], [0, 0, y - 90]])
    inside, skin = (cv2.warpAffine(part, move, (240, 180)) for part in (inside, skin))
    return np.clip(picture * (1 - inside) + skin * inside, 0, 255).astype(np.uint8)


def test_the_abdomen_is_proposed_where_it_lies_after_a_cut_though_turned() -> None:
    found = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(150, 110, 40, 2), frame=30)

    assert found is not None
    middle = (found.box.x + found.box.w / 2, found.box.y + found.box.h / 2)
    assert np.hypot(middle[0] - 150, middle[1] - 110) < 6
    assert 30 == found.box.frame


def test_a_view_without_her_gives_a_weaker_proposal() -> None:
    there = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(150, 110, 40, 2), frame=30)
    empty = propose(scene(90, 70, 0, 1), Box(0, 60, 48, 60, 44), scene(900, 900, 0, 2), frame=30)

    assert there is not None
    assert empty is not None
    assert empty.confidence < there.confidence
