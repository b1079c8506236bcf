"""Which blocks changed by more than noise explains, joined to regions; and how far what is in them moved.

Each block is measured against what is usual: for its contrast in this pair of pictures (a camera that moved by a
tenth of a pixel changes every edge), and for itself over the minutes round it (own method). A shift follows from the
energy of the difference and the steepness of the picture, and is set against the size of the region: the chest of an
animal that breathes moves by less than a hundredth of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from clipmark.motion.survey.change import Change
from clipmark.motion.survey.look import BLOCK
from clipmark.motion.texture import Image

_NEAR = 40  # pairs on either side from which a block's usual change is taken
_SEED, _GROW = 2.7, 1.7  # times the usual: where a region begins, and how far it goes
_TINY, _TINY_SEED = 2, 3.6  # regions of so few blocks need more
_WIDE_SEED, _WIDE_LEAST, _WIDE_COPIED, _WIDE_SURE = 1.28, 1.42, 1.9, 1.3  # the same for nine blocks together
_MOVED = 0.012  # shift against the region's size
_ELSE = 0.4  # or so much of the picture there is another one
_TAIL = 1.3  # what 19 blocks in 20 stay below in a pair without swimming texture
_RIM = 0.2  # of the strongest block
_BY_HAND, _HAND = 0.5, 1.5  # where the camera moved by so many pixels, so much more is asked of a region
_WEAK = 1.6  # a region whose strongest block is below so many seeds must be seen twice


@dataclass(frozen=True, slots=True)
class Region:
    """Something that changed between two pictures; pixels of the look.

    Attributes:
        box: x, y, w, h.
        blocks: how many.
        strength: the most times that a block in it exceeds its usual change.
        sure: whether it need not be seen twice.
        shift: how far it moved, pixels; a least, as large shifts saturate.
        other: how much of it is another picture, 0..1.
    """

    box: tuple[int, int, int, int]
    blocks: int
    strength: float
    shift: float
    other: float
    sure: bool

    @property
    def moved(self) -> bool:
        """Whether the shift is more than breathing."""
        return self.other > _ELSE or self.shift > _MOVED * max(self.box[2:])


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What one pair of pictures shows.

    Attributes:
        regions: all that changed, the strongest first.
        share: of the picture that lies in regions which moved.
        excess: (rows, columns) times the usual change of each block.
    """

    regions: tuple[Region, ...]
    share: float
    excess: Image

    @property
    def moved(self) -> tuple[Region, ...]:
        """The regions that moved."""
        return tuple(region for region in self.regions if region.moved)


def see(changes: Sequence[Change], floor: Image | float = 0.0) -> list[Seen]:
    """Judge pairs of one kind together, in order of time: the more there are, the better noise is known.

    Args:
        floor: energy that is taken for noise in any case, per block. Between keyframes a coder copies what hardly
            changes, noise and all, so that nothing else would be left to measure against.
    """
    if not changes:
        return []
    energy = np.stack([one.energy for one in changes])
    steep = np.stack([one.steep for one in changes])
    detail = np.stack([one.detail for one in changes])
    model = np.stack([explained(e, g) for e, g in zip(energy, steep, strict=True)])
    relative = energy / model
    usual = _usual(relative)
    scale = np.median((relative / usual).reshape(len(changes), -1), axis=1)
    expected = np.maximum(model * usual * np.maximum(scale, 0.3)[:, None, None], floor)
    excess = np.sqrt(energy / expected)
    out = []
    for i, one in enumerate(changes):
        ask = _HAND if one.move.far > _BY_HAND else 1.0
        copied = bool((expected[i] <= floor).mean() > 0.5)
        out.append(_regions(excess[i], energy[i] - 1.2 * expected[i], steep[i], detail[i], ask, copied))
    return out


def explained(energy: Image, steep: Image) -> Image:
    """Energy of each block that noise and a slight misfit of the camera's motion explain, (rows, columns):
    n² + ε²·steep, fitted to the medians of blocks of like contrast."""
    order = np.argsort(steep, axis=None)
    groups = np.array_split(order, 10)
    x = np.array([np.median(steep.ravel()[g]) for g in groups])
    y = np.array([np.median(energy.ravel()[g]) for g in groups])
    noise = float(y[:3].min())
    slope = float(np.median((y[4:] - noise) / (x[4:] + 1e-3)))
    return (max(noise, 0.02) + max(slope, 1e-5) * steep).astype(np.float32)


def _usual(relative: Image) -> Image:
    """For each block and pair, the median over the pairs near in time; between a third and six times the model."""
    count = len(relative)
    if count < 6:
        return np.ones_like(relative)
    out = np.empty_like(relative)
    step = max(_NEAR // 2, 1)
    for start in range(0, count, step):
        low, high = max(0, start - _NEAR), min(count, start + step + _NEAR)
        out[start : start + step] = np.median(relative[low:high], axis=0)
    return np.clip(out, 0.33, 6.0)


def _regions(excess: Image, left: Image, steep: Image, detail: Image, ask: float, copied: bool) -> Seen:
    # texture that swims under a hand-held camera, as coders draw it, shows in many blocks: then more is asked of each
    swims = ask * float(np.clip(np.quantile(excess, 0.95) / _TAIL, 1.0, 2.0))
    # what is weak but wide stands out where nine blocks are taken together
    wide = np.sqrt(np.maximum(cv2.blur(excess * excess, (3, 3), borderType=cv2.BORDER_REFLECT), 0))
    # (what is left where a coder copies the picture before comes in lumps: there it means less)
    seed = ask * max(_WIDE_SEED * float(np.quantile(wide, 0.95)), _WIDE_COPIED if copied else _WIDE_LEAST)
    over = ((excess > _GROW * swims) | (wide > seed)).astype(np.uint8)
    left = np.maximum(left, cv2.blur(left, (3, 3), borderType=cv2.BORDER_REFLECT))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(over, connectivity=8)
    found = []
    moved_blocks = 0
    for k in range(1, count):
        x, y, w, h, blocks = (int(v) for v in stats[k])
        part = (slice(y, y + h), slice(x, x + w))
        inside = labels[part] == k
        strength = float(excess[part][inside].max())
        least = swims * (_TINY_SEED if blocks <= _TINY else _SEED)
        widest = float(wide[part][inside].max()) / seed
        if strength < least and widest < 1.0:
            continue
        sure = strength > _WEAK * least or widest > _WIDE_SURE
        changed = np.maximum(left[part][inside], 0)
        total = float(changed.sum()) + 1e-6
        # what moved most counts most: a leg that taps moves little of the animal, but far
        shift = float((changed * np.sqrt(changed / np.maximum(steep[part][inside], 1.0))).sum()) / total
        other = float((changed * (changed / (detail[part][inside] + 1.0))).sum()) / total
        box = _tight(excess[part] * inside, x, y, strength)
        region = Region(box, blocks, strength, shift, min(other, 1.0), sure)
        found.append(region)
        if region.moved:
            moved_blocks += blocks
    found.sort(key=lambda region: -region.strength)
    return Seen(tuple(found), moved_blocks / excess.size, excess)


def _tight(excess: Image, x: int, y: int, strength: float) -> tuple[int, int, int, int]:
    """Box round what changed clearly: the rim of a strong region is mostly blur."""
    rows, columns = np.nonzero(excess >= _RIM * strength)
    left, top = int(columns.min()), int(rows.min())
    wide, high = int(columns.max()) - left + 1, int(rows.max()) - top + 1
    return (x + left) * BLOCK, (y + top) * BLOCK, wide * BLOCK, high * BLOCK
