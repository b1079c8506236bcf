"""The colours of acts, by what kind of act it is: the same on the sheet and on the log roll of the window.

Okabe and Ito 2008, "Color Universal Design": told apart with every kind of colour vision. A side, a shape or a word
always says the same as the colour.
"""

from __future__ import annotations

from dataclasses import dataclass

ORANGE, SKY, GREEN, BLUE, VERMILION, PURPLE = "#e69f00", "#56b4e9", "#009e73", "#0072b2", "#d55e00", "#cc79a7"
YELLOW = "#f0e442"


@dataclass(frozen=True, slots=True)
class Family:
    """Acts of one kind: what the legend calls them, their colour, their codes (book/meaning/acts.py)."""

    name: str
    colour: str
    codes: tuple[str, ...]


FAMILIES: tuple[Family, ...] = (
    Family("signals", SKY, (
        "searching", "palp touching", "drumming", "body shaking", "jerk", "trembling", "leg tapping", "leg drumming",
        "push-up",
    )),
    Family("answers", GREEN, ("answering", "rearing")),
    Family("touching and holding", ORANGE, (
        "contact", "leg play", "palp paddling", "clasp", "slapping", "lifting", "knock-down", "release",
    )),
    Family("inserting", VERMILION, (
        "attempt", "insertion", "insertion left", "insertion right", "withdrawal", "abdomen pull",
    )),
    Family("aggression", PURPLE, ("rocking", "hissing", "threat", "lunge", "killing", "feeding", "bite by him")),
)  # fmt: skip

_BY_CODE = {code: family for family in FAMILIES for code in family.codes}


def family_of(code: str) -> Family | None:
    """The family of an act; None for all that has none (parting, cleaning, acts of the keeper's own)."""
    return _BY_CODE.get(code)
