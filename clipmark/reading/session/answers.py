"""Does one follow upon the other: her answer upon his drumming, his drumming upon her answer, against a shuffle.

An onset is answered where the other begins within the window after it and before the next onset of its own kind.
The shuffle turns the other's onsets round the observed time by a random amount in each session, which keeps each
animal's own rhythm and breaks only their coupling. Time out of view is cut out first, so a shuffle never lands in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.reading import roles
from clipmark.reading.session.observed import Observed
from clipmark.reading.session.occurrences import Occurrence

Floats = NDArray[np.float64]
WINDOW = Fraction(10)  # s; proposal, editable


class Filmed(Protocol):
    """What happened in one session and what of it could be seen; a `Reading` is one."""

    @property
    def occurrences(self) -> tuple[Occurrence, ...]:
        """What happened, in order of time."""

    @property
    def observed(self) -> Observed:
        """The stretches in which it would have been seen."""


@dataclass(frozen=True, slots=True)
class Answers:
    """How often one was followed by the other.

    Attributes:
        calls, answered: onsets, and how many of them were answered within `window_s`.
        delays: from onset to answer, seconds, sorted.
        by_chance: mean number answered in the shuffles; None where nothing could be shuffled.
        p: one-sided, the part of shuffles with at least as many answered (the seen order counted in).
        sessions: how many had both.
    """

    window_s: Fraction
    calls: int
    answered: int
    delays: tuple[float, ...]
    by_chance: float | None
    p: float | None
    sessions: int

    @property
    def median_delay(self) -> float | None:
        """Seconds from a call to its answer; None if none was answered."""
        return float(np.median(self.delays)) if self.delays else None

    @property
    def sentence(self) -> str:
        """The count in a sentence, with what chance alone would give."""
        if not self.calls:
            return "nothing that could have been answered is marked"
        said = f"{self.answered} of {self.calls} answered within {float(self.window_s):g} s"
        if self.by_chance is None or self.p is None:
            return said
        return f"{said}; {self.by_chance:.1f} expected by chance (p = {max(self.p, 0.001):.3f})"


def her_answers(readings: Sequence[Filmed], window: Fraction = WINDOW, draws: int = 999, seed: int = 0) -> Answers:
    """Her answers upon his drumming."""
    return answers(readings, roles.DRUMMING, roles.ANSWER, window, draws, seed)


def his_answers(readings: Sequence[Filmed], window: Fraction = WINDOW, draws: int = 999, seed: int = 0) -> Answers:
    """His drumming upon hers."""
    return answers(readings, roles.ANSWER, roles.DRUMMING, window, draws, seed)


def answers(
    readings: Sequence[Filmed],
    first: frozenset[str],
    second: frozenset[str],
    window: Fraction = WINDOW,
    draws: int = 999,
    seed: int = 0,
) -> Answers:
    """How often an act of `first` was answered by one of `second`, over one or more sessions.

    Raises:
        ValueError: the window is not positive.
    Source: circular shift test, common practice for coupled series; the window is a proposal.
    """
    if window <= 0:
        raise ValueError("the window must be positive")
    random = np.random.default_rng(seed)
    calls, delays, both = 0, [], 0
    shuffled = np.zeros(draws)
    for reading in readings:
        a = _onsets(reading.occurrences, reading.observed, first)
        b = _onsets(reading.occurrences, reading.observed, second)
        calls += len(a)
        if not len(a) or not len(b):
            continue
        both += 1
        reach = _reach(a, float(window))
        delays.extend(_delays(a, reach, b))
        length = float(reading.observed.seconds)
        turned = (b[None, :] + random.uniform(0, length, draws)[:, None]) % length
        shuffled += _count(a, reach, turned)
    if not both:
        return Answers(window, calls, 0, (), None, None, 0)
    p = (1 + int((shuffled >= len(delays)).sum())) / (draws + 1)
    return Answers(window, calls, len(delays), tuple(sorted(delays)), float(shuffled.mean()), p, both)


def answer_delays(
    happened: Sequence[Occurrence],
    observed: Observed,
    first: frozenset[str],
    second: frozenset[str],
    window: Fraction = WINDOW,
) -> tuple[int, list[float]]:
    """Of one session: how many onsets could have been answered, and the delays of those that were, in seconds."""
    a, b = _onsets(happened, observed, first), _onsets(happened, observed, second)
    return len(a), _delays(a, _reach(a, float(window)), b) if len(a) else []


def _onsets(happened: Sequence[Occurrence], observed: Observed, codes: frozenset[str]) -> Floats:
    starts = [o.start for o in happened if o.act in codes and any(o.start in s for s in observed.seen)]
    return np.array(sorted(seen_time(observed, s) for s in starts), float)


def seen_time(observed: Observed, at: Fraction) -> float:
    """Seconds of observed time that lie before an instant of the session clock."""
    return float(observed.seen_between(min(observed.period.start, at), at))


def _reach(a: Floats, window: float) -> Floats:
    """How far each onset waits for its answer: the window, or until just before the next onset of its own kind."""
    following = np.append(np.nextafter(a[1:], -np.inf), np.inf)
    return np.minimum(a + window, following)


def _delays(a: Floats, reach: Floats, b: Floats) -> list[float]:
    found = np.searchsorted(b, a, side="right")
    return [float(b[j] - t) for t, limit, j in zip(a, reach, found, strict=True) if j < len(b) and b[j] <= limit]


def _count(a: Floats, reach: Floats, turned: Floats) -> Floats:
    """Number answered in each shuffle; `turned` of shape (draws, m), result (draws,)."""
    draws = len(turned)
    apart = max(float(turned.max()), float(reach[np.isfinite(reach)].max())) + 1
    shift = np.arange(draws)[:, None] * apart  # lays the shuffles end to end, so that one search serves all
    line = (np.sort(turned, axis=1) + shift).ravel()
    after = np.searchsorted(line, a[None, :] + shift, side="right")
    until = np.searchsorted(line, reach[None, :] + shift, side="right")
    return (until > after).sum(1).astype(float)
