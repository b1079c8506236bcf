"""Her abdomen as a region, from a hint: a rough box, or one press in its middle.

What moves as one against the ground near the hint, and does so again and again, is her abdomen (`moved`). Where
nothing has moved yet, what stands out from its surroundings there is proposed, with less confidence (`looks`).
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.errors import ClipmarkError
from clipmark.motion.camera import Camera, coarse
from clipmark.motion.held import CAP, SIDE, HeldChange, HeldChanges, shadeless
from clipmark.motion.looks import stands_out
from clipmark.motion.moved import Mask, MovedPart, moved_parts
from clipmark.motion.outlines import Shape
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Grey, Image, Texture

PRESS_REACH = 0.36  # round a press it is looked as far as this share of the picture's shorter side
PRESS_SIZE = 0.2  # an abdomen is about so long against that side, until more is known
_GROW = 0.05  # a region that moved shows a little smaller than it is: its edges have nothing to compare
_SURE = 0.15
_VOTES = 6  # so many of the regions that are like the best one decide on its border
_EVENTS = 32  # the clearest are looked into


class NothingThere(ClipmarkError):
    """A hint from which no region can be told."""

    def __init__(self, x: float, y: float, at_s: float | None = None):
        when = "" if at_s is None else f" at {at_s:.1f} s"
        super().__init__(
            f"The press on {x:.0f}, {y:.0f}{when}: nothing there moves as one; draw a box round her abdomen."
        )
        self.x, self.y = x, y


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Her abdomen on the picture of the hint.

    Attributes:
        x, y, w, h: the upright box round it, pixels of the picture.
        centre: its middle, complex pixels.
        length, width: of the ellipse with the same moments, pixels.
        angle_deg: of its long axis, clockwise from right as seen on the screen, -90..90.
        confidence: 0..1.
        source: "moved" or "looks".
        mask: float32 0..1; `cells` maps its cells to pixels from the box's middle.
    """

    x: float
    y: float
    w: float
    h: float
    centre: complex
    length: float
    width: float
    angle_deg: float
    confidence: float
    source: str
    mask: Image
    cells: Similarity

    @property
    def shape(self) -> Shape:
        """As the follower takes it."""
        return Shape(self.w, self.h, self.length, self.mask, self.cells)

    def outline(self) -> NDArray[np.float64]:
        """Its border, (n, 2) pixels of the picture, for drawing."""
        borders, _ = cv2.findContours((self.mask > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        if not borders:
            return np.empty((0, 2))
        points = max(borders, key=len)[:, 0, :]
        middle = complex(self.x + (self.w - 1) / 2, self.y + (self.h - 1) / 2)
        placed = [self.cells(complex(float(x), float(y))) + middle for x, y in points]
        return np.array([(p.real, p.imag) for p in placed])


def find_region(
    pictures: Iterable[tuple[float, Grey]], at: int, hint: tuple[float, float] | tuple[float, float, float, float]
) -> Region:
    """Her abdomen from a press or a rough box.

    Args:
        pictures: time in seconds and grey picture (h, w) uint8, from one view, in order of time; some seconds round
            the hint at the film's own rate are best, one picture alone will do.
        at: which of them the hint was made on, counted from 0.
        hint: (x, y) of a press in the middle of her abdomen, or (x, y, w, h) of a box, pixels of these pictures.
    Raises:
        NothingThere: a press on nothing that moves as one or stands out. A box always gives a region.
    """
    kept = list(pictures)
    if not 0 <= at < len(kept):
        raise ValueError("the hint lies on none of the pictures")
    shape = kept[at][1].shape
    camera, scenes = Camera(), []
    for _, picture in kept:
        small = coarse(picture)
        scenes.append(camera.follow(small, picture.shape[1] / small.shape[1]))
    press = len(hint) == 2
    size = PRESS_SIZE * min(shape[:2])
    box = hint if len(hint) == 4 else (hint[0] - size / 2, hint[1] - size / 2, size, size)
    changes = changes_for(box, scenes[at], shape, press)
    changes.look_at(kept[at][1], scenes[at])
    for (time, picture), scene in zip(kept, scenes, strict=True):
        changes.take(time, picture, scene)
    changes.finish()
    region = settled(changes, scenes[at], press)
    if region is None:
        raise NothingThere(hint[0], hint[1], kept[at][0])
    return region


def changes_for(
    hint: tuple[float, float, float, float], scene: Similarity, shape: tuple[int, ...], press: bool
) -> HeldChanges:
    """What collects the motion round a hint: a box, or round a press one of the size that is guessed. `scene` is the
    camera's on the hint's picture, `shape` the picture's."""
    x, y, w, h = hint
    middle = scene.inverse(complex(x + (w - 1) / 2, y + (h - 1) / 2))
    return HeldChanges(middle, (w, h), PRESS_REACH * min(shape[:2]) if press else 0.0)


def settled(changes: HeldChanges, scene: Similarity, press: bool) -> Region | None:
    """The region that the collected motion, or else the looks of the hint's picture, speak for; None where neither
    says enough (for a box: take it as it was drawn).

    Args:
        scene: the camera's on the hint's picture, scene -> picture.
        press: whether only the middle is known.
    """
    found = _by_motion(changes, press)
    source = "moved"
    if found is None:
        assert changes.seen is not None
        found = stands_out(changes.seen, changes.size, press)
        source = "looks"
    if found is None:
        return None
    mask, confidence = found
    return _region(mask, confidence, source, scene.after(changes.grid))


def _by_motion(changes: HeldChanges, press: bool) -> tuple[Mask, float] | None:
    clearest = sorted(changes.events, key=lambda event: -event.strength)[:_EVENTS]
    with ThreadPoolExecutor(os.cpu_count() or 1, "what moved") as pool:
        several = pool.map(lambda event: moved_parts(event, changes.near), clearest)
        parts = [(event, part) for event, found in zip(clearest, several, strict=True) for part in found]
    worths = [_worth(part, changes, press) for _, part in parts]
    backed = [_backing(i, parts, worths) for i in range(len(parts))]
    if not backed or max(backed) < _SURE:
        return None
    best = int(np.argmax(backed))
    for i, (_, part) in enumerate(parts):  # a part of it that moves alone as well is the better reading
        if backed[i] > max(_SURE, 0.5 * backed[best]) and _lies_in(part.mask, parts[best][1].mask):
            best = i
    own = parts[best][1].mask
    like = [
        (worth, event, part)
        for worth, (event, part) in zip(worths, parts, strict=True)
        if worth > 0 and _overlap(own, part.mask) > 0.5
    ]
    votes, total = np.zeros((SIDE, SIDE), np.float32), 0.0
    for worth, event, part in sorted(like, key=lambda item: -item[0])[:_VOTES]:
        place, alike = _on_hint(event, part, changes.seen)
        weight = worth * max(alike, 0.1)
        votes += weight * cv2.warpAffine(part.mask.astype(np.float32), place.matrix(), (SIDE, SIDE))
        total += weight
    moved = _grown(_largest(votes > 0.45 * total))
    if moved.sum() < 25:
        return None
    return moved, float(1 - math.exp(-backed[best] / 0.8))


def _backing(i: int, parts: list[tuple[HeldChange, MovedPart]], worths: list[float]) -> float:
    """What a region and the few others that are most like it say together: however often she walks, a part of her
    that moves alone some times is the better reading."""
    if worths[i] <= 0:
        return 0.0
    own = parts[i][1].mask
    near = sorted(
        (worth * _overlap(own, part.mask) ** 2 for worth, (_, part) in zip(worths, parts, strict=True)), reverse=True
    )
    return sum(near[:4])


def _worth(part: MovedPart, changes: HeldChanges, press: bool) -> float:
    """How much one moved region speaks for the abdomen that is hinted at."""
    area = float(part.mask.sum())
    hinted = 0.785 * changes.size[0] * changes.size[1]
    ratio = math.log(area * 1.4 / hinted)
    size = math.exp(-0.5 * (ratio / (0.9 if press else 0.7)) ** 2)
    middle = complex((SIDE - 1) / 2, (SIDE - 1) / 2)
    away = _middle(part.mask) - middle
    across = 0.5 * math.sqrt(area / math.pi) * 2 if press else 0.55 * max(changes.size)
    close = math.exp(-0.5 * (abs(away) / max(across, 1.0)) ** 2)
    if press and not part.mask[SIDE // 2 - 2 : SIDE // 2 + 3, SIDE // 2 - 2 : SIDE // 2 + 3].any():
        close *= 0.2
    clear = float(np.clip((part.share - 0.55) / 0.3, 0, 1)) ** 1.5
    gained = min(1.0, part.gained / (0.45 * CAP * area))
    step = min(1.0, part.shift / (0.1 * math.sqrt(area)))
    return size * close * clear * gained * step * _solid(part.mask)


def _solid(mask: Mask) -> float:
    """1 for a shape like an abdomen, round or oval without arms; towards 0 for strips and stars."""
    from skimage.measure import regionprops

    shape = regionprops(mask.astype(np.uint8))[0]
    slim = shape.axis_minor_length / max(shape.axis_major_length, 1e-6)
    return float(np.clip((shape.solidity - 0.6) / 0.25, 0, 1) * np.clip((slim - 0.25) / 0.25, 0, 1))


def _on_hint(event: HeldChange, part: MovedPart, seen: Image | None) -> tuple[Similarity, float]:
    """Where a region lies on the hint's picture, event cell -> cell there, and how alike both are."""
    if seen is None:
        return Similarity(), 0.0
    old, goal = shadeless(event.before), shadeless(seen)
    texture = Texture(old, cv2.blur(part.mask.astype(np.float32), (3, 3)))
    middle = texture.middle
    best, like = Similarity(), -1.0
    for start in (Similarity(), part.move):
        fit = texture.find(goal, Similarity(start.m, start(middle)), 4.0, 6)
        if fit.likeness > like and 0.7 < fit.place.scale < 1.4:
            best, like = Similarity(fit.place.m, fit.place.c - fit.place.m * middle), fit.likeness
    return (best, like) if like > 0.35 else (Similarity(), 0.0)


def _largest(mask: Mask) -> Mask:
    count, pieces = cv2.connectedComponents(mask.astype(np.uint8))
    if count < 3:
        return mask
    return np.asarray(pieces == int(np.bincount(pieces.ravel(), minlength=count)[1:].argmax()) + 1)


def _grown(mask: Mask) -> Mask:
    """Holes and dents filled, and a little larger."""
    filled: Image = mask.astype(np.uint8)
    side = 2 * max(1, round(0.12 * math.sqrt(float(mask.sum())))) + 1
    disk = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    filled = cv2.morphologyEx(filled, cv2.MORPH_CLOSE, disk)
    more = 2 * max(1, round(_GROW * math.sqrt(float(mask.sum())))) + 1
    filled = cv2.dilate(filled, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (more, more)))
    return filled.astype(bool)


def _region(mask: Mask, confidence: float, source: str, up: Similarity) -> Region:
    from skimage.measure import regionprops

    shape = regionprops(mask.astype(np.uint8))[0]
    top, left, bottom, right = shape.bbox
    corners = [up(complex(x, y)) for x in (left - 0.5, right - 0.5) for y in (top - 0.5, bottom - 0.5)]
    x, y = min(c.real for c in corners), min(c.imag for c in corners)
    w, h = max(c.real for c in corners) - x, max(c.imag for c in corners) - y
    middle = complex(x + (w - 1) / 2, y + (h - 1) / 2)
    row, column = shape.centroid
    axis = complex(math.sin(shape.orientation), math.cos(shape.orientation)) * up.m  # skimage: from the rows' axis
    angle = math.degrees(math.atan2(axis.imag, axis.real))
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 0.8)
    return Region(
        x, y, w, h, up(complex(column, row)), shape.axis_major_length * up.scale, shape.axis_minor_length * up.scale,
        (angle + 90) % 180 - 90, confidence, source, soft, Similarity(up.m, up.c - middle),
    )  # fmt: skip


def _overlap(a: Mask, b: Mask) -> float:
    both = float((a & b).sum())
    return both / max(float((a | b).sum()), 1.0)


def _lies_in(part: Mask, whole: Mask) -> bool:
    return float((part & whole).sum()) > 0.75 * float(part.sum()) and float(whole.sum()) > 2.2 * float(part.sum())


def _middle(mask: Mask) -> complex:
    y, x = np.nonzero(mask)
    return complex(float(x.mean()), float(y.mean()))


def likeness(region: Region, box: tuple[float, float, float, float]) -> float:
    """How much a region and the oval in a box overlap, 0..1 of what both cover; pixels of one picture."""
    x, y, w, h = box
    side = region.mask.shape[0]
    rows, columns = np.mgrid[0:side, 0:side]
    middle = complex(region.x + (region.w - 1) / 2, region.y + (region.h - 1) / 2)
    z = (columns + 1j * rows) * region.cells.m + region.cells.c + middle - complex(x + (w - 1) / 2, y + (h - 1) / 2)
    inside = (z.real / (w / 2)) ** 2 + (z.imag / (h / 2)) ** 2 < 1
    return _overlap(inside, region.mask > 0.5)
