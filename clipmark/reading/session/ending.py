"""How a session ended: killed, lunge, bolted, calm, separated by the keeper, or not told."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from clipmark.reading import roles
from clipmark.reading.figure import seconds_text
from clipmark.reading.session.occurrences import Occurrence
from clipmark.timebase import clock


class EndKind(StrEnum):
    KILLED = "killed"
    LUNGE = "lunge"
    BOLTED = "bolted"
    CALM = "calm"
    SEPARATED = "separated"
    OPEN = "not told"


@dataclass(frozen=True, slots=True)
class Ending:
    """How it ended, on what marks that rests, and when (session clock; None where nothing is marked).

    Attributes:
        stage: for a killing, when it came: "before courtship", "in courtship", "in the clasp", "after release".
        sentence: as the keeper reads it.
    """

    kind: EndKind
    sentence: str
    at: Fraction | None
    marks: tuple[int, ...]
    stage: str = ""


def how_it_ended(happened: Sequence[Occurrence]) -> Ending:
    """The strongest thing that was marked from the last touch on (his contact, clasp, attempts, insertions).

    A killing anywhere decides. Else, among what came at or after the start of the last touching act: a lunge of hers,
    then bolting, then a retreat without either (calm), then a separation by the keeper. Nothing of it marked: not
    told.
    """
    kills = [o for o in happened if o.act in roles.KILL]
    if kills:
        return _killed(kills[0], happened)
    touches = [o for o in happened if o.act in roles.TOUCHING]
    last = max((o.start for o in touches), default=None)
    after = [o for o in happened if last is None or o.last_seen >= last]
    for codes, kind, words in (
        (roles.LUNGE, EndKind.LUNGE, "She lunged at him"),
        (roles.BOLT, EndKind.BOLTED, "He bolted"),
        (roles.RETREAT, EndKind.CALM, "Calm: he withdrew, no lunge and no bolting is marked"),
        (roles.SEPARATED, EndKind.SEPARATED, "The keeper separated them"),
    ):
        found = [o for o in after if o.act in codes]
        if found:
            end = found[-1]
            return Ending(kind, f"{words} ({clock(end.start, 1)}{_since(end, touches)}).", end.start, end.marks)
    return Ending(EndKind.OPEN, "Not told: no parting, retreat, lunge or separation is marked.", None, ())


def _since(end: Occurrence, touches: Sequence[Occurrence]) -> str:
    if not touches:
        return "; no contact is marked"
    apart = max(o.start if o.open else o.last_seen for o in touches)
    return f", {seconds_text(end.start - apart)} after the last touch" if end.start >= apart else ""


def _killed(kill: Occurrence, happened: Sequence[Occurrence]) -> Ending:
    before = happened[: bisect_left(happened, kill.start, key=lambda o: o.start)]  # they are sorted by start
    held = [o for o in before if o.act in roles.HOLD]
    if any(o.open or o.span.end >= kill.start for o in held):
        stage = "in the clasp"
    elif held or any(o.act in roles.INSERTION for o in before):
        stage = "after release"
    elif any(o.act in roles.COURTSHIP for o in before):
        stage = "in courtship"
    else:
        stage = "before courtship"
    return Ending(EndKind.KILLED, f"She killed him {stage} ({clock(kill.start, 1)}).", kill.start, kill.marks, stage)
