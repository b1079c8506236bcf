"""A kind at a glance: what is known of it, what to watch for, what not to conclude. A few lines each, with sources.

Everything else of it is in `known.what_is_known`; the cautions in full are in `notices`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clipmark.book.model import SpeciesNote
from clipmark.reading.advice.known import KindKnown, what_is_known
from clipmark.reading.kinds import notices
from clipmark.reading.kinds.notices import COMMON_PRACTICE, Notice
from clipmark.reading.kinds.signs import Expected, expected, stop_and_look

MOST_KNOWN = 6
Line = tuple[str, str]  # what is said, and its source

_STOP = ("Separate them when she attacks or he is pinned: with long soft tools, never a hand.", COMMON_PRACTICE)
_SIZE = ("She should have at least three quarters of the usual adult size of her species.", "[TF] (hobby)")
_LAW = (
    "Look up whether the species is listed and what your own country asks for, at https://checklist.cites.org.",
    "[CEC19] [ATS]",
)
_VET = ("Sick, hurt or stuck in its moult: ask a veterinarian who knows invertebrates.", COMMON_PRACTICE)
_SEEN = (
    "A good-looking pairing does not prove that a sac will come, nor a sac that there was sperm.",
    "[TSU595] (hobby)",
)
_HIDDEN = ("What the camera could not see counts neither for nor against.", COMMON_PRACTICE)
_EATEN = ("Nobody knows what share of males is eaten.", "[CP02] [PS13] [FF08] (papers)")
_FEW = ("From fewer than five pairings no rule follows, and pairings of one female are not independent.", "proposal")


@dataclass(frozen=True, slots=True)
class Glance:
    """What a keeper sees first of a kind.

    Attributes:
        known: of the species, its genus or its group; empty where nothing is.
        watch: special cases of the kind first, then what holds for all.
        not_conclude: what must not be read out of what will be seen.
        everything: all that is known, in sections.
        expected: the signs to look for on film.
        cautions: the full texts to show before a pairing.
    """

    headline: str
    known: tuple[Line, ...]
    watch: tuple[Line, ...]
    not_conclude: tuple[Line, ...]
    everything: KindKnown
    expected: Expected
    cautions: tuple[Notice, ...]


def glance(species: str, own: Sequence[SpeciesNote] = ()) -> Glance:
    """A species at a glance; "" gives what holds for all."""
    everything, signs = what_is_known(species, own), expected(species, own)
    special = [(f.text, f.cited) for f in stop_and_look(species, own)]
    warned = {text for text, _ in special}
    known = [(s.text, s.cited) for s in everything.particular(100) if s.text not in warned]
    return Glance(
        headline=everything.headline,
        known=tuple(known[:MOST_KNOWN]),
        watch=(*special, _STOP, _SIZE, _LAW, _VET),
        not_conclude=((signs.missing_pull, signs.source), _SEEN, _HIDDEN, _EATEN, _FEW),
        everything=everything,
        expected=signs,
        cautions=notices.before_pairing(species),
    )
