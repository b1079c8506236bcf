"""What a draft says: proposals of acts. Values only; seconds count from the clip's first frame.

Acts and actors are the codes of the book (book/meaning/acts.py), which lies above this room; a test compares them.
"""

from __future__ import annotations

from dataclasses import dataclass

HIM, HER, BOTH, KEEPER, NOBODY = "him", "her", "both", "keeper", "nobody"

INTRODUCED, SEPARATED = "introduced", "separated"
SEARCHING, DRUMMING, ANSWERING = "searching", "drumming", "answering"
CONTACT, CLASP, PULL, RELEASE = "contact", "clasp", "abdomen pull", "release"
PADDLING = "palp paddling"
RETREAT, BOLTING, STILLNESS, OUT_OF_VIEW = "retreat", "bolting", "stillness", "out of view"

ACTS = (
    INTRODUCED, SEARCHING, DRUMMING, ANSWERING, CONTACT, CLASP, PADDLING, PULL, RELEASE, RETREAT, BOLTING, STILLNESS,
    SEPARATED, OUT_OF_VIEW,
)  # fmt: skip


PALPS_STILL, ABDOMEN_DRAWN = "palps went still", "abdomen drawn in"  # codes of the book too
ANGLE_CHANGED, MALE_STRETCHED = "body angle changed", "male stretched"
NEAR = "how near he was"  # no sign of the book: a figure that the others are read with
SIGNS = (PALPS_STILL, ABDOMEN_DRAWN, ANGLE_CHANGED, MALE_STRETCHED)


@dataclass(frozen=True, slots=True)
class SignSeen:
    """One sign of one pull.

    Attributes:
        sign: code of the book, or NEAR.
        seen: whether it shows; None where it cannot be seen (for NEAR: None without a figure).
        figure, unit: the measure behind it: "%", "°" or "lengths" (of her abdomen); None where there is none.
        because: a short phrase for the keeper; where it cannot be seen, why.
    """

    sign: str
    seen: bool | None
    figure: float | None
    unit: str
    because: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """An act that the program suggests; nothing counts it until a person takes it.

    Attributes:
        act, actor: codes of the book.
        start_s, end_s: seconds; `end_s` is None for a moment.
        probability: 0..1, that a person would mark this act here.
        because: one sentence why.
        signs: of a pull, what shows round it.
    """

    act: str
    actor: str
    start_s: float
    end_s: float | None
    probability: float
    because: str
    signs: tuple[SignSeen, ...] = ()
