"""The survey: packet sizes, then keyframes, then frames in between where it matters; the one loop that ties them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.survey.change import Change, change
from clipmark.motion.survey.look import Look
from clipmark.motion.survey.packets import LOUD, PacketLane, packet_lane
from clipmark.motion.survey.plan import Plan, affordable, between, plan, thinned
from clipmark.motion.survey.seconds import CloseLook, Pair, key_pairs
from clipmark.motion.survey.stretches import Evidence, survey_of
from clipmark.motion.survey.values import PACKETS, Floats, Stretch, Survey
from clipmark.motion.survey.views import ViewChanges
from clipmark.motion.texture import Grey
from clipmark.progress import SILENT, Progress

Ints = NDArray[np.int64]


class Film(Protocol):
    """What the survey reads of a film; pictures come as small as `look.look_size` says."""

    @property
    def times(self) -> Floats:
        """Seconds of every frame from the first, (n,)."""

    @property
    def sizes(self) -> Ints:
        """Bytes of every frame's packet, (n,)."""

    @property
    def keyframe(self) -> NDArray[np.bool_]:
        """Whether each frame is a keyframe, shape (n,)."""

    @property
    def order(self) -> Ints:
        """Place of every frame's packet in the file, (n,)."""

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the picture as displayed."""

    def keys(self, numbers: Sequence[int]) -> Iterator[tuple[int, Grey]]:
        """Keyframes alone, rising."""

    def run(self, start: int, stop: int) -> Iterator[tuple[int, Grey]]:
        """All frames of [start, stop)."""


def first_lane(film: Film, seconds: float) -> Survey:
    """What the packet sizes alone tell: at once, and rough."""
    lane = packet_lane(film.times, film.sizes, film.keyframe, film.order)
    return survey_of_packets(lane, seconds)


def survey_of_packets(lane: PacketLane, seconds: float) -> Survey:
    """Stretches that the packet sizes alone suggest."""
    loud = np.nan_to_num(lane.lane, nan=0.0) > LOUD if lane.tells else np.zeros(len(lane.lane), bool)
    edges = np.flatnonzero(np.diff(np.r_[0, loud.astype(np.int8), 0]))
    moving = tuple(
        Stretch(float(start), min(float(end), seconds), 0.0, None, (), PACKETS)
        for start, end in zip(edges[::2], edges[1::2], strict=True)
    )
    # what is below is not shown as movement: sizes always vary a little
    amount = np.where(loud, np.clip(lane.lane / (4 * LOUD), 0, 1), 0.01)
    if not lane.tells:
        amount = np.full(len(lane.lane), np.nan)
    return Survey(PACKETS, seconds, amount, lane.tells, moving, notes=(lane.why,) if lane.why else ())


def survey(film: Film, seconds: float, progress: Progress = SILENT) -> Survey:
    """Where in a film anything moves.

    Args:
        seconds: how long the film lasts, from its first frame to the end of the last.
    Raises:
        Cancelled: through `progress`.
    """
    lane = packet_lane(film.times, film.sizes, film.keyframe, film.order)
    costs = plan(film.times, film.sizes, film.keyframe, film.size[0] * film.size[1])
    keys = thinned(costs)
    changes = _between_keys(film, costs, keys, progress)
    pairs = key_pairs(film.times, changes)
    finer = between(costs, keys, _changed(film, costs, keys, pairs))
    spent = float(costs.key_cost[keys].sum() + sum(costs.key_cost[inner].sum() for inner in finer))
    if finer:
        pairs = _refined(film, costs, finer, changes)
    chosen = affordable(costs, _wanted(film, costs, lane, pairs), spent)
    views = ViewChanges(film.times)
    close = _looked_at(film, costs, chosen, views, progress)
    found = views.found()
    cuts = np.searchsorted(film.times, np.array(found.cuts) - 1e-6).tolist()
    evidence = Evidence(
        film.times,
        seconds,
        film.size,
        lane,
        pairs,
        close.pairs(cuts),
        costs.groups[chosen],
        found,
    )
    return survey_of(evidence)


def _between_keys(film: Film, costs: Plan, keys: Ints, progress: Progress) -> list[Change]:
    changes: list[Change] = []
    before: Look | None = None
    numbers = [int(costs.groups[k, 0]) for k in keys]
    for done, (number, picture) in enumerate(film.keys(numbers), start=1):
        look = Look(number, picture)
        if before is not None:
            changes.append(change(before, look))
        before = look
        progress.advance(done, 2 * len(numbers))
    return changes


def _changed(film: Film, costs: Plan, keys: Ints, pairs: Sequence[Pair]) -> NDArray[np.bool_]:
    """Between which of the chosen keyframes something changed."""
    changed = np.zeros(max(len(keys) - 1, 0), bool)
    starts = film.times[costs.groups[keys, 0]]
    for pair in pairs:
        if pair.held or pair.change.move.likeness < 0.5:
            changed[np.searchsorted(starts, pair.start_s + 1e-6) - 1] = True
    return changed


def _refined(film: Film, costs: Plan, finer: Sequence[Ints], changes: Sequence[Change]) -> list[Pair]:
    """Pairs of keyframes, with those between the chosen ones where something changed."""
    replaced = {int(costs.groups[inner[0], 0]) for inner in finer}
    more = [one for one in changes if one.first not in replaced]
    for inner in finer:
        more += _between_keys(film, costs, inner, SILENT)
    more.sort(key=lambda one: one.first)
    return key_pairs(film.times, more)


def _wanted(film: Film, costs: Plan, lane: PacketLane, pairs: Sequence[Pair]) -> Floats:
    """How much each group of frames should be looked at closely."""
    count = len(costs.groups)
    wanted = np.full(count, 0.1)
    starts = film.times[costs.groups[:, 0]]
    changed = np.zeros(count, bool)
    for pair in pairs:
        inside = slice(*np.searchsorted(starts, (pair.start_s - 1e-6, pair.end_s - 1e-6)))
        if pair.change.move.likeness < 0.5:
            wanted[inside] += 100
        if pair.held:
            changed[inside] = True
    edge = changed & ~(np.r_[False, changed[:-1]] & np.r_[changed[1:], False])
    beside = ~changed & (np.r_[changed[1:], False] | np.r_[False, changed[:-1]])
    wanted += np.where(edge, 40, 0) + np.where(beside, 10, 0) + np.where(changed, 20, 0)
    if lane.tells:
        for k, (start, stop) in enumerate(costs.groups):
            first, last = int(film.times[start]), int(film.times[stop - 1]) + 1
            loud = float(np.nanmax(np.append(lane.lane[first:last], 0.0)))
            wanted[k] += min(loud, 60.0) * (0.5 if changed[k] else 1.0) / 2
    return wanted


def _looked_at(film: Film, costs: Plan, chosen: Ints, views: ViewChanges, progress: Progress) -> CloseLook:
    close = CloseLook(film.times, film.keyframe)
    runs = _joined(costs.groups[chosen])
    total, done = sum(stop - start for start, stop in runs), 0
    for start, stop in runs:
        close.take(views.watched(_told(film.run(start, stop), start - done, total, progress)))
        done += stop - start
    progress.advance(total, total)
    return close


def _told(
    pictures: Iterator[tuple[int, Grey]], before: int, total: int, progress: Progress
) -> Iterator[tuple[int, Grey]]:
    """The same pictures; tells how far they are: the second half of the work."""
    for number, picture in pictures:
        progress.advance(total + number - before, 2 * total)
        yield number, picture


def _joined(groups: Ints) -> list[tuple[int, int]]:
    """Groups that follow each other as one run of frames."""
    runs: list[list[int]] = []
    for start, stop in groups.tolist():
        if runs and runs[-1][1] == start:
            runs[-1][1] = stop
        else:
            runs.append([start, stop])
    return [(start, stop) for start, stop in runs]
