"""The next thing along the session clock, or the one before."""

from __future__ import annotations

from fractions import Fraction


def next_place(places: list[tuple[Fraction, int]], here: Fraction, way: int, selected: int | None) -> int | None:
    """The id of the next thing in time (way +1) or the one before (-1); things at one place follow by id."""
    ordered = sorted(places)
    now = next(((place, which) for place, which in ordered if which == selected and place == here), None)
    if way > 0:
        return next((which for place, which in ordered if ((place, which) > now if now else place > here)), None)
    return next(
        (which for place, which in reversed(ordered) if ((place, which) < now if now else place < here)), None
    )
