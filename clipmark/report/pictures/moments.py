"""Which three frames show a flag: before the pull, the full pull, after it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.meaning.shots import shot_at
from clipmark.book.model import ClipRecord, FlagRecord, SessionRecord

BEFORE = Fraction(1, 8)  # s before the onset: she lies still, he is where he is about to be
AFTER = Fraction(1, 8)  # s after the release
HELD = Fraction(1)  # s after the full pull, where no release was seen


@dataclass(frozen=True, slots=True)
class Shown:
    """One of the three: `name` is before, full or after; `tick` may be any tick, the frame on screen then counts."""

    name: str
    tick: int


def three_moments(record: SessionRecord, clip: ClipRecord, flag: FlagRecord) -> tuple[Shown, Shown, Shown]:
    """The ticks of the three stills, none beyond the shot that the flag lies in."""
    start, end = shot_at(record.shots, clip, flag.onset_pts)
    last = max(end - 1, start)
    before = max(flag.onset_pts - int(BEFORE / clip.time_base), start)
    full = min(max(flag.full_pts, start), last)
    wait = HELD if flag.release_pts is None else AFTER
    after = min((flag.full_pts if flag.release_pts is None else flag.release_pts) + int(wait / clip.time_base), last)
    return Shown("before", before), Shown("full pull", full), Shown("after" if flag.release_pts else "held on", after)
