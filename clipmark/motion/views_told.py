"""What the keeper is told of each view: how small a pull would have been found, and whose outline was followed."""

from __future__ import annotations

from collections.abc import Sequence

from clipmark.motion.result import Sensitivity, UsedOutline
from clipmark.timebase import clock


def smallest_told(shots: Sequence[Sensitivity], seconds: Sequence[float]) -> list[str]:
    """One sentence a view in which pulls were planted.

    Args:
        seconds: of every frame.
    """
    told = []
    for one in (shot for shot in shots if shot.planted):
        view = f"In the view from {clock(float(seconds[one.start]), 1)}"
        told.append(
            f"{view} not even large pulls are surely found."
            if one.smallest is None
            else f"{view} pulls of {100 * one.smallest:.0f} % of her abdomen's length and more are found."
        )
    return told


def found_told(outlines: Sequence[UsedOutline], seconds: Sequence[float]) -> list[str]:
    """One sentence for each view whose outline nobody drew."""
    return [
        f"Her outline was found by the program in the view from {clock(float(seconds[one.frame]), 1)}: check it."
        for one in outlines
        if one.source == "found"
    ]
