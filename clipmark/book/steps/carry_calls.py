"""Carrying a keeper's judgement from an older motion pass to a newer one, so that no call and no pull is lost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from clipmark.book.forms import rows
from clipmark.book.model import Call, Decision, FlagRecord

if TYPE_CHECKING:
    from clipmark.book.steps.edits import Edits
    from clipmark.book.steps.journal import Writer

# Two passes mean the same pull when their onsets lie this close: the early half of the window that accuracy is
# measured with (a flag may lie up to 0.4 s before the onset). Own choice, no source.
SAME_PULL = Fraction(2, 5)
SEEN = (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT)


@dataclass(frozen=True, slots=True)
class Judged:
    """A flag in view before the new pass, the latest call of each reviewer on it, and the keeper's own flags that
    stand behind it (`FlagRecord.proposed_as`)."""

    flag: FlagRecord
    calls: tuple[Call, ...]
    behind: tuple[FlagRecord, ...]


def judged(book: Edits, clip_id: int) -> list[Judged]:
    """Flags in view of a clip that a person has had a hand in."""
    own = book.rows_of(rows.FLAG, "clip_id = ? AND pass_id IS NULL", (clip_id,), "onset_pts, id")
    proposed = book.rows_of(
        rows.FLAG, "clip_id = ? AND pass_id IN (SELECT id FROM pass WHERE current)", (clip_id,), "onset_pts, id"
    )
    found = []
    for flag in (*(flag for flag in own if flag.proposed_as == 0), *proposed):
        calls = {call.reviewer: call for call in book.rows_of(rows.CALL, "flag_id = ?", (flag.id,))}
        behind = tuple(one for one in own if flag.pass_id is not None and one.proposed_as == flag.id)
        if calls or behind or flag.pass_id is None:
            found.append(Judged(flag, tuple(calls.values()), behind))
    return found


def carry_calls(writer: Writer, older: list[Judged], flags: list[FlagRecord], time_base: Fraction) -> None:
    """Carry calls to the new pass's flags of the same pulls; keep in view what the new pass does not propose.

    Args:
        flags: the new pass's flags that are shown, with their ids.
    """
    matched = same_pulls([one.flag for one in older], flags, SAME_PULL / time_base)
    for place, one in enumerate(older):
        found = flags[matched[place]].id if place in matched else 0
        own = one.behind if one.flag.pass_id is not None else (one.flag,)
        for flag in own:
            writer.update("flag", flag.id, {"proposed_as": found})
        if found == 0:
            if one.flag.pass_id is None:
                continue  # a keeper's own flag: it stays in view with its calls, as it is
            seen = [call for call in one.calls if call.decision in SEEN]
            if own:
                found = own[0].id
            elif seen:
                found = writer.insert("flag", rows.encode(_own_flag(one.flag, seen[-1].reviewer)))
            else:
                continue
        for call in one.calls:
            writer.insert("call", rows.encode(replace(call, flag_id=found, carried_from=call.id)))


def _own_flag(flag: FlagRecord, reviewer: str) -> FlagRecord:
    because = "Called in an earlier motion pass; the newer one does not propose it."
    return replace(flag, id=0, pass_id=None, score=None, because=because, flagged=True, by=reviewer or "a reviewer")


def same_pulls(older: Iterable[FlagRecord], newer: Iterable[FlagRecord], within: Fraction) -> dict[int, int]:
    """Which old flag is which new one: position to position, one to one, onsets at most `within` ticks apart; as
    many pairs as possible, and of these the pairing with the smallest sum of distances."""
    before, after = [flag.onset_pts for flag in older], [flag.onset_pts for flag in newer]
    if not before or not after:
        return {}
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    apart = np.abs(np.subtract.outer(np.array(before), np.array(after))).astype(float)
    limit = float(within)
    # a pair that is too far costs more than all near ones together, so it never displaces a near pair
    cost = np.where(apart <= limit, apart, (limit + 1) * (len(before) + len(after)))
    pairs = zip(*linear_sum_assignment(cost), strict=True)
    return {int(old): int(new) for old, new in pairs if apart[old, new] <= limit}
