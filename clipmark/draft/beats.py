"""Bouts of the rhythm as proposals: who struck, told by where it beats, and whether it was heard, seen or both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from clipmark.draft import values as v
from clipmark.draft.things import Box, Thing
from clipmark.draft.values import Proposal
from clipmark.draft.voices import whose
from clipmark.motion.rhythm.values import Bout

_SAME_RATE = 0.08
_CLEARLY = 0.7  # a place so much nearer to one animal than to the other is surely hers or his
_LEGS = 1.35  # her front legs strike so far outside the box that stands round her abdomen


@dataclass(frozen=True, slots=True)
class Chances:
    """Probabilities that a person would mark a bout so, by what speaks for it (fitted: docs/draft.md)."""

    agree: float = 0.95  # seen and heard at one rate
    both: float = 0.9
    heard: float = 0.88
    seen: tuple[float, float] = (-1.26, 2.7)  # at a regularity of r: a + b r
    guess: float = 0.72  # where who it was is a guess: so much of that
    told: float = 0.92  # where the sound tells who it was
    free: float = 0.96  # where nobody is outlined


CHANCES = Chances()


def drumming(
    seen: Sequence[Bout], heard: Sequence[Bout], her: Thing | None, him: Thing | None, sure: bool
) -> list[Proposal]:
    """One proposal a bout: what is seen and heard at one time is one bout.

    Args:
        sure: whether her outline is known, so that the place tells who it was.
    """
    pairs, used = [], set()
    for bout in seen:
        partner = next((k for k, h in enumerate(heard) if k not in used and _together(bout, h)), None)
        if partner is not None:
            used.add(partner)
        pairs.append((bout, None if partner is None else heard[partner], _who(bout, her, him)))
    known: dict[str, list[tuple[float, ...]]] = {v.HIM: [], v.HER: []}
    for _, sound, place in pairs:
        if sound is not None and sound.timbre and place is not None and place.sure:
            known[place.who].append(sound.timbre)
    found = []
    for bout, sound, place in pairs:
        who, by = (place.who, "place") if place is not None else (None, "")
        if sound is not None and (place is None or not place.sure):
            voice = whose(sound, known)
            who, by = (voice, "sound") if voice is not None else (who, by)
        found.append(_proposal(bout, sound, who, by, sure))
    for k, sound in enumerate(heard):
        if k not in used:
            voice = whose(sound, known)
            found.append(_proposal(None, sound, voice, "sound" if voice else "", sure))
    return sorted(found, key=lambda one: one.start_s)


def _together(one: Bout, other: Bout) -> bool:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared > 0.4 * min(one.end_s - one.start_s, other.end_s - other.start_s)


def _proposal(
    seen: Bout | None, heard: Bout | None, who: str | None, by: str, sure: bool, c: Chances = CHANCES
) -> Proposal:
    clearest = heard or seen
    assert clearest is not None
    agree = bool(
        seen and heard and seen.rate_hz and heard.rate_hz
        and min(abs(heard.rate_hz / (k * seen.rate_hz) - 1) for k in (0.5, 1, 2)) <= _SAME_RATE
    )  # fmt: skip
    if seen and not heard:
        chance = float(np.clip(c.seen[0] + c.seen[1] * seen.regularity, 0.2, 0.95))
    else:
        chance = c.agree if agree else c.both if seen else c.heard
    chance *= c.guess if who is None else c.told if by == "sound" else 1.0
    if not sure and who is not None:
        chance *= c.free
    how = "Seen and heard" if seen and heard else "Seen in the picture" if seen else "Heard in the sound"
    rate = "at a rate that this film cannot show" if clearest.rate_hz is None else f"at {clearest.rate_hz:.1f} Hz"
    strikes = f", {heard.strikes} strikes" if heard and heard.strikes else ""
    act, actor = (v.ANSWERING, v.HER) if who == v.HER else (v.DRUMMING, v.HIM)
    return Proposal(act, actor, clearest.start_s, clearest.end_s, chance, f"{how} {rate}{strikes}; {_why(who, by)}.")


def _why(who: str | None, by: str) -> str:
    if who is None:
        return "who it was is a guess"
    if by == "sound":
        return "it sounds like what was seen of " + ("her" if who == v.HER else "him") + ", or unlike the other"
    return "it beats where she is" if who == v.HER else "it beats where he is"


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose box a bout lies in; `sure` where it lies clearly nearer to it than to the other."""

    who: str
    sure: bool


def _who(bout: Bout, her: Thing | None, him: Thing | None) -> Owner | None:
    """Whose box the place lies in, or nearer to; None where neither is known."""
    if bout.place is None:
        return None
    x, y = bout.place[0] + bout.place[2] / 2, bout.place[1] + bout.place[3] / 2
    middle = 0.5 * (bout.start_s + bout.end_s)
    far = {}
    for name, thing in ((v.HER, her), (v.HIM, him)):
        if thing is not None and thing.times:
            k = int(np.clip(np.searchsorted(thing.times, middle), 0, len(thing.times) - 1))
            far[name] = _far(thing.boxes[k], x, y) / (_LEGS if thing.known and name == v.HER else 1.0)
    if not far:
        return None
    if len(far) == 1:
        ((name, distance),) = far.items()
        return Owner(name if distance <= 1.1 else (v.HIM if name == v.HER else v.HER), distance <= 0.8)
    nearest = min(far, key=lambda name: far[name])
    return Owner(nearest, far[nearest] <= _CLEARLY * max(far.values()))


def _far(box: Box, x: float, y: float) -> float:
    """Distance from the box's middle against half its sides: below 1 inside."""
    across = abs(x - (box[0] + box[2]) / 2) / max((box[2] - box[0]) / 2, 0.02)
    down = abs(y - (box[1] + box[3]) / 2) / max((box[3] - box[1]) / 2, 0.02)
    return float(max(across, down))
