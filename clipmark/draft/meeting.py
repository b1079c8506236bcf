"""Acts that follow from where two animals are: walks, first contact, clasp, release, retreat, bolting, stillness."""

from __future__ import annotations

from collections.abc import Sequence
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
    sure_way: float = 0.5  # from here on it is a walk even where something beats
    retreats: float = 0.35  # sizes by which the way between them grows
    nears: float = 0.12  # sizes by which he comes nearer
    again: float = 0.5  # of the way of the nearest walk, by which a later one comes nearer too
    close: float = 0.4  # sizes between them at most where he leaves
    bolts: float = 1.0  # sizes a second, at his fastest
    rushes: float = 0.75  # the same, where he is away within `rush_s`
    rush_s: float = 1.3
    touch: float = 0.02  # share of the picture between two boxes that touch
    reach: float = 2.3  # abdomen lengths from the middle of her abdomen to the tips of her front legs
    stays_s: float = 1.0
    least_clasp_s: float = 2.0
    least_still_s: float = 2.0
    stirs: float = 0.004  # share of the picture that moves when she takes a step


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
        moved = np.interp(times, her.times, her.moved, left=0.0, right=0.0)
    return Meeting(times, gap, far, middles, way / max(size, 1e-3), moved, size, abdomen is not None)


def _aligned(her: Thing, him: Thing) -> list[tuple[float, float, float, float]]:
    at = np.clip(np.searchsorted(her.times, him.times), 0, len(her.times) - 1)
    return [her.boxes[k] for k in at.tolist()]


@dataclass(frozen=True, slots=True)
class Course:
    """How a meeting went: when he walks, which walk (if any) leads him away, when he touches her first, and when he
    has come up to her to stay (seconds; None where he does not)."""

    walks: tuple[tuple[float, float], ...]
    leave: int | None
    met: float | None
    joined: float | None

    @property
    def parted(self) -> float:
        """When he leaves; never where he does not."""
        return np.inf if self.leave is None else self.walks[self.leave][0]


def course_of(
    m: Meeting, begin: float, end: float, beats: Sequence[tuple[float, float]] = (),
    p: MeetingParameters = PARAMETERS,
) -> Course:  # fmt: skip
    """What happens between `begin` (he is set down) and `end` (he is taken), seconds.

    Args:
        beats: when something clearly beats: legs that strike push a box as steps do.
    """
    inside = (m.times >= begin) & (m.times <= end)
    walks = walks_of(m, begin, end, beats, p)
    leave = next((k for k, (start, stop) in enumerate(walks) if _leaves(m, start, stop, p)), None)
    met, joined = _contact(m, inside, walks[:leave], p)
    return Course(tuple(walks), leave, met, joined)


def acts_of(m: Meeting, course: Course, end: float, p: MeetingParameters = PARAMETERS) -> list[Proposal]:
    """Proposals from the course of a meeting that ends at `end` (he is taken), seconds."""
    sure = 1.0 if m.sure else 0.96
    found: list[Proposal] = []
    if course.met is not None:
        told = "He comes up to her here, his outline reaches hers, and he stays."
        found.append(Proposal(v.CONTACT, v.BOTH, course.met, None, 0.9 if m.sure else 0.75, told))
    for k, (start, stop) in enumerate(course.walks):
        a, b = np.searchsorted(m.times, [start, stop])
        way = m.way(int(a), int(b))
        if course.joined is not None and k == course.leave:
            found += _parting(m, start, stop, course.joined, way, sure, p)
            found += _stillness(m, start, end, sure, p)
        elif course.joined is None or start < course.joined:
            told = f"He goes {way:.1f} times his own span in {stop - start:.1f} s."
            found.append(Proposal(v.SEARCHING, v.HIM, start, stop, 0.93 * sure, told))
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


def walks_of(
    m: Meeting, begin: float, end: float, beats: Sequence[tuple[float, float]] = (),
    p: MeetingParameters = PARAMETERS,
) -> list[tuple[float, float]]:  # fmt: skip
    """When he walks between `begin` and `end`, seconds; a short way while something beats is no walk."""
    inside = (m.times >= begin) & (m.times <= end)
    found = []
    for start, stop in _runs(inside & (m.speed >= p.walks), m.times, p.joins_s):
        a, b = np.searchsorted(m.times, [start, stop])
        way = m.way(int(a), int(b))
        fast = float(m.speed[a : b + 1].max()) >= p.bolts
        if way >= p.least_way and (stop - start >= p.least_walk_s or fast):
            beaten = sum(max(0.0, min(stop, after) - max(start, before)) for before, after in beats)
            if way >= p.sure_way or beaten <= 0.5 * (stop - start):
                found.append((start, stop))
    return found


def _contact(
    m: Meeting, inside: NDArray[np.bool_], walks: Sequence[tuple[float, float]], p: MeetingParameters
) -> tuple[float | None, float | None]:
    """When he first touches her, and when he has come up to her to stay: the end of the last walk that brings him
    nearer. He touches on the walk that brings him nearer most, where the two outlines come to touch. With her abdomen
    outlined it is known how far her legs reach, and the first walk counts that brings him so near.

    An outline is larger than the animal, so that it may touch long before, and smaller where he was seen little; then
    two fifths of that walk are taken.
    """
    touching = inside & (m.gap <= (0.0 if m.sure else p.touch))
    step = max(float(np.median(np.diff(m.times))), 1e-3) if len(m.times) > 1 else 0.1
    met = joined = None
    most = p.nears * m.size
    for start, stop in walks:
        a, b = (min(int(k), len(m.times) - 1) for k in np.searchsorted(m.times, [start, stop]))
        later = touching[b : b + max(1, int(p.stays_s / step))]
        nearer = float(m.far[a] - m.far[b])
        if nearer < p.nears * m.size or not len(later) or later.mean() < 0.8:
            continue
        if met is None or nearer >= p.again * most:
            joined = stop
        if nearer < most or (m.sure and met is not None):
            continue
        most = nearer
        here = np.flatnonzero(touching[a : b + 1])
        met = start + 0.4 * (stop - start)
        if len(here) and (m.sure or 0.15 <= here[0] / max(b - a, 1) <= 0.6):
            met = float(m.times[a + int(here[0])])
    return met, joined


def _leaves(m: Meeting, start: float, stop: float, p: MeetingParameters) -> bool:
    a, b = (min(int(k), len(m.times) - 1) for k in np.searchsorted(m.times, [start, stop]))
    return bool(m.far[b] - m.far[a] >= p.retreats * m.size and m.gap[a] <= p.close * m.size)


def _parting(
    m: Meeting, start: float, stop: float, joined: float, way: float, sure: float, p: MeetingParameters
) -> list[Proposal]:
    found = []
    if start - joined >= p.least_clasp_s:
        told = f"Both stay together from {joined:.1f} s to {start:.1f} s; whether his hooks hold her cannot be seen."
        found.append(Proposal(v.CLASP, v.HIM, joined, start, 0.95 * sure, told))
        found.append(Proposal(v.RELEASE, v.HIM, start, None, 0.95 * sure, "The two part here."))
    a, b = np.searchsorted(m.times, [start, stop])
    pace = float(m.speed[a : b + 1].max())
    rushed = pace >= p.rushes and stop - start <= p.rush_s
    act = v.BOLTING if pace >= p.bolts or rushed else v.RETREAT
    told = f"He moves {way:.1f} times his own span away from her, at most {pace:.1f} times a second."
    found.append(Proposal(act, v.HIM, start, stop, 0.95 * sure, told))
    return found


def _stillness(m: Meeting, leave: float, end: float, sure: float, p: MeetingParameters) -> list[Proposal]:
    """She stays still from his leaving to her first step."""
    after = (m.times > leave + 0.6) & (m.times <= end)
    stirs = np.flatnonzero(after & (m.her_moved >= p.stirs) & (m.gap > p.touch))
    stop = float(m.times[stirs[0]]) if len(stirs) else float(min(end, m.times[-1]))
    if stop - leave < p.least_still_s:
        return []
    told = f"Nothing of her moves for {stop - leave:.1f} s after he left."
    return [Proposal(v.STILLNESS, v.HER, leave, stop, 0.93 * sure, told)]
