"""What is known of a species: timings and facts from models/species, each with source, rank and mark.

A figure is looked up for the species first, then for its genus, then for the groups that the genus belongs to, then
for tarantulas in general. A keeper's own figure goes before all of them. What nobody has written down stays unknown.
Within one level figures that were read in a source come before those from memory.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from clipmark.book.model import SpeciesNote
from clipmark.errors import ClipmarkError
from clipmark.resources import resource

OWN, GENERAL = "own", "general"
LEVELS = (OWN, "species", "genus", "group", GENERAL)  # the particular before the general
PLACES = ("pair", "film", "sac")  # where a fact warns: before the pairing, at the film, after the sac
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
        source: key of docs/trade-facts.md, "" where there is none.
        rank: "paper", "hobby", "news", "practice", or "own".
        mark: "read" (in the source), "calculated" (from dates in it), "from memory", "common practice", "your own".
        of: the species, genus or group that it is stated for, "tarantulas in general" for the rest.
        level: one of LEVELS.
        single: told of one animal or one pair, so no rule follows from it.
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
    level: str = GENERAL
    single: bool = False

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
        return cited(self.source, self.rank, self.mark, self.of)


@dataclass(frozen=True, slots=True)
class Fact:
    """A statement that is no range, with its source (several keys where several say it).

    Attributes:
        about: what it is about, such as "clasp", "law", "sac"; see clipmark.reading.advice.known.
        warn: where it is a warning, some of PLACES.
        level: one of LEVELS.
    """

    text: str
    source: str
    rank: str
    mark: str
    of: str
    about: str = ""
    warn: tuple[str, ...] = ()
    level: str = GENERAL

    @property
    def cited(self) -> str:
        """The source as it stands beside the statement."""
        return cited(self.source, self.rank, self.mark, self.of)


def cited(source: str, rank: str, mark: str, of: str) -> str:
    """`[VS] [TSN] (hobby), Ceratogyrus`; `from memory, no source, Poecilotheria`; `your own, Poecilotheria`."""
    if mark == "noted":  # in the keeper's own book
        return of
    if mark == "your own":
        where = "your own"
    elif source:
        where = " ".join(f"[{key}]" for key in source.split(", ")) + f" ({rank})"
    else:
        where = f"{mark}, no source"
    return f"{where}, {of}"


@dataclass(frozen=True, slots=True)
class Species:
    """One file of models/species. `genera` is for a group: the genera in it; `members` says how that is known."""

    name: str
    level: str
    formerly: tuple[str, ...]
    figures: tuple[Known, ...]
    facts: tuple[Fact, ...]
    genera: tuple[str, ...] = ()
    members: str = ""


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
    if level not in LEVELS:
        raise ValueError(f"“level” should be one of {', '.join(LEVELS)}")
    of = name or "tarantulas in general"
    figures = tuple(
        Known(
            _text(f, "what"), _end(f, "low"), _end(f, "high"), _text(f, "unit"), _text(f, "source", ""),
            _text(f, "rank"), _text(f, "mark"), _text(f, "note", ""), of, level, f.get("single") is True,
        )
        for f in _tables(table, "figure")
    )  # fmt: skip
    if any(figure.low is None and figure.high is None for figure in figures):
        raise ValueError("a figure has neither “low” nor “high”")
    facts = tuple(
        Fact(
            _text(f, "text"), _text(f, "source", ""), _text(f, "rank"), _text(f, "mark"), of, _text(f, "about", ""),
            _names(f, "warn"), level,
        )
        for f in _tables(table, "fact")
    )  # fmt: skip
    return Species(
        name, level, _names(table, "formerly"), figures, facts, _names(table, "genera"), _text(table, "members", "")
    )


def _names(table: dict[str, Any], name: str) -> tuple[str, ...]:
    found = table.get(name, [])
    if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
        raise ValueError(f"“{name}” should be a list of names")
    return tuple(found)


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
    """The files that speak of a species, most particular first: its own, its genus, its groups, the general one.

    Case and surplus spaces do not matter, and a former name finds the present one.
    """
    wanted = " ".join(name.split()).lower()
    own = next((s for s in load_all() if s.level == "species" and wanted in _called(s)), None)
    genus = genus_of(own.name if own else name)
    found = [own] if own else []
    found += [s for s in load_all() if s.level == "genus" and s.name == genus]
    found += [s for s in load_all() if s.level == "group" and genus in s.genera]
    found += [s for s in load_all() if s.level == GENERAL]
    return tuple(found)


def _called(species: Species) -> set[str]:
    return {species.name.lower(), *(old.lower() for old in species.formerly)}


def known(name: str, what: str, own: Sequence[SpeciesNote] = ()) -> tuple[Known, ...]:
    """Every figure of that kind for a species, the keeper's own first, then the particular before the general. Within
    one level those that were read or calculated come before those from memory. Empty where nothing is known."""
    found = [*own_figures(name, own), *(f for level in levels(name) for f in level.figures)]
    mine = [f for f in found if f.what == what]
    return tuple(sorted(mine, key=lambda f: (LEVELS.index(f.level), f.mark == "from memory")))


def facts(name: str, own: Sequence[SpeciesNote] = ()) -> tuple[Fact, ...]:
    """Statements about the species, its genus and its groups, the keeper's own first (the general ones left out)."""
    said = [f for level in levels(name) if level.level != GENERAL for f in level.facts]
    return (*own_facts(name, own), *said)


def about(name: str, note: SpeciesNote) -> bool:
    """Whether a keeper's own note is about this species: it names the species (also a former name of it) or its
    genus."""
    noted = " ".join(note.species.split()).lower()
    called = {" ".join(name.split()).lower(), genus_of(name).lower()}
    for level in levels(name):
        if level.level in ("species", "genus"):
            called |= _called(level) | {genus_of(level.name).lower()}
    return bool(noted) and noted in called


def own_figures(name: str, own: Sequence[SpeciesNote]) -> tuple[Known, ...]:
    """The keeper's own figures for a species; what is noted for the species itself goes before its genus."""
    mine = [n for n in own if about(name, n) and (n.low is not None or n.high is not None)]
    mine.sort(key=lambda n: " " not in n.species.strip())
    return tuple(
        Known(n.what, n.low, n.high, n.unit or "days", "", "own", "your own", n.note, n.species, OWN) for n in mine
    )


def own_facts(name: str, own: Sequence[SpeciesNote]) -> tuple[Fact, ...]:
    """The keeper's own statements about a species; `what` of the note is what it is about."""
    mine = [n for n in own if about(name, n) and n.low is None and n.high is None and n.note.strip()]
    warn = {"weak pull": ("film",), "fixed sac": ("sac",)}
    return tuple(
        Fact(n.note.strip(), "", "own", "your own", n.species, n.what, warn.get(n.what, ()), OWN) for n in mine
    )


def warnings(name: str, place: str, own: Sequence[SpeciesNote] = ()) -> tuple[Fact, ...]:
    """What to watch for with this species at one of PLACES, the particular first."""
    said = [*own_facts(name, own), *(f for level in levels(name) for f in level.facts)]
    return tuple(f for f in said if place in f.warn)


@dataclass(frozen=True, slots=True)
class DateWindow:
    """From the first to the last day of something, both in it; `source` as it is to be shown."""

    first: date
    last: date
    source: str
    note: str = ""

    @property
    def text(self) -> str:
        """The day, or the first and the last one."""
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
        add(start, low, figure.unit), add(start, high, figure.unit), f"{figure.text}, {figure.cited}", figure.note
    )


def windows(start: date, figures: Sequence[Known]) -> tuple[DateWindow, ...]:
    """One window a figure, in the same order; figures in other units than days, weeks, months are left out."""
    return tuple(window(start, f) for f in figures if f.unit in (*_DAYS, "months"))
