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


@dataclass(frozen=True, slots=True)
class Proposal:
    """An act that the program suggests; nothing counts it until a person takes it.

    Attributes:
        act, actor: codes of the book.
        start_s, end_s: seconds; `end_s` is None for a moment.
        probability: 0..1, that a person would mark this act here.
        because: one sentence why.
    """

    act: str
    actor: str
    start_s: float
    end_s: float | None
    probability: float
    because: str
