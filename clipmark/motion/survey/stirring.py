"""Which blocks stirred within a second, by far more than they do at rest; joined to regions.

All pictures of a second are compared with its first one, and what differs is added up: noise averages out, movement
does not. Each block is then set against itself over the whole film, in the second's own kind (begun at a keyframe or
not): logs of energy, with the lower quantiles for rest, as film of animals is mostly still (own method). Blocks are
judged alone, and in squares of nine and of twenty-five, since what is weak is often wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.change import Change
from clipmark.motion.survey.look import BLOCK
from clipmark.motion.survey.regions import Region, Seen, explained
from clipmark.motion.texture import Image

_NOISE_AT, _FLOOR, _LEAST_FLOOR = 0.9, 1.5, 0.3  # quantile of the energy that is taken for noise, times it
_MOST_FLOOR = 6.0  # grey levels²: what is more is no noise, but film in which much always moves
_REST, _MIDDLE, _BETWEEN = 0.2, 0.45, 0.716  # quantiles over time, and deviations between them in a normal spread
_LEAST_SPREAD = 0.3  # of the log of energy: still blocks are copied by coders, which is no measure of noise
_RESTS = 1.8  # log of energy above what is explained, at most, for a block at rest: what always moves is not at rest
# squares of blocks, and for each: deviations from rest that are enough, and times what the film shows anyway
_SQUARES = ((1, 5.5, 3.7), (3, 2.9, 3.55), (5, 3.8, 1.83))
_ANYWAY = 0.1  # quantile of the most that each second shows: film is still in so many
_GROW, BARELY = 0.5, 0.79  # of what is enough: so far a region goes; a second beside one that moves moves too
_CORE = 0.5  # of the strongest block: the box is drawn round these
_FEW, _A_VIEW = 10, 12  # seconds of one kind, and of one view, below which they tell nothing of rest
_PANNED = 6.0  # pixels: pictures from which the camera moved by more are left out where others are there
_SHIFT = 0.004  # of the region's size: what shifts less breathes


@dataclass(frozen=True, slots=True)
class Second:
    """Changes from the first picture of a second, or of what of it follows a keyframe, to later ones of it."""

    key: bool
    changes: tuple[Change, ...]


def stirred(seconds: Sequence[Second], cuts: Sequence[int] = ()) -> list[Seen]:
    """What each second shows, judged together; the regions of `Seen` are those that moved.

    Args:
        seconds: in order of time.
        cuts: frames that begin a new view.
    """
    if not seconds:
        return []
    floor = _noise(seconds)
    logs, left = _above_model(seconds, floor)
    views = np.searchsorted(np.asarray(cuts, np.int64), [one.changes[0].first for one in seconds], side="right")
    kinds = np.array([one.key for one in seconds])
    reach = np.zeros_like(logs)
    for square, enough, restless in _SQUARES:
        wide = logs if square == 1 else np.stack([_mean(one, square) for one in logs])
        above = _above_rest(wide, views)
        most = above.reshape(len(above), -1).max(axis=1)
        for kind in (False, True):
            mine = kinds == kind
            anyway = float(np.quantile(most[mine], _ANYWAY)) if mine.sum() >= _FEW else 0.0
            reach[mine] = np.maximum(reach[mine], above[mine] / max(enough, restless * anyway))
    return [_regions(reach[i], left[i], one.changes[0].steep, one.changes[0].detail) for i, one in enumerate(seconds)]


def _noise(seconds: Sequence[Second]) -> float:
    """Energy below which a change is noise as coders draw it: still blocks are copied, and then renewed in lumps."""
    usual = np.median([np.quantile(one.changes[-1].energy, _NOISE_AT) for one in seconds])
    return float(np.clip(_FLOOR * usual, _LEAST_FLOOR, _MOST_FLOOR))


def _above_model(seconds: Sequence[Second], floor: float) -> tuple[Image, Image]:
    """(n, rows, columns) log of how many times what is explained each block of each second changed, and the energy
    that is left, its mean over the second."""
    logs, left = [], []
    for one in seconds:
        near = [change for change in one.changes if change.move.far < _PANNED] or list(one.changes)
        times, more = np.zeros_like(near[0].energy), np.zeros_like(near[0].energy)
        for change in near:
            model = np.maximum(explained(change.energy, change.steep), floor)
            times += (change.energy + floor) / (model + floor)
            more += np.maximum(change.energy - 1.5 * model, 0)
        logs.append(np.log(times / len(near)))
        left.append(more / len(near))
    return np.stack(logs), np.stack(left)


def _above_rest(wide: Image, views: NDArray[np.int64]) -> Image:
    """How many deviations each block lies above its own rest in its own view."""
    above = np.empty_like(wide)
    for view in np.unique(views):
        mine = views == view
        low, middle = np.quantile(wide[mine] if mine.sum() >= _A_VIEW else wide, (_REST, _MIDDLE), axis=0)
        spread = (middle - low) / _BETWEEN
        middle = np.minimum(middle, _RESTS)
        spread = np.sqrt((spread**2 + np.median(spread) ** 2) / 2) + _LEAST_SPREAD
        above[mine] = (wide[mine] - middle - 0.126 * spread) / spread  # (the middle of rest lies so much higher)
    return above


def _mean(values: Image, square: int) -> Image:
    mean: Image = cv2.blur(values, (square, square), borderType=cv2.BORDER_REFLECT)
    return mean


def _regions(reach: Image, left: Image, steep: Image, detail: Image) -> Seen:
    over = (reach > _GROW).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(over, connectivity=8)
    found, moved = [], 0
    for k in range(1, count):
        x, y, w, h, blocks = (int(v) for v in stats[k])
        part = (slice(y, y + h), slice(x, x + w))
        inside = labels[part] == k
        strength = float(reach[part][inside].max())
        if strength < BARELY:
            continue
        changed = left[part][inside]
        total = float(changed.sum()) + 1e-6
        # what moved most counts most: a leg that taps moves little of the animal, but far
        shift = float((changed * np.sqrt(changed / np.maximum(steep[part][inside], 1.0))).sum()) / total
        other = float((changed * (changed / (detail[part][inside] + 1.0))).sum()) / total
        rows, columns = np.nonzero((reach[part] * inside) >= _CORE * strength)
        box = (
            (x + int(columns.min())) * BLOCK,
            (y + int(rows.min())) * BLOCK,
            (int(columns.max()) - int(columns.min()) + 1) * BLOCK,
            (int(rows.max()) - int(rows.min()) + 1) * BLOCK,
        )
        region = Region(box, blocks, strength, shift, min(other, 1.0), strength >= 1.0)
        if shift > _SHIFT * max(box[2:]):
            found.append(region)
            moved += blocks if region.sure else 0
    found.sort(key=lambda region: -region.strength)
    return Seen(tuple(found), moved / reach.size, reach)
