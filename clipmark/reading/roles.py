"""Which acts a reading looks for: codes of book/meaning/acts.py by the part that they play."""

from __future__ import annotations

from clipmark.book.meaning import acts
from clipmark.book.model import Act, SessionRecord

INTRODUCED = frozenset({acts.INTRODUCED})
SEPARATED = frozenset({acts.SEPARATED})
OUT_OF_VIEW = frozenset({acts.OUT_OF_VIEW})
CONTACT = frozenset({acts.CONTACT})
HOLD = frozenset({acts.CLASP, acts.KNOCK_DOWN})
INSERTION = acts.INSERTIONS
ATTEMPT = frozenset({acts.ATTEMPT})

DRUMMING = frozenset({"drumming"})
SHAKING = frozenset({"body shaking", "jerk", "trembling"})
COURTSHIP = DRUMMING | SHAKING | frozenset({"palp touching", "leg tapping", "leg drumming", "push-up"})
ANSWER = frozenset({"answering"})
REFUSAL = frozenset({"rocking", "threat"})
RETREAT = frozenset({"retreat"})
BOLT = frozenset({"bolting"})
LUNGE = frozenset({"lunge"})
KILL = frozenset({"killing", "feeding"})
TOUCHING = CONTACT | HOLD | INSERTION | ATTEMPT | frozenset({"leg play", "palp paddling", "lifting", "slapping"})
CLEANING = frozenset({"palp cleaning", "abdomen cleaning"})

# Acts of the keeper or of the film, no behaviour: left out of tables of what the animals did.
NO_BEHAVIOUR = INTRODUCED | SEPARATED | OUT_OF_VIEW


def palp(code: str) -> str:
    """ "left" or "right" where the act tells which palp, else ""."""
    return {acts.INSERTION_LEFT: "left", acts.INSERTION_RIGHT: "right"}.get(code, "")


def label(record: SessionRecord, code: str) -> str:
    """The act's name as this book calls it."""
    act = record.act(code) or acts.built_in(code)
    return act.label if act else code


def kind(record: SessionRecord, code: str) -> Act | None:
    """The act as this book has it, else the built-in one."""
    return record.act(code) or acts.built_in(code)
