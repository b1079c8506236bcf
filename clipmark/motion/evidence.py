"""What the pictures say about one candidate: the moment before and the moment after, laid over each other.

Several pictures of each side are averaged in the scene's own frame (camera taken out). Then two stories are compared
pixel by pixel: nothing moved, or the abdomen moved as its trace says. Inside the outline the second must explain the
picture better. Round the outline it must not: where the surroundings went the same way, the whole animal moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.outlines import Shape, oval
from clipmark.motion.pose import Crop
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Image, Texture

_CAP = 9.0  # squared deviation at which a pixel has said all that it can
_FAR = 1.0  # from here on, in abdomen lengths from its middle, lies the rest of her body, not skin that is dragged
_SPEAKS = 0.3  # so much of the outline's area must be able to show it, before "nothing went along there" counts
_CLEAR = 1.5  # what lies nearer, by the outline, may be dragged along by a pull: skin, a leg that lies on it


@dataclass(frozen=True, slots=True)
class Sight:
    """One picture's surroundings of the abdomen, with the scene's and the abdomen's place in it."""

    crop: Crop
    scene: Similarity  # scene -> picture
    place: Similarity  # outline -> picture


@dataclass(frozen=True, slots=True)
class Evidence:
    """Attributes:
    inside: how much better "the abdomen moved" explains the outline's pixels, 0..1.
    left: share of the outline's pixels that neither story explains, 0..1.
    along: evidence round the outline for going the same way, against that inside; 1 means as much again.
    still: how much the surroundings changed in other ways, 0..1.
    change: the abdomen's motion in the scene, as a similarity about its middle before (picture pixels).
    likeness: correlation of the abdomen after with the abdomen before.
    gain: brightness after by brightness before; `blur`: fine detail after by before, in the surroundings.
    """

    inside: float
    left: float
    along: float
    still: float
    change: Similarity
    likeness: float
    gain: float
    blur: float

    def features(self) -> dict[str, float]:
        """Name to value, as the scorer takes them."""
        return {
            "inside": self.inside,
            "left": self.left,
            "along": self.along,
            "still": self.still,
            "likeness": self.likeness,
            "gain": abs(float(np.log(max(self.gain, 0.05)))),
            "blur": abs(float(np.log(max(self.blur, 0.05)))),
        }


def weigh(before: Sequence[Sight], after: Sequence[Sight], shape: Shape) -> Evidence:
    """Compare the two sides of a candidate.

    Args:
        before, after: sights of each side, at least one.
        shape: of the outline, picture pixels.
    """
    factor, length = abs(before[-1].crop.up.m), shape.length
    here, there = _place(before), _place(after)
    reach = int(1.28 * length / factor)
    grid = Similarity(complex(factor), here.c - complex(reach, reach) * factor)
    old, old_spread, old_valid = _average(before, grid, 2 * reach + 1)
    new, new_spread, new_valid = _average(after, grid, 2 * reach + 1)
    shade = 2 * int(0.3 * length / factor) + 3
    raw_gain = float(new[new_valid].std() / (old[old_valid].std() + 1e-3)) if new_valid.any() else 1.0
    old, new = old - cv2.blur(old, (shade, shade)), new - cv2.blur(new, (shade, shade))
    noise2 = cv2.blur(old_spread / len(before) + new_spread / len(after), (5, 5)) + 0.6**2
    # what moved is sampled between pixels and lit a little otherwise: it never fits exactly
    noise2 += 0.04 * cv2.blur(old * old, (shade, shade))
    valid = old_valid & new_valid

    onto = grid.inverse
    size = (max(8, round(shape.w / factor)) + 4, max(8, round(shape.h / factor)) + 4)
    support = shape.support(size, factor, 1.0)
    texture = Texture(np.zeros(size[::-1], np.float32), support)
    start = onto.after(here).after(Similarity(complex(factor)))
    texture = Texture(texture.cut(old, start), support)
    goal = onto.after(there).after(Similarity(complex(factor)))
    noise = float(np.sqrt(np.median(noise2[valid]))) if valid.any() else 2.0
    fit = texture.find(new, goal, max(1.0, 1.5 * noise), 6, bend=True)
    if abs(fit.place.c - goal.c) > 0.1 * length / factor:
        fit = texture.find(new, goal, max(1.0, 1.5 * noise), 0)
    move = fit.place.after(start.inverse)  # grid -> grid
    gain = min(2.0, max(0.5, fit.gain))

    carried = cv2.warpAffine(
        old, move.inverse.matrix(), old.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    # bilinear sampling blurs what moved by a part of a pixel; blur both stories alike
    still_story = _deviation(new, old, gain, noise2)
    moved_story = _deviation(new, carried, gain, noise2)
    inside = _oval_at(goal, size, support, old.shape) * valid
    wide = oval(size, (shape.w / factor, shape.h / factor), _CLEAR)
    hull = np.maximum(_oval_at(start, size, wide, old.shape),
                      _oval_at(fit.place, size, wide, old.shape))  # fmt: skip
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    ring = ((x * x + y * y) <= reach * reach) * (1.0 - np.clip(hull * 1.5, 0, 1)) * valid
    better = still_story - moved_story
    area = float(inside.sum()) + 1e-6
    gained = float((better * inside).sum())
    lost = float((np.minimum(still_story, moved_story) * inside).sum())
    changed = ring * (still_story > 4.0)
    along = float((better * changed).sum())
    far = (x * x + y * y) * factor * factor >= (_FAR * length) ** 2
    along *= _as_a_body(far * ring, better * changed, _deviation(carried, old, 1.0, noise2), gained, area)
    around = float((np.minimum(still_story, moved_story) * ring).sum()) / (float(ring.sum()) + 1e-6)
    rough = _detail(new, ring) / max(_detail(old, ring), 1e-3)
    whole = grid.after(fit.place).after(Similarity(complex(1 / factor)))
    change = Similarity(whole.m / here.m, whole.c - here.c)
    return Evidence(
        gained / area / _CAP, lost / area / _CAP, along / max(gained, 0.02 * area * _CAP), around / _CAP,
        change, fit.likeness, raw_gain, rough,
    )  # fmt: skip


def _as_a_body(far: Image, went: Image, apart: Image, gained: float, area: float) -> float:
    """How far going along near the outline speaks for the whole animal, 0.3..1: skin and what lies on her is dragged
    by a pull too, but a body that walks or is pushed goes along farther out as well. Where nothing farther out could
    show it, it is believed.

    Args:
        far: weights of the pixels farther out; went: evidence for going the same way, a pixel each.
        apart: how far the two stories differ, a pixel each (squared deviations).
        gained, area: evidence inside the outline, and its pixels.
    """
    could = float((far * (apart > 4.0)).sum())
    if could < _SPEAKS * area:
        return 1.0
    share = float((went * far).sum()) / max(gained, 0.02 * area * _CAP)
    return 0.3 + 0.7 * float(np.clip(share / 0.12, 0.0, 1.0))


def _place(sights: Sequence[Sight]) -> Similarity:
    """The abdomen in the scene: the middle one of several."""
    places = [sight.scene.inverse.after(sight.place) for sight in sights]
    c = complex(float(np.median([p.c.real for p in places])), float(np.median([p.c.imag for p in places])))
    m = complex(float(np.median([p.m.real for p in places])), float(np.median([p.m.imag for p in places])))
    return Similarity(m, c, places[len(places) // 2].n)


def _average(sights: Sequence[Sight], grid: Similarity, side: int) -> tuple[Image, Image, Image]:
    """Mean and variance in time over the sights in the scene's frame, and where all of them reach."""
    total = np.zeros((side, side), np.float32)
    squares = np.zeros((side, side), np.float32)
    valid = np.ones((side, side), bool)
    for i, sight in enumerate(sights):
        way = sight.crop.up.inverse.after(sight.scene).after(grid).matrix()
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        seen = cv2.warpAffine(
            sight.crop.grey.astype(np.float32), way, (side, side), flags=flags, borderMode=cv2.BORDER_CONSTANT,
            borderValue=-1e4,
        )  # fmt: skip
        if i in (0, len(sights) - 1):
            valid &= seen > -1.0
        seen = np.maximum(seen, 0)
        total += seen
        squares += seen * seen
    mean = total / len(sights)
    spread = np.maximum(squares / len(sights) - mean * mean, 0) * (len(sights) / max(1, len(sights) - 1))
    return cv2.GaussianBlur(mean, (0, 0), 0.8), spread, valid


def _deviation(new: Image, story: Image, gain: float, noise2: Image) -> Image:
    """Squared deviation in noise units, capped; averaged a little so that single pixels do not decide."""
    return np.minimum(cv2.blur((new - np.float32(gain) * story) ** 2, (3, 3)) / noise2, _CAP)


def _oval_at(place: Similarity, size: tuple[int, int], support: Image, shape: tuple[int, ...]) -> Image:
    middle = complex((size[0] - 1) / 2, (size[1] - 1) / 2)
    return cv2.warpAffine(support, place.matrix(middle), shape[::-1], flags=cv2.INTER_LINEAR)


def _detail(picture: Image, where: Image) -> float:
    fine = cv2.Laplacian(picture, cv2.CV_32F)
    return float(np.sqrt((fine * fine * where).sum() / (where.sum() + 1e-6)))
