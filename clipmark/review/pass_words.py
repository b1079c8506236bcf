"""How far motion passes are, one by one and together: share, time left, in words. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clipmark.review.pass_files import Job


@dataclass(frozen=True, slots=True)
class Running:
    """A pass that waits or runs: frames done and in all (0: not known yet), seconds since it began (None: waits)."""

    job: Job
    done: int
    total: int
    for_s: float | None

    @property
    def left_s(self) -> float | None:
        """Seconds that it will still take at the pace so far; None before that is known."""
        if self.for_s is None or not self.total or self.done < 0.02 * self.total:
            return None
        return self.for_s * (self.total - self.done) / self.done

    @property
    def share(self) -> float | None:
        """Share done, 0..1; None before anything is known."""
        return min(self.done / self.total, 1.0) if self.total else None


@dataclass(frozen=True, slots=True)
class Together:
    """Passes together: share done (None: nothing is known yet) and words for a bar."""

    share: float | None
    words: str


def progress_of(running: Sequence[Running]) -> Together:
    """All passes that run and wait, taken together; one that waits is taken to be as long as those that run."""
    shares = [one.share for one in running if one.for_s is not None]
    known = [share for share in shares if share is not None]
    if not known:
        return Together(None, "")
    whole = sum(known) / len(running)
    left = [one.left_s for one in running if one.for_s is not None]
    words = f"{round(100 * whole)} %"
    if left and all(one is not None for one in left):
        waiting = sum(1 for one in running if one.for_s is None)
        paces = [one.for_s + one.left_s for one in running if one.for_s is not None and one.left_s is not None]
        rest = max(one for one in left if one is not None) + waiting * sum(paces) / len(paces) / len(paces)
        words += f", {time_left(rest)}"
    return Together(whole, words)


def words_of(one: Running) -> str:
    """One pass in words: its film, how far, how long still."""
    return f"{one.job.title}: {how_far(one)}"


def how_far(one: Running) -> str:
    """How far a pass is, and how long still."""
    if one.for_s is None:
        return "waits"
    if one.share is None:
        return "begins"
    left = one.left_s
    return f"{round(100 * one.share)} %" + (f", {time_left(left)}" if left is not None else "")


def time_left(seconds: float) -> str:
    """A rough time for people: nobody wants seconds of an hour."""
    if seconds < 10:
        return "a few seconds left"
    if seconds < 55:
        return f"about {round(seconds / 10) * 10} s left"
    minutes = round(seconds / 60)
    return f"about {minutes} min left" if minutes < 90 else f"about {round(minutes / 60, 1):g} h left"
