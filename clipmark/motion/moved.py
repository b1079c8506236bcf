"""What moved as one between two pictures of the same surroundings: its shape and its motion.

A dense flow (OpenCV's DIS) says roughly what went where. The motion that most of the change near the outline agrees
with is taken, aligned, and each cell is then asked which story explains it better: it stayed, or it went along.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.held import CAP, HeldChange, shadeless
from clipmark.motion.similarity import Similarity
from clipmark.motion.texture import Image, Texture

Mask = NDArray[np.bool_]

_LEAST_PX = 0.3  # cells; a smaller motion tells nothing of a shape
_SPEAKS = 1.5  # so much better must one story be for a cell to have a say
_BORDER = 0.4  # of what the inner part of a region says


@dataclass(frozen=True, slots=True)
class MovedPart:
    """A region that moved as one.

    Attributes:
        time: of the event, seconds.
        mask: where it lay before, (n, n) bool.
        move: its motion, cell -> cell.
        gained: how much better the motion explains it, summed in squared deviations.
        share: of its own cells that speak for the motion, 0..1.
        along: what else near it went the same way, against itself; large where the whole animal moved.
    """

    time: float
    mask: Mask
    move: Similarity
    gained: float
    share: float

    @property
    def shift(self) -> float:
        """How far its middle went, cells."""
        y, x = np.nonzero(self.mask)
        middle = complex(float(x.mean()), float(y.mean()))
        return abs(self.move(middle) - middle)


def moved_parts(event: HeldChange, near: Image, most: int = 2) -> list[MovedPart]:
    """The regions near an outline that moved as one at an event, the strongest first.

    Args:
        near: (n, n) how much a cell is worth looking at, 0..1.
    """
    before, after = shadeless(event.before), shadeless(event.after)
    noise2 = event.noise2 + 0.01 * cv2.blur(before * before, (9, 9))
    still = _deviation(after, before, noise2)
    flow = _flow(before, after)
    length = np.hypot(flow[..., 0], flow[..., 1])
    open_to = near * (still > 3.0)
    found: list[MovedPart] = []
    for _ in range(most):
        move = _main_motion(flow, open_to * (length > _LEAST_PX))
        tried = [] if move is None else [move]
        parts = [_part(event, before, after, noise2, still, near, one) for one in tried]
        if not any(part is not None and part.share > 0.75 for part in parts):
            parts += [_part(event, before, after, noise2, still, near, one) for one in _leaps(before, after, open_to)]
        part = max((one for one in parts if one is not None), key=lambda one: one.gained * one.share**2, default=None)
        if part is None:
            break
        found.append(part)
        open_to = open_to * ~cv2.dilate(part.mask.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    return found


def stories(event: HeldChange, move: Similarity) -> tuple[Image, Image]:
    """How badly "it stayed" and "it went as `move` says" explain each cell, squared deviations up to CAP, (n, n)."""
    before, after = shadeless(event.before), shadeless(event.after)
    noise2 = event.noise2 + 0.01 * cv2.blur(before * before, (9, 9))
    back = cv2.warpAffine(
        after, move.matrix(), before.shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return _deviation(after, before, noise2), _deviation(back, before, noise2)


def _flow(before: Image, after: Image) -> Image:
    spread = 2.5 * float(np.percentile(np.abs(before), 90)) + 2.0
    a, b = (np.clip(127 + 110 * v / spread, 0, 255).astype(np.uint8) for v in (before, after))
    dis = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_MEDIUM)
    dis.setFinestScale(0)
    dis.setPatchSize(8)
    dis.setPatchStride(3)
    flow: Image = dis.calc(a, b, np.zeros((*a.shape, 2), np.float32))
    return flow


def _leaps(before: Image, after: Image, open_to: Image) -> list[Similarity]:
    """Motions too far for a flow: where blocks that changed are found again, turned or not."""
    side, half, reach = before.shape[0], 9, 26
    rows, columns = np.mgrid[half + 1 : side - half - 1 : 8, half + 1 : side - half - 1 : 8]
    worth = cv2.blur(open_to, (2 * half + 1, 2 * half + 1))[rows, columns].ravel()
    order = np.argsort(-worth)[:5]
    found: list[tuple[float, Similarity]] = []
    for i in order:
        y, x = int(rows.ravel()[i]), int(columns.ravel()[i])
        if worth[i] < 0.1:
            continue
        left, top = max(0, x - half - reach), max(0, y - half - reach)
        area = after[top : y + half + 1 + reach, left : x + half + 1 + reach]
        for degrees in (0.0, -14.0, 14.0):
            turn = complex(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
            cut = Similarity(1 / turn, complex(x, y) - complex(half, half) / turn)
            block = cv2.warpAffine(
                before, cut.matrix(), (2 * half + 1, 2 * half + 1), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            )  # fmt: skip
            if float(block.std()) < 1.0:
                continue
            score = cv2.matchTemplate(area, block, cv2.TM_CCOEFF_NORMED)
            _, top_score, _, (u, v) = cv2.minMaxLoc(score)
            there = complex(left + u + half, top + v + half)
            if top_score > 0.55 and abs(there - complex(x, y)) > 2:
                found.append((top_score, Similarity(turn, there - turn * complex(x, y))))
    found.sort(key=lambda item: -item[0])
    return [move for _, move in found[:3]]


def _main_motion(flow: Image, weight: Image) -> Similarity | None:
    """The similarity that most of the weighed flow agrees with, by trying some and keeping the best."""
    y, x = np.nonzero(weight > 0.05)
    if len(x) < 25:
        return None
    w = weight[y, x].astype(float)
    z = x + 1j * y
    there = z + flow[y, x, 0] + 1j * flow[y, x, 1]
    rng = np.random.default_rng(0)
    best, top = None, 0.0
    drawn = (w / w.sum()).cumsum()  # as `rng.choice` with weights draws, summed up once
    drawn /= drawn[-1]
    for _ in range(60):
        i = int(drawn.searchsorted(rng.random(), side="right"))
        close = np.abs(z - z[i]) < 9
        if close.sum() < 8:
            continue
        m, c = _fitted(z[close], there[close], w[close])
        error = np.abs(m * z + c - there)
        tolerance = 0.35 + 0.12 * np.abs(there - z)
        worth = float((w * np.exp(-((error / tolerance) ** 2))).sum())
        if worth > top:
            best, top = (m, c), worth
    if best is None:
        return None
    for _ in range(3):
        error = np.abs(best[0] * z + best[1] - there)
        agree = w * np.exp(-((error / (0.35 + 0.12 * np.abs(there - z))) ** 2))
        if float(agree.sum()) < 12:
            return None
        best = _fitted(z, there, agree)
    return Similarity(complex(best[0]), complex(best[1]))


def _fitted(
    z: NDArray[np.complex128], there: NDArray[np.complex128], w: NDArray[np.float64]
) -> tuple[complex, complex]:
    total = w.sum()
    a, b = (w * z).sum() / total, (w * there).sum() / total
    u, v = z - a, there - b
    power = (w * np.abs(u) ** 2).sum()
    m = (w * v * u.conj()).sum() / max(float(power), 1e-9)
    m = 1 + (m - 1) * power / (power + 40 * total)  # few cells do not turn or grow
    if abs(m - 1) > 0.6:
        m = 1 + 0j
    return complex(m), complex(b - m * a)


def _part(
    event: HeldChange, before: Image, after: Image, noise2: Image, still: Image, near: Image, move: Similarity
) -> MovedPart | None:
    side = before.shape[0]
    support = near.copy()
    mask: Mask | None = None
    for turn in range(3):
        if turn:
            texture = Texture(before, support)
            middle = texture.middle
            start = Similarity(move.m, move(middle))
            noise = max(1.0, 1.5 * float(np.sqrt(np.median(noise2))))
            fit = texture.find(after, start, noise, 5)
            found = Similarity(fit.place.m, fit.place.c - fit.place.m * middle)
            if abs(found(middle) - move(middle)) < 0.12 * side and abs(found.m - 1) < 0.6:
                move = found
        back = cv2.warpAffine(
            after, move.matrix(), (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        # what the place showed before, is it found where the motion takes it, better than where it was, and better
        # than what lay there? Bare ground that she covers looks as if it had gone along, but it lies there already.
        went = _deviation(back, before, noise2)
        there = cv2.warpAffine(
            still, move.matrix(), (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        better = np.minimum(still, there) - went
        speaks = better > _SPEAKS
        against = (better < -_SPEAKS) | ((still > 4) & (went > 4))
        vote = cv2.blur(speaks.astype(np.float32) - against.astype(np.float32), (7, 7))
        shape = _main_piece((vote > 0.15), near)
        if shape is None:
            return None
        mask = shape if turn < 2 else _to_its_border(shape, vote)
        support = cv2.blur(mask.astype(np.float32), (3, 3))
    assert mask is not None
    middle = _middle(mask)
    if abs(move(middle) - middle) < 0.15 and abs(move.m - 1) * math.sqrt(float(mask.sum())) < 0.3:
        return None
    gained = float((better * mask).sum())
    share = float((speaks & mask).sum() / max(1, int(mask.sum())))
    if gained < 20 * CAP:
        return None
    return MovedPart(event.time, mask, move, gained, share)


def _to_its_border(mask: Mask, vote: Image) -> Mask:
    """The region up to where four tenths of what its inner part says is left: the votes were averaged over some
    cells, which blurs its border outwards."""
    inner = cv2.erode(mask.astype(np.uint8), _DISK5).astype(bool)
    if not inner.any():
        return mask
    tight = _largest(mask & (vote > _BORDER * float(np.median(vote[inner]))))
    filled = tight.astype(np.uint8)
    outlines, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(filled, outlines, -1, 1, cv2.FILLED)
    return filled.astype(bool) if int(filled.sum()) >= 30 else mask


def _largest(mask: Mask) -> Mask:
    count, pieces = cv2.connectedComponents(mask.astype(np.uint8))
    if count < 3:
        return mask
    return np.asarray(pieces == int(np.bincount(pieces.ravel(), minlength=count)[1:].argmax()) + 1)


def _main_piece(votes: Mask, near: Image) -> Mask | None:
    """The connected piece with most worth, holes filled, thin arms taken off."""
    rough = cv2.morphologyEx(votes.astype(np.uint8), cv2.MORPH_CLOSE, _DISK5)
    rough = cv2.morphologyEx(rough, cv2.MORPH_OPEN, _DISK5)
    count, labels = cv2.connectedComponents(rough)
    if count < 2:
        return None
    worth = np.bincount(labels.ravel(), weights=(near * (labels > 0)).ravel(), minlength=count)
    mask = (labels == int(worth[1:].argmax()) + 1).astype(np.uint8)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(mask, outlines, -1, 1, cv2.FILLED)
    if int(mask.sum()) < 30:
        return None
    return mask.astype(bool)


_DISK5 = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))


def _middle(mask: Mask) -> complex:
    y, x = np.nonzero(mask)
    return complex(float(x.mean()), float(y.mean()))


def _deviation(a: Image, b: Image, noise2: Image) -> Image:
    return np.minimum(cv2.blur((a - b) ** 2, (3, 3)) / noise2, CAP)
