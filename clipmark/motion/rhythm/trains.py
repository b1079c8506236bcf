"""Trains of strikes in a sound: five or more at an even rate, which chance would hardly have put there.

Strikes are candidates first: every local rise of the sound, in all bands together and in low, middle and high bands
apart, however weak. From each pair of candidates a train is grown forward: the next strike must lie where the gap
says, within a tolerance, and may be missed now and then. A train counts when so even a row would hardly arise from
as many candidates at random times (number of false alarms, an a-contrario test), and when its strikes sound alike.
Loudness is no condition, but a loud strike is rarer than a faint one, so that chance explains it less.

Source: the a-contrario rule is Desolneux, Moisan & Morel 2000 (from memory); its use on strikes is ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.rhythm.onsets import PARAMETERS as ONSETS
from clipmark.motion.rhythm.onsets import OnsetParameters, band_knocks, band_levels
from clipmark.motion.rhythm.values import Floats
from clipmark.progress import SILENT, Progress


@dataclass(frozen=True, slots=True)
class TrainParameters:
    """Seconds, hertz, shares, decibels."""

    slowest_hz: float = 2.8
    fastest_hz: float = 25.0
    tolerances: tuple[float, ...] = (0.06, 0.1, 0.16)  # of a gap, by which a strike may be off its place
    least_strikes: int = 5
    most_missed: float = 0.25  # of a train's places
    candidates: tuple[float, ...] = (1.2, 2.5, 5.0)  # a second: the strongest of `around_s`, looked through in turn
    as_strong: float = 0.45  # of the train's usual rise (in dB of rise) that each strike has at least
    around_s: float = 10.0
    least_db: float = 0.8  # weaker rises are no candidates
    most_false: float = 2e-2  # trains that chance would bring in `around_s`
    step_cost: float = 0.35  # log10 by which a strike must be less likely than chance to lengthen a train
    miss_cost: float = 1.0
    least_regular: float = 0.8
    most_uneven: float = 0.1  # deviation of the gaps, as a share
    sure: float = -5.0  # log10 of false alarms: above it a train must be more even and more alike
    sure_alike: float = 0.7
    faint_db: float = 3.0  # of rise: the usual strike of a train that is fainter must be surer still,
    sure_faint: float = -10.0  # since still noise has rises of 1 to 2.5 dB at rates that look even now and then
    least_alike: float = 0.6  # mean likeness of a strike's bands to those of its train, -1..1


PARAMETERS = TrainParameters()
GROUPS = ((0, 20), (0, 7), (7, 13), (13, 20))  # bands: all, low, middle, high


@dataclass(frozen=True, slots=True, eq=False)
class Train:
    """One train.

    Attributes:
        times: (n,) seconds of its strikes.
        rate_hz, regularity: strikes a second, and how firmly they keep to it (0..1).
        log_false: log10 of the number of such trains that chance would bring in ten seconds.
        alike: how alike its strikes sound, -1..1.
        timbre: (20,) how much each band rises in its strikes, mean taken out, of length 1; empty where not kept.
    """

    times: Floats
    rate_hz: float
    regularity: float
    log_false: float
    alike: float
    timbre: Floats = field(default_factory=lambda: np.empty(0))


def trains_in(
    samples: NDArray[np.float32], rate: int, p: TrainParameters = PARAMETERS, onset: OnsetParameters = ONSETS
) -> list[Train]:
    """Trains of strikes in mono sound, in the order of time; no two overlap by more than half.

    Args:
        samples: shape (n,), any scale. rate: samples a second.
    """
    times, levels = band_levels(samples, rate, onset)
    if len(times) < 50:
        return []
    knocks = band_knocks(levels, float(times[1] - times[0]), onset)
    found: list[Train] = []
    for first, last in GROUPS:
        curve = knocks[:, first:last].mean(axis=1)
        found += _grown(times, curve, knocks, p)
    return _apart(found)


def _grown(times: Floats, curve: Floats, knocks: Floats, p: TrainParameters) -> list[Train]:
    places, strength, rank = candidates(times, curve, p)
    if len(places) < p.least_strikes:
        return []
    rows = np.clip(np.searchsorted(times, places), 0, len(times) - 1)
    profile = np.maximum.reduce([knocks[np.clip(rows + k, 0, len(knocks) - 1)] for k in (-2, -1, 0, 1, 2)])
    profile = profile - profile.mean(axis=1, keepdims=True)
    profile /= np.maximum(np.linalg.norm(profile, axis=1, keepdims=True), 1e-9)
    found: list[Train] = []
    for most in p.candidates:
        strong = rank < most * p.around_s
        found.extend(_trains(places[strong], strength[strong], profile[strong], p))
    return _apart(found)


def _trains(places: Floats, strength: Floats, profile: Floats, p: TrainParameters) -> Iterator[Train]:
    for tolerance in p.tolerances:
        done: set[tuple[int, int]] = set()
        for i in range(len(places)):
            stop = int(np.searchsorted(places, places[i] + 1 / p.slowest_hz, side="right"))
            for j in range(i + 1, stop):
                if places[j] - places[i] < 1 / p.fastest_hz or (i, j) in done:
                    continue
                members, slots = _follow(places, strength, i, j, tolerance, p)
                if len(members) < p.least_strikes:
                    continue
                train = _judged(places, strength, profile, members, slots, tolerance, p)
                if train is not None:
                    done.update(pairwise(members))
                    yield train


def candidates(times: Floats, curve: Floats, p: TrainParameters = PARAMETERS) -> tuple[Floats, Floats, Floats]:
    """Times of the local rises of a curve, their strengths, and how many within `around_s` are stronger."""
    from scipy.signal import find_peaks

    hop = float(times[1] - times[0])
    peaks, _ = find_peaks(curve, height=p.least_db, distance=max(1, round(0.03 / hop)), prominence=0.5 * p.least_db)
    if not len(peaks):
        return np.empty(0), np.empty(0), np.empty(0)
    inner = np.clip(peaks, 1, len(curve) - 2)
    a, b, c = curve[inner - 1], curve[inner], curve[inner + 1]
    bend = a - 2 * b + c
    shift = np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, 1.0), 0.0)
    at, height = times[inner] + np.clip(shift, -0.5, 0.5) * hop, curve[peaks]
    low = np.searchsorted(at, at - p.around_s / 2)
    high = np.searchsorted(at, at + p.around_s / 2)
    rank = np.array([(height[a:b] > h).sum() for a, b, h in zip(low, high, height, strict=True)], float)
    return at, height, rank


def _follow(
    places: Floats, strength: Floats, i: int, j: int, tolerance: float, p: TrainParameters
) -> tuple[list[int], list[int]]:
    members, slots, gap, missed = [i, j], [0, 1], places[j] - places[i], 0
    if min(strength[i], strength[j]) < p.as_strong * max(strength[i], strength[j]):
        return members, slots
    while True:
        usual = float(np.mean(strength[members[-6:]]))
        due = places[members[-1]] + (missed + 1) * gap
        reach = tolerance * gap
        a, b = int(np.searchsorted(places, due - reach)), int(np.searchsorted(places, due + reach))
        a = max(a, members[-1] + 1)
        best = -1
        if b > a:
            off = (places[a:b] - due) / reach
            best = a + int(np.argmax(np.log(strength[a:b] / usual) - off**2))
        if best < 0 or strength[best] < p.as_strong * usual:
            missed += 1
            if missed > 1 or slots[-1] + 1 - len(members) + missed > p.most_missed * (slots[-1] + 2):
                return members, slots
            continue
        slots.append(slots[-1] + missed + 1)
        members.append(best)
        missed = 0
        n = min(6, len(members))
        gap = (places[members[-1]] - places[members[-n]]) / (slots[-1] - slots[-n])


def _judged(
    places: Floats, strength: Floats, profile: Floats, members: list[int], slots: list[int], tolerance: float,
    p: TrainParameters,
) -> Train | None:  # fmt: skip
    """The stretch of a row that chance explains least, as a train; None where chance explains it well enough."""
    at, row = places[members], np.array(slots)
    mean = profile[members].mean(axis=0)
    mean /= max(float(np.linalg.norm(mean)), 1e-9)
    rarity = _density(places, strength, profile @ mean, np.array(members), p)
    gap = (at[-1] - at[0]) / (row[-1] - row[0])
    evidence = -np.log10(np.clip(rarity[2:] * 2 * tolerance * gap, 1e-4, 1.0)) - p.step_cost
    evidence -= p.miss_cost * (np.diff(row)[1:] - 1)
    first, last = _heaviest(evidence)
    chosen = slice(first, last + 3)  # the two strikes before the first step set the gap
    at, row, kept = at[chosen], row[chosen], np.array(members)[chosen]
    whole = np.flatnonzero(np.diff(row) == 1)  # a strike behind a missed one is none of a bout's ends
    if not len(whole):
        return None
    ends = slice(int(whole[0]), int(whole[-1]) + 2)
    at, row, kept = at[ends], row[ends], kept[ends]
    if len(at) < p.least_strikes:
        return None
    gap, begin = np.polyfit(row, at, 1)
    if not 1 / p.fastest_hz <= gap <= 1 / p.slowest_hz:
        return None
    tests = np.log10(len(p.tolerances) * len(GROUPS) * sum(p.candidates) * p.around_s)
    log_false = float(tests - evidence[first : last + 1].sum())
    alike = float((profile[kept] @ mean).mean())
    regular = float(np.abs(np.exp(2j * np.pi * (at - begin) / gap).mean()))
    if log_false > np.log10(p.most_false) or alike < p.least_alike or regular < p.least_regular:
        return None
    uneven = float(np.std(np.diff(at) / (np.diff(row) * gap)))
    complete = len(at) > row[-1] - row[0]
    clean = uneven <= 0.6 * p.most_uneven and alike >= p.sure_alike and complete
    if uneven > p.most_uneven or (log_false > p.sure and not clean):
        return None
    if float(np.median(strength[kept])) < p.faint_db and log_false > p.sure_faint:
        return None
    timbre = profile[kept].mean(axis=0)
    timbre = timbre / max(float(np.linalg.norm(timbre)), 1e-9)
    return Train(at, float(1 / gap), regular, log_false, alike, timbre)


def _heaviest(steps: Floats) -> tuple[int, int]:
    """First and last of the consecutive steps with the largest sum."""
    best, first, last, run, start = -np.inf, 0, 0, 0.0, 0
    for k, step in enumerate(steps.tolist()):
        if run <= 0:
            run, start = 0.0, k
        run += step
        if run > best:
            best, first, last = run, start, k
    return first, last


def _density(
    places: Floats, strength: Floats, likeness: Floats, members: NDArray[np.int64], p: TrainParameters
) -> Floats:
    """How many others a second are as strong and as much alike as each member, within `around_s` about it."""
    others = np.ones(len(places), bool)
    others[members] = False
    found = np.empty(len(members))
    for k, m in enumerate(members.tolist()):
        a, b = np.searchsorted(places, [places[m] - p.around_s / 2, places[m] + p.around_s / 2])
        same = (strength[a:b] >= strength[m]) & (likeness[a:b] >= likeness[m] - 0.05) & others[a:b]
        found[k] = (same.sum() + 1) / p.around_s
    return found


def _apart(found: Iterable[Train], p: TrainParameters = PARAMETERS) -> list[Train]:
    """The least likely to be chance first; what shares more than a third with one of those goes, or is joined to it
    where it goes on at the same rate."""
    kept: list[Train] = []
    for train in sorted(found, key=lambda t: t.log_false):
        for k, other in enumerate(kept):
            if _goes_on(other, train):
                kept[k] = _joined(other, train)
                break
        else:
            a, b = train.times[0], train.times[-1]
            if all(_shared(a, b, k.times[0], k.times[-1]) <= 0.34 for k in kept):
                kept.append(train)
    return sorted(kept, key=lambda t: float(t.times[0]))


def _shared(a: float, b: float, c: float, d: float) -> float:
    """The overlap of two spans as a share of the shorter one."""
    return max(0.0, min(b, d) - max(a, c)) / max(min(b - a, d - c), 1e-9)


def _goes_on(one: Train, other: Train) -> bool:
    if abs(one.rate_hz / other.rate_hz - 1) > 0.08:
        return False
    apart = max(one.times[0], other.times[0]) - min(one.times[-1], other.times[-1])
    outside = (other.times < one.times[0] - 0.01) | (other.times > one.times[-1] + 0.01)
    return bool(apart <= 2.5 / one.rate_hz and outside.any())


def _joined(one: Train, other: Train) -> Train:
    rest = 0.35 / one.rate_hz
    more = [t for t in other.times.tolist() if np.abs(one.times - t).min() > rest]
    times = np.sort(np.concatenate([one.times, more]))
    gap = float(np.median(np.diff(times)))
    slots = np.concatenate([[0], np.cumsum(np.maximum(np.round(np.diff(times) / gap), 1))])
    step, begin = np.polyfit(slots, times, 1)
    regular = float(np.abs(np.exp(2j * np.pi * (times - begin) / step).mean()))
    if regular < min(one.regularity, 0.8):
        return one
    return Train(times, float(1 / step), regular, one.log_false + min(0.0, other.log_false), one.alike, one.timbre)


PIECE_S, OVERLAP_S = 120.0, 15.0


def all_trains(
    samples: NDArray[np.float32], rate: int, start: float = 0.0, progress: Progress = SILENT
) -> list[Train]:
    """Trains in a sound of any length, looked through in pieces so that memory stays bounded.

    Args:
        samples: shape (n,). start: seconds of the first sample; the trains' times count from there.
    Raises:
        Cancelled: through `progress`.
    """
    step, overlap = int(PIECE_S * rate), int(OVERLAP_S * rate)
    found: list[Train] = []
    for begin in range(0, max(len(samples), 1), step):
        progress.advance(begin, len(samples))
        first = max(begin - overlap, 0)
        for train in trains_in(samples[first : begin + step + overlap], rate):
            times = train.times + first / rate
            middle = 0.5 * (times[0] + times[-1])
            if begin / rate <= middle < (begin + step) / rate:
                found.append(replace(train, times=times + start))
    return _apart(found)
