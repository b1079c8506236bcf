"""Dates of an animal's life: its last moult, when it matured, whether it still lives (ISO text in the book)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from clipmark.book.model import LifeEvent


def day(text: str) -> date | None:
    """The date of an ISO text; None where it is empty or no full date."""
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Life:
    """What the dated events of one animal say, up to a day. Undated events and later ones are left out.

    Attributes:
        moults: days of moults, sorted; a maturing moult counts as one.
        matured: the maturing moult.
        sperm_webs, fed: days, sorted.
        gone: day of death or sale; None while it is there.
        gone_how: "died" or "sold".
    """

    moults: tuple[date, ...]
    matured: date | None
    sperm_webs: tuple[date, ...]
    fed: tuple[date, ...]
    gone: date | None
    gone_how: str

    @property
    def last_moult(self) -> date | None:
        """The day of the latest moult that is noted."""
        return self.moults[-1] if self.moults else None

    def moult_from(self, start: date) -> date | None:
        """The first moult on or after a day."""
        return next((m for m in self.moults if m >= start), None)


def life_of(events: Iterable[LifeEvent], today: date) -> Life:
    """Read an animal's events up to today."""
    dated = sorted((d, e.kind) for e in events if (d := day(e.date)) is not None and d <= today)

    def days(*kinds: str) -> tuple[date, ...]:
        return tuple(d for d, kind in dated if kind in kinds)

    matured, gone = days("matured"), [(d, kind) for d, kind in dated if kind in ("died", "sold")]
    return Life(
        moults=days("moult", "matured"),
        matured=matured[-1] if matured else None,
        sperm_webs=days("sperm web"),
        fed=days("fed"),
        gone=gone[0][0] if gone else None,
        gone_how=gone[0][1] if gone else "",
    )
