"""One figure of a reading: its value, its unit, what it means, and the marks and calls that it came from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from clipmark.timebase import clock

DASH = "–"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that the keeper reads.

    Attributes:
        key: stable name for exports, such as `latency.drumming`.
        label: what stands before the number on the sheet.
        value: exact; seconds as Fraction, counts as int; None where it could not be had (`text` says why).
        unit: "s", "count", "1/min" or "share" (0..1); "" for words.
        text: the number as the keeper reads it, with what must be said beside it.
        explanation: one sentence, how it is computed.
        marks, flags, calls: ids in the book of what it came from.
        at_least: where the thing was not over (or had not come) when the film ended: the value can only be larger
            than this; None for a complete figure.
    """

    key: str
    label: str
    value: Fraction | int | None
    unit: str
    text: str
    explanation: str
    marks: tuple[int, ...] = ()
    flags: tuple[int, ...] = ()
    calls: tuple[int, ...] = ()
    at_least: Fraction | None = None

    @property
    def censored(self) -> bool:
        """The film ended before the thing did (or before it came)."""
        return self.at_least is not None

    @property
    def number(self) -> float | None:
        """The value for arrays and drawings."""
        return None if self.value is None else float(self.value)


def seconds_text(seconds: Fraction | None) -> str:
    """`0.32 s`, `12.4 s`, `2:03.4`; a dash for None. Times on film are not finer than a frame."""
    if seconds is None:
        return DASH
    about = float(seconds)
    if abs(about) < 10:
        return f"{about:.2f} s"
    if abs(about) < 60:
        return f"{about:.1f} s"
    return clock(seconds, 1)


def share_text(share: Fraction | None) -> str:
    """`37 %`, with one decimal below ten; a dash for None."""
    if share is None:
        return DASH
    percent = 100 * float(share)
    return f"{percent:.0f} %" if percent >= 10 or percent == 0 else f"{percent:.1f} %"


def plural(number: int, one: str, many: str = "") -> str:
    """`1 attempt`, `2 attempts`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def joined(parts: Iterable[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    *front, end = [part for part in parts if part] or [""]
    return f"{', '.join(front)} {last} {end}" if front else end
