"""What is known of a kind, as the screens and the sheet show it: in sections, the particular before the general.

Each statement stands with its source, its rank, and the level that it is stated for. What holds for tarantulas in
general never leads where something is known of the species, its genus or its group.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from clipmark.book.model import SpeciesNote
from clipmark.reading.figure import plural
from clipmark.reading.kinds.species import (
    GENERAL,
    LEVELS,
    OWN,
    Fact,
    Known,
    levels,
    own_facts,
    own_figures,
    warnings,
)

SECTIONS = (
    ("before", "Before the pairing"),
    ("law", "Papers and law"),
    ("pairing", "How they pair"),
    ("danger", "What may go wrong"),
    ("sac", "The sac"),
    ("young", "The young"),
)
# what a statement or a figure is about -> section, words before a figure
_ABOUT = {
    "season": "before", "sperm": "before", "his time": "before", "law": "law", "courtship": "pairing",
    "clasp": "pairing", "signs": "pairing", "weak pull": "pairing", "plain pull": "pairing", "refusal": "pairing",
    "eaten": "danger", "bites": "danger", "sac": "sac", "fixed sac": "sac", "young": "young", "note": "before",
}  # fmt: skip
WORDS = {
    "moult_to_pairing": ("before", "From her moult to the pairing"),
    "moult_cycle": ("before", "Her moult cycle"),
    "late_in_cycle": ("before", "End of her cycle in which not to pair"),
    "feeding_before": ("before", "Feeding her before"),
    "female_carapace": ("before", "Her carapace"),
    "female_life": ("before", "How long females live"),
    "male_rest_after_maturing": ("before", "His rest after the maturing moult"),
    "male_first_sperm_web": ("before", "His first sperm web after maturing"),
    "male_fertile": ("before", "How long he is fertile after maturing"),
    "male_life": ("before", "How long males live"),
    "male_life_after_sperm_web": ("before", "How long he lived after his first sperm web"),
    "cooling": ("before", "Cooling before the pairing"),
    "male_with_female": ("pairing", "How long he is left with her"),
    "signal_reach": ("pairing", "How far his signal reaches"),
    "introduction_to_palp_taps": ("pairing", "From the introduction to his first palp taps"),
    "leg_entwined": ("pairing", "How long their legs are entwined"),
    "pairings": ("pairing", "How often they are paired"),
    "pairings_over": ("pairing", "Over how long they were paired"),
    "between_pairings": ("pairing", "From one pairing to the next"),
    "pairing_to_sac": ("sac", "From the pairing to the sac"),
    "longest_wait": ("sac", "Longest wait for a sac"),
    "sac_pulled_after": ("sac", "When the sac is taken, after laying"),
    "guarding": ("sac", "How long she guards the sac"),
    "sac_torn_open": ("sac", "When she tears the sac open"),
    "second_sac_after": ("sac", "From the first sac to a second"),
    "egg_to_prelarva": ("young", "From laying to eggs with legs"),
    "egg_to_larva": ("young", "From laying to larvae"),
    "sac_to_first_nymphs": ("young", "From laying to the first nymphs"),
    "sac_to_emergence": ("young", "From laying until young come out"),
    "hatching_to_second_moult": ("young", "From hatching to the second moult"),
    "stay_after_emergence": ("young", "How long young stay after coming out"),
    "brood": ("young", "Young in a sac"),
}


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that is known.

    Attributes:
        text: a sentence, or the words and the range of a figure with its note.
        cited: source, rank and what it is stated for.
        level: one of species.LEVELS.
        warns: it is a special case to watch for.
    """

    text: str
    cited: str
    level: str
    warns: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """Statements under one heading, the particular first."""

    key: str
    title: str
    statements: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class KindKnown:
    """All that is known of a kind.

    Attributes:
        species: as asked.
        headline: how much of it is about this species, its genus or group, and tarantulas in general.
        warnings: special cases, for every place, once each.
        sections: those that hold something.
    """

    species: str
    headline: str
    warnings: tuple[Fact, ...]
    sections: tuple[Section, ...]

    def particular(self, most: int) -> tuple[Statement, ...]:
        """The first statements that are not general, section by section, at most so many."""
        found = [s for section in self.sections for s in section.statements if s.level != GENERAL]
        return tuple(found[:most])


def what_is_known(species: str, own: Sequence[SpeciesNote] = ()) -> KindKnown:
    """Everything that clipmark and the keeper know of a species, also where it is only its genus or nothing."""
    found = levels(species)
    figures = [*own_figures(species, own), *(f for level in found for f in level.figures)]
    facts = [*own_facts(species, own), *(f for level in found for f in level.facts)]
    stated = [(_section(f.what), _figure(f)) for f in figures]
    stated += [(_ABOUT.get(f.about, "before"), _fact(f)) for f in facts]
    sections = tuple(
        Section(key, title, tuple(sorted((s for at, s in stated if at == key), key=lambda s: LEVELS.index(s.level))))
        for key, title in SECTIONS
    )
    places = ("pair", "film", "sac")
    warned = dict.fromkeys(f for place in places for f in warnings(species, place, own) if f.level != GENERAL)
    return KindKnown(
        species.strip(),
        _headline(species, [s for _, s in stated]),
        tuple(warned),
        tuple(s for s in sections if s.statements),
    )


def _section(what: str) -> str:
    return WORDS[what][0] if what in WORDS else _ABOUT.get(what, "before")


def _figure(figure: Known) -> Statement:
    words = WORDS[figure.what][1] if figure.what in WORDS else figure.what.replace("_", " ").capitalize()
    notes = [figure.note] if figure.note else []
    if figure.single and not any(word in figure.note for word in ("one ", "a sac")):
        notes.append("one case")
    beside = f" ({'; '.join(notes)})" if notes else ""
    return Statement(f"{words}: {figure.text}{beside}", figure.cited, figure.level)


def _fact(fact: Fact) -> Statement:
    return Statement(fact.text, fact.cited, fact.level, bool(fact.warn) and fact.level != GENERAL)


def _headline(species: str, said: Sequence[Statement]) -> str:
    number = {level: sum(s.level == level for s in said) for level in LEVELS}
    if not species.strip():
        return "No species is entered: what stands here holds for tarantulas in general, if at all."
    name = " ".join(species.split())
    first = (
        f"{plural(number['species'], 'statement')} about {name} itself"
        if number["species"]
        else f"Nothing is written down about {name} itself"
    )
    near = number["genus"] + number["group"]
    second = f"{near} about its genus or group" if near else "nothing about its genus"
    mine = f"{plural(number[OWN], 'note')} of your own, " if number[OWN] else ""
    return f"{mine}{first}, {second}, {number[GENERAL]} about tarantulas in general."
