"""Which signs of an insertion to expect with a kind: common practice, no source, and never a verdict.

In some kinds, gentle tree-dwellers among them, her abdomen is hardly drawn in. There a pull is a weak sign, a
missing pull is no evidence, and the stillness of his palps and his stretch tell more. A keeper may say so of any
kind, or take it back, with a note of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clipmark.book.model import SessionRecord, Sign, SpeciesNote
from clipmark.reading.kinds.notices import COMMON_PRACTICE
from clipmark.reading.kinds.species import GENERAL, Fact, facts, warnings

WEAK, PLAIN = "weak pull", "plain pull"
_STILL = (
    "Look first for palps that go still: as long as they flick about there is no insertion yet.",
    f"{COMMON_PRACTICE}, tarantulas in general",
)


@dataclass(frozen=True, slots=True)
class Expected:
    """What to look for with this pair.

    Attributes:
        species: hers; his where hers is not noted.
        pull_is_weak: her abdomen is hardly drawn in in this kind.
        telling: the signs that tell most, strongest first.
        lines: (what to look for, source) each.
        missing_pull: what a missing pull means here, in a sentence.
        source: where that is from.
    """

    species: str
    pull_is_weak: bool
    telling: tuple[Sign, ...]
    lines: tuple[tuple[str, str], ...]
    missing_pull: str
    source: str


def species_of(record: SessionRecord) -> str:
    """Her species; his where hers is not noted; "" where neither is."""
    animals = [a for a in (record.female, record.male) if a is not None and a.species.strip()]
    return animals[0].species if animals else ""


def expected(species: str, own: Sequence[SpeciesNote] = ()) -> Expected:
    """The signs to expect with a species, as far as anybody says."""
    said = next((f for f in facts(species, own) if f.about in (WEAK, PLAIN)), None)
    special = [(f.text, f.cited) for f in warnings(species, "film", own) if f.level != GENERAL and f is not said]
    if said is not None and said.about == WEAK:
        return Expected(
            species.strip(),
            True,
            (Sign.PALPS_STILL, Sign.MALE_STRETCHED, Sign.BULB_SEATED, Sign.ANGLE_CHANGED, Sign.ABDOMEN_DRAWN),
            ((said.text, said.cited), _STILL, *special),
            "In this kind her abdomen hardly moves: that there is no pull is no evidence against an insertion.",
            said.cited,
        )
    line = "Her abdomen drawn in while his palps are still: the usual sign of an insertion."
    usual = (line, f"{COMMON_PRACTICE}, tarantulas in general") if said is None else (said.text, said.cited)
    return Expected(
        species.strip(),
        False,
        (Sign.ABDOMEN_DRAWN, Sign.PALPS_STILL, Sign.BULB_SEATED, Sign.MALE_STRETCHED, Sign.ANGLE_CHANGED),
        (usual, _STILL, *special),
        "Her abdomen unmoved while he works speaks against an insertion, where she could be seen all the time; kinds"
        " differ, and of some nobody has written down what her abdomen does.",
        COMMON_PRACTICE if said is None else said.cited,
    )


def stop_and_look(species: str, own: Sequence[SpeciesNote] = ()) -> tuple[Fact, ...]:
    """Special cases to watch for before the pairing, the particular ones only."""
    return tuple(f for f in warnings(species, "pair", own) if f.level != GENERAL)
