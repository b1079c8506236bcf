"""What is known of a species: timings and facts from models/species, each with source, rank and mark.

A figure is looked up for the species first, then for its genus, then for tarantulas in general. What nobody has
written down stays unknown. Within one level figures that were read in a source come before those from memory.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from clipmark.resources import resource

GENERAL = "general"
_DAYS = {"days": 1, "weeks": 7}


@dataclass(frozen=True, slots=True)
class Known:
    """A figure or range from a source.

    Attributes:
        what: such as "pairing_to_sac", "sac_to_emergence", "brood".
        low, high: the range; None where the source gives no such end. At least one is there.
        unit: "days", "weeks", "months", "young", ...
        source: key of docs/trade-facts.md, "" where it is from memory.
        rank: "paper", "hobby" or "news".
        mark: "read" (in the source), "calculated" (from dates in it) or "from memory".
        of: the species or genus that it is stated for, "tarantulas in general" for the rest.
    """

    what: str
    low: float | None
    high: float | None
    unit: str
    source: str
    rank: str
    mark: str
    note: str
    of: str

    @property
    def text(self) -> str:
        """`4 to 10 weeks`, `up to 6 months`, `from 20 mm`, `7 weeks`."""
        if self.low is None:
            span = f"up to {self.high:g}"
        elif self.high is None:
            span = f"from {self.low:g}"
        else:
            span = f"{self.low:g}" if self.low == self.high else f"{self.low:g} to {self.high:g}"
        return f"{span} {self.unit}"

    @property
    def cited(self) -> str:
        """The source as it stands beside a figure: `[SA] (hobby), tarantulas in general`."""
        where = f"[{self.source}] ({self.rank})" if self.source else "from memory, no source"
        return f"{where}, {self.of}"


@dataclass(frozen=True, slots=True)
class Fact:
    """A statement that is no range, with its source (several keys where several say it)."""

    text: str
    source: str
    rank: str
    mark: str
    of: str


@dataclass(frozen=True, slots=True)
class Species:
    """One file of models/species."""

    name: str
    level: str
    formerly: tuple[str, ...]
    figures: tuple[Known, ...]
    facts: tuple[Fact, ...]


@cache
def load_all() -> tuple[Species, ...]:
    """All species and genera with figures, sorted by name; the general ones have level "general"."""
    folder = resource("models/species")
    return tuple(sorted((_load(path.read_text("utf-8")) for path in folder.glob("*.toml")), key=lambda s: s.name))


def _load(text: str) -> Species:
    table = tomllib.loads(text)
    of = table["name"] or "tarantulas in general"
    figures = tuple(
        Known(f["what"], f.get("low"), f.get("high"), f["unit"], f.get("source", ""), f["rank"], f["mark"],
              f.get("note", ""), of)
        for f in table.get("figure", ())
    )  # fmt: skip
    facts = tuple(Fact(f["text"], f.get("source", ""), f["rank"], f["mark"], of) for f in table.get("fact", ()))
    return Species(table["name"], table["level"], tuple(table.get("formerly", ())), figures, facts)


@cache
def names() -> tuple[str, ...]:
    """Names to offer while a keeper types a species, sorted; anything else may be written too."""
    listed = resource("models/species/names.txt").read_text("utf-8").splitlines()
    known = {line.strip() for line in listed if line.strip() and not line.startswith("#")}
    known.update(s.name for s in load_all() if s.level == "species")
    return tuple(sorted(known))


def genus_of(name: str) -> str:
    """The first word of a species name, capitalised; "" where there is none."""
    words = name.split()
    return words[0].capitalize() if words else ""


def levels(name: str) -> tuple[Species, ...]:
    """The files that speak of a species, most particular first: its own, its genus, the general one.

    Case and surplus spaces do not matter, and a former name finds the present one.
    """
    wanted = " ".join(name.split()).lower()
    own = next((s for s in load_all() if s.level == "species" and wanted in _called(s)), None)
    genus = genus_of(own.name if own else name)
    found = [own] if own else []
    found += [s for s in load_all() if s.level == "genus" and s.name == genus]
    found += [s for s in load_all() if s.level == GENERAL]
    return tuple(found)


def _called(species: Species) -> set[str]:
    return {species.name.lower(), *(old.lower() for old in species.formerly)}


def known(name: str, what: str) -> tuple[Known, ...]:
    """Every figure of that kind for a species: read and calculated ones first, the particular before the general;
    those from memory come last. Empty where nothing is known."""
    found = [f for level in levels(name) for f in level.figures if f.what == what]
    return tuple(sorted(found, key=lambda f: f.mark == "from memory"))


def facts(name: str) -> tuple[Fact, ...]:
    """Statements about the species and its genus (the general ones left out)."""
    return tuple(f for level in levels(name) if level.level != GENERAL for f in level.facts)


@dataclass(frozen=True, slots=True)
class DateWindow:
    """From the first to the last day of something, both in it; `source` as it is to be shown."""

    first: date
    last: date
    source: str
    note: str = ""

    @property
    def text(self) -> str:
        return self.first.isoformat() if self.first == self.last else f"{self.first} to {self.last}"


def add(day: date, amount: float, unit: str) -> date:
    """A day so many days, weeks or months later; the last of the month where the day does not exist there.

    Raises:
        ValueError: the unit is no span of days.
    """
    if unit in _DAYS:
        return day + timedelta(days=round(amount * _DAYS[unit]))
    if unit != "months":
        raise ValueError(f"{unit} is no span of days")
    year, month = divmod(day.year * 12 + day.month - 1 + round(amount), 12)
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month + 1, min(day.day, last))
        except ValueError:
            continue
    raise AssertionError("every month has 28 days")


def window(start: date, figure: Known) -> DateWindow:
    """The window that a range gives from a day on; a missing low end means from the day itself."""
    low = figure.low if figure.low is not None else 0
    high = figure.high if figure.high is not None else low
    return DateWindow(
        add(start, low, figure.unit), add(start, high, figure.unit), f"{figure.text} {figure.cited}", figure.note
    )


def windows(start: date, figures: Sequence[Known]) -> tuple[DateWindow, ...]:
    """One window a figure, in the same order; figures in other units than days, weeks, months are left out."""
    return tuple(window(start, f) for f in figures if f.unit in (*_DAYS, "months"))
