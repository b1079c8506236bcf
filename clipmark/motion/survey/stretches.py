"""From evidence to stretches: which seconds count as moving, where, and what the survey says of the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.look import BLOCK, look_size
from clipmark.motion.survey.packets import LOUD, PacketLane
from clipmark.motion.survey.seconds import Pair
from clipmark.motion.survey.things import happenings, things
from clipmark.motion.survey.values import KEYFRAMES, PACKETS, Floats, Span, Stretch, Survey, Thing
from clipmark.motion.survey.views import Found

_FAR = 6.0  # pixels of the look: a camera that moved by more between two pictures of a second was panned or knocked
_BLURRED = 0.5  # log of contrast by which focus changed
_LAPSE = 0.45  # seconds between two frames: quick acts are lost
_SPARSE = 6.0  # seconds between keyframes that are worth a word
_WHOLE = 0.6  # of the picture that changed: not an animal
_UNSEEN_LOUD = 2.0  # times LOUD that packets must show where no picture was looked at and keyframes show nothing


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that was gathered of one film.

    Attributes:
        keys: pairs of keyframes; close: pairs of pictures within a second.
        looked: (g, 2) frames [start, stop) that were looked at closely.
    """

    times: Floats
    seconds: float
    size: tuple[int, int]
    lane: PacketLane
    keys: Sequence[Pair]
    close: Sequence[Pair]
    looked: NDArray[np.int64]
    views: Found


def survey_of(evidence: Evidence) -> Survey:
    """The survey that follows from the evidence."""
    count = max(int(np.ceil(evidence.seconds - 1e-6)), 1)
    known = _known(evidence, count)
    moved, by_packets = _moved(evidence, count, known)
    amount = _amount(evidence, count)
    stretches = []
    edges = np.flatnonzero(np.diff(np.r_[0, moved.astype(np.int8), 0]))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        stretches.append(_stretch(evidence, start, end, amount, bool(by_packets[start:end].all())))
    lane = np.where(moved, np.clip(amount, 0.02, 1.0), np.minimum(amount, 0.01))
    width, height = look_size(*evidence.size)
    # keyframes tell of what lies between the parts that were looked at closely
    loose = [
        pair
        for pair in evidence.keys
        if not known[int(pair.start_s) : max(int(pair.end_s), int(pair.start_s) + 1)].any()
    ]
    seen = sorted((*evidence.close, *loose), key=lambda pair: pair.end_s)
    found = things(
        [pair for pair in seen if not _is_trouble(pair)], evidence.size[0] / width, evidence.size[1] / height
    )
    stretches = [_with_things(one, found) for one in stretches]
    decoded = int((evidence.looked[:, 1] - evidence.looked[:, 0]).sum()) + len(evidence.keys)
    return Survey(
        KEYFRAMES,
        evidence.seconds,
        lane.astype(np.float64),
        True,
        tuple(stretches),
        evidence.views.cuts,
        evidence.views.light,
        camera=_camera(evidence),
        unsure=_unsure(evidence, known),
        things=found,
        happenings=happenings(found, stretches, evidence.seconds, evidence.size),
        trails=_trails(evidence),
        notes=_notes(evidence),
        looked=min(decoded / max(len(evidence.times), 1), 1.0),
        dissolves=tuple(Span(start, end, "dissolve") for start, end in evidence.views.dissolves),
    )


def _trails(evidence: Evidence) -> Floats | None:
    """How often something moved in each block, 0..1."""
    pairs = (*evidence.keys, *evidence.close)
    if not pairs:
        return None
    heat = np.zeros(pairs[0].seen.excess.shape)
    for pair, enough in (*((one, 2.0) for one in evidence.keys), *((one, 1.0) for one in evidence.close)):
        for region in pair.held if pair.change.move.far < _FAR else ():
            x, y, w, h = (side // BLOCK for side in region.box)
            heat[y : y + h, x : x + w] += pair.seen.excess[y : y + h, x : x + w] > enough
    return heat / max(float(heat.max()), 1.0)


def _with_things(one: Stretch, found: Sequence[Thing]) -> Stretch:
    """The stretch with the numbers of the things that move in it."""
    here = [thing.number for thing in found if ((thing.times_s >= one.start_s) & (thing.times_s < one.end_s)).any()]
    return replace(one, things=tuple(here))


def _notes(evidence: Evidence) -> tuple[str, ...]:
    """What the keeper should know of this film."""
    told = [evidence.lane.why] if evidence.lane.why else []
    gaps = np.diff(evidence.times)
    if len(gaps) and float(np.median(gaps)) > _LAPSE:
        told.append(
            f"This film has a frame every {float(np.median(gaps)):.1f} s only (time-lapse): quick acts fall between "
            "two frames, and speeds and rates mean nothing."
        )
    longest = float(
        np.max(evidence.times[evidence.looked[:, 1] - 1] - evidence.times[evidence.looked[:, 0]], initial=0)
    )
    if longest > _SPARSE:
        told.append(f"Keyframes of this film lie up to {longest:.0f} s apart, so that more of it had to be decoded.")
    shown = [pair.change.energy for pair in (*evidence.close, *evidence.keys)]
    if len(shown) > 20 and sum(float(energy.max()) < 1e-3 for energy in shown) > 0.8 * len(shown):
        told.append(
            "Most pictures of this film are the very same as the ones before: it looks made of still photographs, or "
            "nothing was recorded between them."
        )
    return tuple(told)


def _known(evidence: Evidence, count: int) -> NDArray[np.bool_]:
    """Which seconds were looked at closely, for the most part."""
    seen = np.zeros(count)
    whole = np.zeros(count)
    at = np.minimum(evidence.times.astype(np.int64), count - 1)
    np.add.at(whole, at, 1)
    for start, stop in evidence.looked.tolist():
        np.add.at(seen, at[start:stop], 1)
    return seen >= 0.6 * np.maximum(whole, 1)


def _moved(evidence: Evidence, count: int, known: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which seconds count as moving, and which of them only by packets."""
    moved, by_packets = np.zeros(count, bool), np.zeros(count, bool)
    lane = np.zeros(count)
    lane[: len(evidence.lane.lane)] = np.nan_to_num(evidence.lane.lane[:count])
    for pair in evidence.close:
        if pair.held and not _is_trouble(pair):
            moved[min(int(pair.start_s), count - 1)] = True
    # what stirs in a second beside one that moves is the beginning or the end of it
    moved |= _stirs(evidence, count) & (np.r_[False, moved[:-1]] | np.r_[moved[1:], False])
    if evidence.lane.tells:
        quiet = known & ~moved
        limit = max(LOUD, 1.3 * float(np.quantile(lane[quiet], 0.98))) if quiet.sum() > 20 else 2 * LOUD
        moved |= known & (lane > limit) & _stirs(evidence, count)
    for pair in evidence.keys:
        first, last = int(pair.start_s), min(int(np.ceil(pair.end_s - 1e-6)), count)
        inside = np.arange(first, last)
        inside = inside[~known[inside]]
        if not len(inside):
            continue
        if pair.held and not _is_trouble(pair):
            louder = inside[lane[inside] > LOUD / 2] if evidence.lane.tells else inside
            moved[louder if len(louder) else inside] = True
        elif evidence.lane.tells:
            loud_only = inside[lane[inside] > _UNSEEN_LOUD * LOUD]
            moved[loud_only] = by_packets[loud_only] = True
    return moved, by_packets


def _stirs(evidence: Evidence, count: int) -> NDArray[np.bool_]:
    """Seconds in which something changed, if too little to be called movement by itself."""
    stirs = np.zeros(count, bool)
    for pair in evidence.close:
        if pair.seen.regions and not _is_trouble(pair):
            stirs[min(int(pair.start_s), count - 1)] = True
    return stirs


def _unsure(evidence: Evidence, known: NDArray[np.bool_]) -> tuple[Span, ...]:
    """Seconds of which little can be said, and why."""
    why = np.full(len(known), "", dtype=object)
    if not evidence.lane.tells:
        why[~known] = "only single pictures were looked at, and packet sizes tell nothing"
    for pair in evidence.close:
        if pair.change.move.far > _FAR or abs(pair.change.sharper) > _BLURRED:
            why[min(int(pair.start_s), len(why) - 1)] = "the camera or its focus moved: small movements are missed"
    edges = [0, *(np.flatnonzero(why[1:] != why[:-1]) + 1).tolist(), len(why)]
    spans = [Span(float(a), min(float(b), evidence.seconds), str(why[a])) for a, b in pairwise(edges)]
    return tuple(span for span in spans if span.what)


def _is_trouble(pair: Pair) -> bool:
    """Whether camera or focus explain the change: all of the picture changed at once."""
    seen, change = pair.seen, pair.change
    if change.move.likeness < 0.4:
        return False
    return seen.share > _WHOLE and (abs(change.sharper) > 0.25 or change.move.far > _FAR)


def _amount(evidence: Evidence, count: int) -> Floats:
    """Share of the picture that moved in each second."""
    amount = np.zeros(count)
    for pair in evidence.keys:
        if pair.held:
            first, last = int(pair.start_s), min(int(np.ceil(pair.end_s - 1e-6)), count)
            amount[first:last] = np.maximum(amount[first:last], pair.seen.share)
    for pair in evidence.close:
        if pair.held:
            second = min(int(pair.start_s), count - 1)
            amount[second] = max(amount[second], pair.seen.share)
    return amount


def _stretch(evidence: Evidence, start: int, end: int, amount: Floats, by_packets: bool) -> Stretch:
    width, height = look_size(*evidence.size)
    across, down = evidence.size[0] / width, evidence.size[1] / height
    boxes = [
        region.box
        for pair in (*evidence.close, *evidence.keys)
        if pair.start_s < end and pair.end_s > start
        for region in pair.held
    ]
    box = None
    if boxes:
        x, y = min(b[0] for b in boxes), min(b[1] for b in boxes)
        right, low = max(b[0] + b[2] for b in boxes), max(b[1] + b[3] for b in boxes)
        box = (x * across, y * down, (right - x) * across, (low - y) * down)
    share = float(amount[start:end].mean())
    rests_on = PACKETS if by_packets else KEYFRAMES
    return Stretch(float(start), min(float(end), evidence.seconds), share, box, (), rests_on)


def _camera(evidence: Evidence) -> tuple[Span, ...]:
    """Moves of the camera, joined where they touch."""
    spans: list[Span] = []
    for pair in evidence.close:
        if pair.change.move.far <= _FAR or pair.change.move.likeness < 0.4:
            continue
        if spans and pair.start_s <= spans[-1].end_s + 0.5:
            spans[-1] = Span(spans[-1].start_s, max(pair.end_s, spans[-1].end_s), "the camera moves")
        else:
            spans.append(Span(pair.start_s, pair.end_s, "the camera moves"))
    return tuple(spans)
