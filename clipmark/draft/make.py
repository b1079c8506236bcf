"""A draft from all that was found in one film: what moves, what beats, and, with outlines, the motion pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clipmark.draft import values as v
from clipmark.draft.beats import drumming
from clipmark.draft.meeting import Course, acts_of, course_of, meet
from clipmark.draft.moving import Instant, instants
from clipmark.draft.things import Hand, Thing, follow, hands
from clipmark.draft.values import Proposal
from clipmark.motion.result import Box, Cause, ScanResult
from clipmark.motion.rhythm.beating import beatings_of, standing
from clipmark.motion.rhythm.grid import Piece, Pieces
from clipmark.motion.rhythm.regions import PARAMETERS as REGIONS
from clipmark.motion.rhythm.regions import Beating
from clipmark.motion.rhythm.values import Bout, Floats

FLOOR = 0.5  # of probability: less is not proposed, it would be wrong more often than right
_BODY = 1.7  # abdomen lengths from the middle of her abdomen to where her legs end, about
_LEAST_UNSEEN_S = 2.0
_SURE_BEAT = 0.75  # probability from which what beats after he left is proposed all the same
_CLEAR = 0.75  # regularity from which a bout of the picture is no gait


class Watching:
    """Sees the pictures of a film pass by, in small, and keeps what moves and what beats."""

    def __init__(self, times: Floats):
        self._pieces = Pieces(times, REGIONS.across, REGIONS.chunk_s, REGIONS.overlap_s)
        self.seen: list[Instant] = []
        self._beating: list[Beating] = []

    def take(self, number: int, grey: NDArray[np.uint8]) -> None:
        """The next picture (h, w) and its number."""
        for piece in self._pieces.take(number, grey):
            self._look(piece)

    def finish(self) -> None:
        """After the last picture."""
        for piece in self._pieces.rest():
            self._look(piece)

    def _look(self, piece: Piece) -> None:
        self.seen += instants(piece)
        self._beating += beatings_of(piece)

    def bouts(self) -> list[Bout]:
        """Bouts seen anywhere."""
        return [one.bout for one in standing(self._beating)]


@dataclass(frozen=True, slots=True, eq=False)
class Sources:
    """What a draft is made from.

    Attributes:
        seen: what moves. pictured, heard: bouts of the picture and of the sound.
        boxes: the keeper's outlines; empty where there are none. result: the motion pass over them, or None.
        times: (n,) seconds of the frames. size: width and height of the picture as displayed.
    """

    seen: Sequence[Instant]
    pictured: Sequence[Bout]
    heard: Sequence[Bout]
    boxes: Sequence[Box]
    result: ScanResult | None
    times: Floats
    size: tuple[int, int]


def animals(s: Sources) -> tuple[Thing | None, Thing | None, list[Hand]]:
    """Her and him over time, and when a hand was in the picture; None where nothing tells an animal."""
    her_known, him_known = _outlined(s)
    reached = hands(s.seen)
    things = follow(s.seen, [thing for thing in (her_known, him_known) if thing is not None], reached)
    return *_told_apart(things, her_known, him_known), reached


def draft(sources: Sources) -> list[Proposal]:
    """All proposals for one film, in order of time."""
    s = sources
    width, height = s.size
    her, him, reached = animals(s)
    sure = her is not None and her.known
    found = drumming(s.pictured, s.heard, her, him, sure)
    end_s = float(s.times[-1]) if len(s.times) else 0.0
    begin, end = 0.0, end_s
    if reached and reached[0].start_s < 0.5 * end_s:
        begin = reached[0].end_s
        told = "A hand or lid leaves the picture; after it something new moves."
        found.append(Proposal(v.INTRODUCED, v.KEEPER, reached[0].leaves_s, None, 0.95, told))
    if len(reached) > 1 or (reached and reached[0].start_s >= 0.5 * end_s):
        last = reached[-1]
        end = last.start_s
        told = "A hand or lid reaches in again."
        found.append(Proposal(v.SEPARATED, v.KEEPER, 0.5 * (last.start_s + last.end_s), None, 0.95, told))
    if him is not None:
        meeting = meet(her, him, _abdomen(s), height / width)
        beats = [(one.start_s, one.end_s) for one in s.pictured if one.regularity >= _CLEAR]
        course = course_of(meeting, begin, end, beats)
        busy = [*course.walks, *((hand.start_s - 0.5, hand.end_s + 0.5) for hand in reached)]
        found = [one for one in found if not _only_steps(one, busy, course.parted)]
        found = [_while_together(one, course) for one in found] + acts_of(meeting, course, end)
    found += _from_pass(s)
    found = [one for one in found if one.probability >= FLOOR]
    return sorted(found, key=lambda one: (one.start_s, one.act))


def _only_steps(one: Proposal, busy: Sequence[tuple[float, float]], parted: float) -> bool:
    """Whether a bout that is only seen is his gait or a hand: walking legs beat too. After he left, what
    beats without being clear is rather a step."""
    if one.act not in (v.DRUMMING, v.ANSWERING) or one.end_s is None or not one.because.startswith("Seen in"):
        return False
    if one.start_s > parted and one.probability < _SURE_BEAT:
        return True
    shared = sum(max(0.0, min(one.end_s, b) - max(one.start_s, a)) for a, b in busy)
    return shared > 0.5 * (one.end_s - one.start_s)


def _while_together(one: Proposal, course: Course) -> Proposal:
    """A bout while the two touch is rather the beating of his palps at her underside."""
    if one.act not in (v.DRUMMING, v.ANSWERING) or course.joined is None:
        return one
    if not course.joined - 0.3 <= one.start_s < course.parted:
        return one
    told = one.because.split(";")[0] + "; the two touch, so it may be his palps at her."
    return Proposal(v.PADDLING, v.HIM, one.start_s, one.end_s, min(0.5 + 0.5 * one.probability, 0.93), told)


def _outlined(s: Sources) -> tuple[Thing | None, Thing | None]:
    """Her and him as things, where the keeper drew them."""
    width, height = s.size
    her = him = None
    for box in sorted(s.boxes, key=lambda b: b.frame):
        x, y = (box.x + box.w / 2) / width, (box.y + box.h / 2) / height
        if box.part == "abdomen" and her is None:
            reach = _BODY * max(box.w, box.h)
            her = Thing((x - reach / width, y - reach / height, x + reach / width, y + reach / height), v.HER, True)
        if box.part == "male" and him is None:
            w, h = 0.6 * box.w / width, 0.6 * box.h / height
            him = Thing((x - w, y - h, x + w, y + h), v.HIM, True)
    return her, him


def _told_apart(things: list[Thing], her: Thing | None, him: Thing | None) -> tuple[Thing | None, Thing | None]:
    """Which is she and which is he: outlined ones first; else he is the one that goes furthest, she stays."""
    free = [thing for thing in things if not thing.known]
    free.sort(key=lambda thing: sum(thing.moved), reverse=True)
    if him is None and free:
        him = max(free[:4], key=_goes)
        free.remove(him)
    if her is None and free:
        her = free[0]
    return her, him


def _goes(thing: Thing) -> float:
    """How much a thing is like him: he walks, away from the edge of the picture, for more than an instant."""
    moving = np.flatnonzero(np.array(thing.moved) > 0)
    boxes = np.array(thing.boxes).reshape(-1, 4)[moving]
    inner = ((boxes[:, :2] > 0.01) & (boxes[:, 2:] < 0.99)).all(axis=1).mean() if len(moving) else 0.0
    return min(thing.travelled, 3.0) * min(1.0, len(moving) / 20) * (0.1 + float(inner))


def _abdomen(s: Sources) -> tuple[float, float, float] | None:
    """Middle of her abdomen and its length, shares of the width of the picture."""
    box = next((b for b in sorted(s.boxes, key=lambda b: b.frame) if b.part == "abdomen"), None)
    if box is None:
        return None
    width = s.size[0]
    x, y, length = (box.x + box.w / 2) / width, (box.y + box.h / 2) / width, max(box.w, box.h) / width
    if s.result is not None:
        trace = s.result.trace
        if np.isfinite(trace.length).any():
            length = float(np.nanmedian(trace.length)) / width
    return x, y, length


def _from_pass(s: Sources) -> list[Proposal]:
    """Pulls, and stretches in which she could not be seen."""
    if s.result is None:
        return []
    found = [
        Proposal(v.PULL, v.HER, float(s.times[f.onset]), None, f.score, f.because)
        for f in s.result.flags
        if f.flagged
    ]
    for span in s.result.unwatched:
        start, end = float(s.times[span.start]), float(s.times[min(span.end, len(s.times) - 1)])
        if end - start >= _LEAST_UNSEEN_S and span.cause in (Cause.COVERED, Cause.OUTSIDE):
            found.append(Proposal(v.OUT_OF_VIEW, v.NOBODY, start, end, 0.5, f"Not watched: {span.why}."))
    return found
