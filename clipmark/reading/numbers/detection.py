"""How well something was found: precision, recall, and signal detection's d' (TRADE 5.7)."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt


@dataclass(frozen=True, slots=True)
class Found:
    """Counts of right and wrong; a measure is None where it is undefined and shown as "–"."""

    hits: int
    false: int
    missed: int
    rightly_left: int = 0

    @property
    def precision(self) -> float | None:
        """Share of what was proposed that is right; None if nothing was."""
        return self.hits / (self.hits + self.false) if self.hits + self.false else None

    @property
    def recall(self) -> float | None:
        """Share of what is there that was found; None if nothing is."""
        return self.hits / (self.hits + self.missed) if self.hits + self.missed else None

    @property
    def f1(self) -> float | None:
        """Harmonic mean of precision and recall."""
        total = 2 * self.hits + self.false + self.missed
        return 2 * self.hits / total if total else None

    @property
    def accuracy(self) -> float | None:
        """Share of all that was told rightly."""
        total = self.hits + self.false + self.missed + self.rightly_left
        return (self.hits + self.rightly_left) / total if total else None

    @property
    def correlation(self) -> float | None:
        """Matthews correlation."""
        a, b, c, d = self.hits, self.false, self.missed, self.rightly_left
        under = (a + b) * (a + c) * (d + b) * (d + c)
        return (a * d - b * c) / sqrt(under) if under else None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """d' (how well two things are told apart), beta and criterion (how readily yes is said)."""

    d_prime: float
    beta: float
    criterion: float


def sensitivity(hit_rate: float, false_alarm_rate: float) -> Sensitivity | None:
    """d', beta and c from two rates; None for rates of 0 or 1 (use `corrected`). Source: [SD]."""
    if not (0 < hit_rate < 1 and 0 < false_alarm_rate < 1):
        return None
    from scipy.special import ndtri

    hit, alarm = float(ndtri(hit_rate)), float(ndtri(false_alarm_rate))
    return Sensitivity(hit - alarm, exp((alarm**2 - hit**2) / 2), -(hit + alarm) / 2)


def corrected(found: Found) -> Sensitivity | None:
    """The same from counts with the log-linear correction (add 0.5 to hits and false alarms, 1 to each total)."""
    real, noise = found.hits + found.missed, found.false + found.rightly_left
    return sensitivity((found.hits + 0.5) / (real + 1), (found.false + 0.5) / (noise + 1))
