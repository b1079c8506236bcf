"""Acts that follow from where two animals are: walks, first contact, clasp, release, retreat, bolting, stillness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.draft import values as v
from clipmark.draft.things import Thing
from clipmark.draft.values import Proposal
from clipmark.motion.rhythm.values import Floats


@dataclass(frozen=True, slots=True)
class MeetingParameters:
    """Seconds, and lengths against the size of his box (legs and all)."""

    within_s: float = 0.4  # speed is taken over this long
    walks: float = 0.07  # sizes a second from which he walks
    joins_s: float = 0.9
    least_walk_s: float = 0.5
    least_way: float = 0.2  # sizes that a walk leads
    retreats: float = 0.35  # sizes by which the gap grows
    bolts: float = 0.9  # sizes a second
    touch: float = 0.02  # share of the picture between two boxes that touch
    reach: float = 2.35  # abdomen lengths from the middle of her abdomen to the tips of her front legs
    stays_s: float = 1.0
    least_clasp_s: float = 2.0
    least_still_s: float = 2.0
    stirs: float = 0.0015  # share of the picture that moves when she takes a step


PARAMETERS = MeetingParameters()


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Both animals over time.

    Attributes:
        times: (n,) seconds. gap: (n,) share of the picture between the two. far: (n,) from middle to middle.
        middles: (n, 2) of his box. speed: (n,) his, sizes a second.
        her_moved: (n,) share of the picture that moved in her.
        sure: whether both were outlined; else the program guesses which is which.
        size: of his box, share of the picture.
    """

    times: Floats
    gap: Floats
    far: Floats
    middles: Floats
    speed: Floats
    her_moved: Floats
    size: float
    sure: bool

    def way(self, a: int, b: int) -> float:
        """How far he came from instant `a` to `b`, in his own sizes."""
        reach = 2  # instants on either side: smoothing eats the ends
        first, last = self.middles[max(a - reach, 0)], self.middles[min(b + reach, len(self.middles) - 1)]
        return float(np.hypot(*(last - first)) / max(self.size, 1e-3))


def meet(
    her: Thing | None, him: Thing, abdomen: tuple[float, float, float] | None, aspect: float,
    p: MeetingParameters = PARAMETERS,
) -> Meeting:  # fmt: skip
    """Where he is against her.

    Args:
        abdomen: x, y of the middle of her abdomen and its length, shares of the picture's width; None where it was
            not outlined. aspect: height of the picture by its width.
    """
    times = np.array(him.times)
    boxes = np.array(him.boxes).reshape(-1, 4) * [1, aspect, 1, aspect]
    middles = np.stack([(boxes[:, 0] + boxes[:, 2]) / 2, (boxes[:, 1] + boxes[:, 3]) / 2], axis=1)
    size = float(np.median(np.maximum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])))
    step = max(float(np.median(np.diff(times))), 1e-3) if len(times) > 1 else 0.1
    lag = max(1, round(p.within_s / step))
    way = np.zeros(len(times))
    if len(times) > lag:
        way[lag:] = np.hypot(*(middles[lag:] - middles[:-lag]).T) / (lag * step)
        way = np.roll(way, -lag // 2)
    gap, far = np.full(len(times), np.inf), np.zeros(len(times))
    moved = np.zeros(len(times))
    if abdomen is not None:
        x, y, length = abdomen
        across = np.maximum(np.maximum(boxes[:, 0] - x, x - boxes[:, 2]), 0)
        down = np.maximum(np.maximum(boxes[:, 1] - y, y - boxes[:, 3]), 0)
        gap = np.maximum(np.hypot(across, down) - p.reach * length, 0)
        far = np.hypot(middles[:, 0] - x, middles[:, 1] - y)
    elif her is not None:
        hers = np.array(_aligned(her, him)) * [1, aspect, 1, aspect]
        across = np.maximum(np.maximum(hers[:, 0] - boxes[:, 2], boxes[:, 0] - hers[:, 2]), 0)
        down = np.maximum(np.maximum(hers[:, 1] - boxes[:, 3], boxes[:, 1] - hers[:, 3]), 0)
        gap = np.hypot(across, down)
        far = np.hypot(*(middles - np.stack([hers[:, [0, 2]].mean(axis=1), hers[:, [1, 3]].mean(axis=1)], axis=1)).T)
    if her is not None:
        moved = np.interp(times, her.times, her.moved)
    return Meeting(times, gap, far, middles, way / max(size, 1e-3), moved, size, abdomen is not None)


def _aligned(her: Thing, him: Thing) -> list[tuple[float, float, float, float]]:
    at = np.clip(np.searchsorted(her.times, him.times), 0, len(her.times) - 1)
    return [her.boxes[k] for k in at.tolist()]


def acts_of(meeting: Meeting, begin: float, end: float, p: MeetingParameters = PARAMETERS) -> list[Proposal]:
    """Proposals between `begin` (he is set down) and `end` (he is taken), seconds."""
    m = meeting
    inside = (m.times >= begin) & (m.times <= end)
    walks = _walks(m, inside, p)
    met = _contact(m, inside, p)
    sure = 1.0 if m.sure else 0.6
    found: list[Proposal] = []
    if met is not None:
        found.append(Proposal(v.CONTACT, v.BOTH, met, None, 0.7 * sure, "His outline reaches hers and stays there."))
    leave = None
    for start, stop in walks:
        a, b = np.searchsorted(m.times, [start, stop])
        b = min(b, len(m.times) - 1)
        way = m.way(int(a), int(b))
        if met is not None and start > met and leave is None and _leaves(m, a, b, p):
            leave = start
            found += _parting(m, start, stop, met, way, sure, p)
        elif met is None or stop <= met + 0.5:
            told = f"He goes {way:.1f} times his own span in {stop - start:.1f} s."
            found.append(Proposal(v.SEARCHING, v.HIM, start, stop, 0.6 * sure, told))
    if leave is not None:
        found += _stillness(m, leave, end, sure, p)
    return found


def _runs(mask: NDArray[np.bool_], times: Floats, joins_s: float) -> list[tuple[float, float]]:
    edges = np.flatnonzero(np.diff(np.r_[0, mask.astype(np.int8), 0]))
    runs: list[tuple[float, float]] = []
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        start, stop = float(times[a]), float(times[b - 1])
        if runs and start - runs[-1][1] <= joins_s:
            runs[-1] = (runs[-1][0], stop)
        else:
            runs.append((start, stop))
    return runs


def _walks(m: Meeting, inside: NDArray[np.bool_], p: MeetingParameters) -> list[tuple[float, float]]:
    found = []
    for start, stop in _runs(inside & (m.speed >= p.walks), m.times, p.joins_s):
        a, b = np.searchsorted(m.times, [start, stop])
        way = m.way(int(a), int(b))
        fast = float(m.speed[a : b + 1].max()) >= p.bolts
        if way >= p.least_way and (stop - start >= p.least_walk_s or fast):
            found.append((start, stop))
    return found


def _contact(m: Meeting, inside: NDArray[np.bool_], p: MeetingParameters) -> float | None:
    """The first instant from which the two touch for as long as `stays_s`."""
    touching = inside & (m.gap <= p.touch)
    for start, stop in _runs(touching, m.times, 0.4):
        if stop - start >= p.stays_s:
            return start
    return None


def _leaves(m: Meeting, a: int, b: int, p: MeetingParameters) -> bool:
    return bool(m.far[b] - m.far[a] >= p.retreats * m.size)


def _parting(
    m: Meeting, start: float, stop: float, met: float, way: float, sure: float, p: MeetingParameters
) -> list[Proposal]:
    found = []
    if start - met >= p.least_clasp_s:
        told = f"Both stay together from {met:.1f} s to {start:.1f} s; whether his hooks hold her cannot be seen."
        found.append(Proposal(v.CLASP, v.HIM, met, start, 0.5 * sure, told))
        found.append(Proposal(v.RELEASE, v.HIM, start, None, 0.6 * sure, "The two part here."))
    pace = way / max(stop - start, 0.2)
    act = v.BOLTING if pace >= p.bolts else v.RETREAT
    told = f"He moves away from her at {pace:.1f} times his own span a second."
    found.append(Proposal(act, v.HIM, start, stop, 0.75 * sure, told))
    return found


def _stillness(m: Meeting, leave: float, end: float, sure: float, p: MeetingParameters) -> list[Proposal]:
    """She stays still from his leaving to her first step."""
    after = (m.times > leave + 0.6) & (m.times <= end)
    stirs = np.flatnonzero(after & (m.her_moved >= p.stirs) & (m.gap > p.touch))
    stop = float(m.times[stirs[0]]) if len(stirs) else float(min(end, m.times[-1]))
    if stop - leave < p.least_still_s:
        return []
    told = f"Nothing of her moves for {stop - leave:.1f} s after he left."
    return [Proposal(v.STILLNESS, v.HER, leave, stop, 0.65 * sure, told)]
