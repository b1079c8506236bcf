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
from pathlib import Path
from typing import Any

from clipmark.errors import ClipmarkError
from clipmark.resources import resource

GENERAL = "general"
_DAYS = {"days": 1, "weeks": 7}


class SpeciesUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(
            f"“{path}” does not hold what is known of a species ({reason}). Mend the file, or install clipmark again."
        )
        self.path, self.reason = path, reason


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
    return tuple(sorted((read(path) for path in folder.glob("*.toml")), key=lambda s: s.name))


def read(path: Path) -> Species:
    """One file of models/species.

    Raises:
        SpeciesUnreadable: it is no such file; the sentence says what is wrong in it.
    """
    try:
        return _species(tomllib.loads(path.read_text("utf-8")))
    except (OSError, ValueError, KeyError, RecursionError) as error:
        what = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise SpeciesUnreadable(path, what[:120]) from error


def _species(table: dict[str, Any]) -> Species:
    name, level = _text(table, "name"), _text(table, "level")
    of = name or "tarantulas in general"
    formerly = table.get("formerly", [])
    if not isinstance(formerly, list) or not all(isinstance(one, str) for one in formerly):
        raise ValueError("“formerly” should be a list of names")
    figures = tuple(
        Known(
            _text(f, "what"), _end(f, "low"), _end(f, "high"), _text(f, "unit"), _text(f, "source", ""),
            _text(f, "rank"), _text(f, "mark"), _text(f, "note", ""), of,
        )
        for f in _tables(table, "figure")
    )  # fmt: skip
    if any(figure.low is None and figure.high is None for figure in figures):
        raise ValueError("a figure has neither “low” nor “high”")
    facts = tuple(
        Fact(_text(f, "text"), _text(f, "source", ""), _text(f, "rank"), _text(f, "mark"), of)
        for f in _tables(table, "fact")
    )
    return Species(name, level, tuple(formerly), figures, facts)


def _tables(table: dict[str, Any], name: str) -> list[dict[str, Any]]:
    found = table.get(name, [])
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        raise ValueError(f"“{name}” should be written as [[{name}]]")
    return found


def _text(table: dict[str, Any], name: str, default: str | None = None) -> str:
    found = table[name] if default is None else table.get(name, default)
    if not isinstance(found, str):
        raise ValueError(f"“{name}” should be text")
    return found


def _end(table: dict[str, Any], name: str) -> float | None:
    found = table.get(name)
    if found is not None and (isinstance(found, bool) or not isinstance(found, int | float) or not 0 <= found <= 1e5):
        raise ValueError(f"“{name}” should be a number from 0 to 100,000")
    return found


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
    """A day so many days, weeks or months later; the last of the month where the day does not exist there, and the
    last day of all where the calendar ends before.

    Raises:
        ValueError: the unit is no span of days.
    """
    if unit in _DAYS:
        days = round(amount * _DAYS[unit])
        return day + timedelta(days=days) if days <= (date.max - day).days else date.max
    if unit != "months":
        raise ValueError(f"{unit} is no span of days")
    year, month = divmod(day.year * 12 + day.month - 1 + round(amount), 12)
    if year > date.max.year:
        return date.max
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
