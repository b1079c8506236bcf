"""How much moves, told by the sizes of the packets alone: no picture is decoded.

A coder spends bytes on what it cannot copy from the picture before. Sizes are compared with their own kind:
leaned on or not (P and B), and as far from the keyframe. What is usual for a kind is read off its low quantiles,
since film of animals is mostly still, within some minutes, since light and noise change over hours (own method; that
size follows movement is common practice).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.values import Floats

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

BIN = 0.25  # seconds
_BLOCK = 240.0  # seconds within which sizes are compared
LOUD = 8.0  # deviations above the usual: something moves. Film that never gets there tells nothing
_FEW = 12  # packets of one kind in a block, below which the kind next to it is taken
_PLACES = np.array([1, 2, 3, 4, 6, 9, 14, 1 << 30])  # steps from the keyframe that are told apart


@dataclass(frozen=True, slots=True, eq=False)
class PacketLane:
    """
    Attributes:
        bins: (m,) excess over the usual in each bin of BIN seconds, in robust deviations; NaN where no frame lies.
        lane: (n,) the same a second: the most that any window of 0.25 to 1 s in it shows.
        tells: False where sizes say nothing; `why` says it in a sentence then.
    """

    bins: Floats
    lane: Floats
    tells: bool
    why: str = ""


def packet_lane(times: Floats, sizes: Ints, keyframe: Bools, order: Ints) -> PacketLane:
    """Excess of the packet sizes over what is usual.

    Args:
        times: (n,) seconds of each frame from the first, rising.
        sizes: (n,) bytes.
        order: (n,) place in the file of each frame's packet; tells frames that lean on later ones.
    """
    count = int(times[-1] / BIN) + 1 if len(times) else 0
    seconds = int(times[-1]) + 1 if len(times) else 0
    why = _says_nothing(sizes, keyframe)
    bins = _binned(times, _excess(times, sizes, keyframe, order), count)
    lane = np.full(seconds, np.nan)
    if count:
        best = bins.copy()
        for width in (2, 4):
            # a window that reaches into a bin says something of it only where the bin itself is above the usual
            best = np.fmax(best, np.where(bins > 1.5, _windowed(bins, width), -np.inf))
        padded = np.full(seconds * 4, np.nan)
        padded[:count] = best[: seconds * 4]
        with np.errstate(all="ignore"):
            lane = np.fmax.reduce(padded.reshape(seconds, 4), axis=1)
    if not why and not (lane > LOUD).any():
        why = (
            "The packets of this film hardly differ in size: either nothing moves, or noise or a constant rate hides "
            "what does. They do not tell which."
        )
    return PacketLane(bins, lane, not why, why)


def _says_nothing(sizes: Ints, keyframe: Bools) -> str:
    if len(sizes) < 24:
        return "The film is too short for its packet sizes to tell anything."
    if keyframe.all():
        return "Every frame of this film stands alone, so packet sizes do not tell what moves."
    return ""


def _kinds(keyframe: Bools, order: Ints) -> Ints:
    """A number for each frame: what it leans on and how far it lies from its keyframe; -1 for keyframes."""
    n = len(order)
    in_file = np.argsort(order, kind="stable")
    leading = np.zeros(n, bool)
    leading[in_file] = in_file >= np.maximum.accumulate(in_file)  # shown after all that came before: no B-frame
    later = np.zeros(n, bool)  # a B-frame that is followed in the file by one shown before it is leaned on
    later[in_file[:-1]] = in_file[1:] < in_file[:-1]
    level = np.where(leading, 0, np.where(later, 1, 2))
    keys = np.flatnonzero(keyframe)
    before = (
        keys[np.maximum(np.searchsorted(keys, np.arange(n), side="right") - 1, 0)]
        if len(keys)
        else np.zeros(n, np.int64)
    )
    since = np.arange(n) - before
    place = np.searchsorted(_PLACES, np.maximum(since, 1))
    return np.where(keyframe, -1, level * len(_PLACES) + place)


def _excess(times: Floats, sizes: Ints, keyframe: Bools, order: Ints) -> Floats:
    """(n,) log size of each frame above the usual of its kind, in deviations; NaN for keyframes."""
    out = np.full(len(sizes), np.nan)
    if not len(sizes):
        return out
    amount = np.log(np.maximum(sizes, 1) + 24.0)  # headers: a few bytes more or less mean nothing
    kinds = _kinds(keyframe, order)
    blocks = max(round(times[-1] / (_BLOCK / 2)) - 1, 1)
    middles = (np.arange(blocks) + 1) * times[-1] / (blocks + 1)
    for kind in np.unique(kinds[kinds >= 0]):
        mine = np.flatnonzero(kinds == kind)
        low, mid = np.full(blocks, np.nan), np.full(blocks, np.nan)
        for b, middle in enumerate(middles):
            near = mine[np.abs(times[mine] - middle) <= _BLOCK / 2] if blocks > 1 else mine
            if len(near) >= _FEW:
                low[b], mid[b] = np.quantile(amount[near], (0.05, 0.3))
        seen = np.isfinite(low)
        if not seen.any():
            continue
        spread = np.maximum((mid - low) / 1.12, 0.02)  # of a normal spread: q30 - q5 is 1.12 deviations
        usual = mid + 0.524 * spread
        at = times[mine]
        base = np.interp(at, middles[seen], usual[seen])
        out[mine] = (amount[mine] - base) / np.interp(at, middles[seen], spread[seen])
    return out


def _binned(times: Floats, excess: Floats, count: int) -> Floats:
    """Mean excess in each bin, in robust deviations of such means."""
    known = np.isfinite(excess)
    at = np.minimum((times[known] / BIN).astype(np.int64), count - 1)
    total = np.bincount(at, np.clip(excess[known], -6, 40), count)
    many = np.bincount(at, minlength=count)
    with np.errstate(all="ignore"):
        mean = np.where(many > 0, total / many, np.nan)
    return _standard(mean)


def _windowed(bins: Floats, width: int) -> Floats:
    """The mean of each window of so many bins, written to all of its bins, in robust deviations."""
    filled = np.where(np.isfinite(bins), bins, 0.0)
    if len(filled) < width:
        return filled
    mean = _standard(np.convolve(filled, np.ones(width) / width, "valid"))
    out = np.full(len(bins), -np.inf)
    for k in range(width):
        out[k : k + len(mean)] = np.maximum(out[k : k + len(mean)], mean)
    return out


def _standard(values: Floats) -> Floats:
    known = values[np.isfinite(values)]
    if not len(known):
        return values
    low, mid = np.quantile(known, (0.05, 0.3))
    spread = max((mid - low) / 1.12, 0.05)
    return (values - mid) / spread - 0.524
