"""The clock that a running film goes by: which session time is due, and how fast the film really runs. No Qt."""

from __future__ import annotations

import time
from fractions import Fraction

_REMEMBERED = 120  # frames over which the reached speed is told


class RunClock:
    """Session time from a start on, by the sound that is heard where there is one, else by the machine's clock."""

    def __init__(self) -> None:
        self._begun_at = Fraction(0)
        self._begun_s = 0.0
        self._reached: list[tuple[float, Fraction]] = []

    def start(self, place: Fraction) -> None:
        """The session time now is `place`, seconds."""
        self._begun_at, self._begun_s = place, time.perf_counter()

    def due(self, speed: Fraction, played_s: float | None) -> Fraction:
        """The session time that is due: `played_s` seconds of sound after the start; None: by time at `speed`."""
        if played_s is not None:
            return self._begun_at + Fraction(played_s).limit_denominator(1_000_000)
        gone = Fraction(round((time.perf_counter() - self._begun_s) * 1_000_000), 1_000_000)
        return self._begun_at + gone * speed

    def forget_speed(self) -> None:
        self._reached = []

    def shown(self, place: Fraction) -> None:
        """A frame of this session time came on the screen."""
        self._reached = [*self._reached[-_REMEMBERED:], (time.perf_counter(), place)]

    def reached_speed(self) -> float:
        """Film seconds a second, over about the last two seconds; 0 before that is known."""
        if len(self._reached) < 2:
            return 0.0
        (t0, p0), (t1, p1) = self._reached[0], self._reached[-1]
        return float(p1 - p0) / (t1 - t0) if t1 - t0 > 0.4 else 0.0
