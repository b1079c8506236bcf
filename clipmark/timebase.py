"""What a time is here: an exact number of ticks in one clip, never a float, never a frame rate.

Float seconds appear only where something is drawn, printed, or computed over whole arrays.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from clipmark.errors import ClipmarkError


class RationalLike(Protocol):
    @property
    def numerator(self) -> int:
        """The number above the line."""

    @property
    def denominator(self) -> int:
        """The number below the line."""


class TimeUnreadable(ClipmarkError):
    def __init__(self, text: str):
        super().__init__(f"“{text}” is not a time. Write it as 1:02:03.250, 2:03.25 or as seconds, such as 123.25.")
        self.text = text


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """An instant in one clip: `pts` ticks of `time_base` seconds each (ticks as the film file counts them)."""

    pts: int
    time_base: Fraction

    @property
    def seconds(self) -> Fraction:
        """Seconds on the film file's own clock; exact."""
        return self.pts * self.time_base


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time, half-open: `start` belongs to it, `end` does not. Seconds, exact.

    Raises:
        ValueError: the end lies before the start.
    """

    start: Fraction
    end: Fraction

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"a span cannot end ({self.end}) before it starts ({self.start})")

    @property
    def duration(self) -> Fraction:
        """Seconds from start to end."""
        return self.end - self.start

    def __contains__(self, at: Fraction) -> bool:
        return self.start <= at < self.end


def exact(rational: RationalLike | None) -> Fraction | None:
    """The value as a Fraction; None where the film does not state it (copied at the door: libraries have
    rational types of their own, some of which call "not stated" zero, some None)."""
    return Fraction(rational.numerator, rational.denominator) if rational else None


def clock(seconds: Fraction | float, places: int = 3) -> str:
    """Seconds as the keeper reads them: `0:00.000`, `1:02.500`, `1:01:02.500`; negative times get a minus."""
    scale = 10**places
    ticks = round(Fraction(seconds) * scale)
    sign, ticks = ("−" if ticks < 0 else ""), abs(ticks)
    whole, part = divmod(ticks, scale)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    tail = f".{part:0{places}d}" if places else ""
    if hours:
        return f"{sign}{hours}:{minute:02d}:{second:02d}{tail}"
    return f"{sign}{minute}:{second:02d}{tail}"


_CLOCK = re.compile(r"\s*([-−]?)(?:(?:(\d+):)?(\d+):)?(\d+)(?:[.,](\d+))?\s*(?:s)?\s*", re.ASCII)


def parse_clock(text: str) -> Fraction:
    """Exact seconds from what `clock` writes, or from plain seconds.

    Raises:
        TimeUnreadable: the text is no time.
    """
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise TimeUnreadable(text)
    sign, hours, minutes, seconds, part = match.groups()
    if minutes is not None and (int(seconds) >= 60 or (hours is not None and int(minutes) >= 60)):
        raise TimeUnreadable(text)
    value = Fraction(int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds))
    if part:
        value += Fraction(int(part), 10 ** len(part))
    return -value if sign else value
