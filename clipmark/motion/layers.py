"""Whether a motion was her abdomen's alone, or what lies beside it went along: the whole animal, or the view."""

from __future__ import annotations

import math

import cv2
import numpy as np

from clipmark.motion.held import HeldChange
from clipmark.motion.moved import Mask, stories
from clipmark.motion.similarity import Similarity

_NEAR_S = 0.45  # an event so close to a posture change shows the same moment
_SPEAKS = 1.5
WHOLE_BODY = 0.3  # from here on both witnesses tell of the whole animal's motion
# Measured: pulls reach 0.13 on four rendered and photographed films (boxes up to half wrong) and 0.20 on the sample
# session with rough boxes; its lurch of the whole animal begins at 0.34.
_BEGINS, _SURE = 0.22, 0.4
_LEFT = 0.3  # of the score, where the whole animal surely went


def went_as_a_whole(features: dict[str, float]) -> float:
    """How far both witnesses say that the whole animal moved, 0 for a pull: their geometric mean, so that neither
    speaks alone. `beyond` is told from held changes, `along` from the pictures just before and after (evidence.py) or
    from her carapace's own outline: a leg that lies on her, or the male, seldom deceives both."""
    return math.sqrt(max(features.get("beyond", 0.0), 0.0) * max(features.get("along", 0.0), 0.0))


def hers_alone(features: dict[str, float]) -> float:
    """How much of a score is left, 1 down to 0.3: a pull draws her abdomen alone; where carapace and legs beside it
    went the same way, she stepped or was pushed as a whole."""
    share = min(max((went_as_a_whole(features) - _BEGINS) / (_SURE - _BEGINS), 0.0), 1.0)
    return 1.0 - (1.0 - _LEFT) * share


def nearest(events: list[HeldChange], at: float) -> HeldChange | None:
    """The held change that shows a moment, if one does."""
    near = [event for event in events if abs(event.time - at) < _NEAR_S]
    return max(near, key=lambda event: event.strength * (1 - abs(event.time - at)), default=None)


def beyond(event: HeldChange, move: Similarity, own: Mask) -> float:
    """What else went the same way, joined to her abdomen, against the abdomen itself: 0 for a pull, 1 and more for a
    step of the whole animal.

    Args:
        move: her abdomen's motion, cell -> cell.
        own: her abdomen before it.
    """
    still, went = stories(event, move)
    speaks = still - went > _SPEAKS
    against = (still - went < -_SPEAKS) | ((still > 4) & (went > 4))
    vote = cv2.blur(speaks.astype(np.float32) - against.astype(np.float32), (7, 7)) > 0.2
    joined = (vote | own).astype(np.uint8)
    count, pieces = cv2.connectedComponents(joined)
    if count < 2 or not own.any():
        return 0.0
    here = int(np.bincount(pieces[own].ravel(), minlength=count)[1:].argmax()) + 1
    side = 2 * max(1, round(0.12 * float(np.sqrt(own.sum())))) + 1
    wide = cv2.dilate(own.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))).astype(bool)
    outside = float(((pieces == here) & speaks & ~wide).sum())
    inside = float((speaks & own).sum())
    return outside / max(inside, 0.15 * float(own.sum()), 1.0)
