"""Bouts of the rhythm as proposals: who struck, told by where it beats, and whether it was heard, seen or both."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from clipmark.draft import values as v
from clipmark.draft.things import Box, Thing
from clipmark.draft.values import Proposal
from clipmark.motion.rhythm.values import Bout

_SAME_RATE = 0.08
_LEGS = 1.35  # her front legs strike so far outside the box that stands round her abdomen


def drumming(
    seen: Sequence[Bout], heard: Sequence[Bout], her: Thing | None, him: Thing | None, sure: bool
) -> list[Proposal]:
    """One proposal a bout: what is seen and heard at one time is one bout.

    Args:
        sure: whether her outline is known, so that the place tells who it was.
    """
    found, used = [], set()
    for bout in seen:
        partner = next((k for k, h in enumerate(heard) if k not in used and _together(bout, h)), None)
        other = None
        if partner is not None:
            used.add(partner)
            other = heard[partner]
        found.append(_proposal(bout, other, _who(bout, her, him), sure))
    found += [_proposal(None, h, None, sure) for k, h in enumerate(heard) if k not in used]
    return sorted(found, key=lambda one: one.start_s)


def _together(one: Bout, other: Bout) -> bool:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared > 0.4 * min(one.end_s - one.start_s, other.end_s - other.start_s)


def _proposal(seen: Bout | None, heard: Bout | None, who: str | None, sure: bool) -> Proposal:
    both = [bout for bout in (seen, heard) if bout is not None]
    clearest = heard or seen
    assert clearest is not None
    start, end = (clearest.start_s, clearest.end_s) if heard else (both[0].start_s, both[0].end_s)
    agree = bool(
        seen and heard and seen.rate_hz and heard.rate_hz
        and min(abs(heard.rate_hz / (k * seen.rate_hz) - 1) for k in (0.5, 1, 2)) <= _SAME_RATE
    )  # fmt: skip
    chance = 0.9 if agree else 0.75 if seen and heard else 0.7 if seen else 0.5
    if seen and not heard:
        chance = float(np.clip(0.35 + 0.6 * seen.regularity, 0.5, 0.85))
    if who is None:
        chance *= 0.85
    elif not sure:
        chance *= 0.9
    how = "Seen and heard" if len(both) == 2 else "Seen in the picture" if seen else "Heard in the sound"
    rate = "at a rate that this film cannot show" if clearest.rate_hz is None else f"at {clearest.rate_hz:.1f} Hz"
    strikes = f", {heard.strikes} strikes" if heard and heard.strikes else ""
    where = {v.HER: "it beats where she is", v.HIM: "it beats where he is"}.get(who or "", "who it was is a guess")
    act, actor = (v.ANSWERING, v.HER) if who == v.HER else (v.DRUMMING, v.HIM)
    return Proposal(act, actor, start, end, chance, f"{how} {rate}{strikes}; {where}.")


def _who(bout: Bout, her: Thing | None, him: Thing | None) -> str | None:
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
        return name if distance <= 1.1 else (v.HIM if name == v.HER else v.HER)
    return min(far, key=lambda name: far[name])


def _far(box: Box, x: float, y: float) -> float:
    """Distance from the box's middle against half its sides: below 1 inside."""
    across = abs(x - (box[0] + box[2]) / 2) / max((box[2] - box[0]) / 2, 0.02)
    down = abs(y - (box[1] + box[3]) / 2) / max((box[3] - box[1]) / 2, 0.02)
    return float(max(across, down))
