"""The numbers that the outlook goes by, as one frozen value that a keeper may change, each with where it is from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

from clipmark.book.model import SpeciesNote
from clipmark.reading.kinds.notices import COMMON_PRACTICE
from clipmark.reading.kinds.species import GENERAL, OWN, Known, known

FROM_MEMORY = "from memory, no source"


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Thresholds of the outlook. Days are days; months are calendar months.

    Attributes:
        enough_confirmed: confirmed insertions that are often enough.
        usual_pairings: sessions that most keepers hold with one female.
        again_after_days, again_within_days: the usual pause between two pairings.
        moult_wait_days: from her moult to the first try, at the earliest.
        cycle_months: a female's whole moult cycle, cautious (low) end.
        late_months: the last months of the cycle, in which not to pair.
        male_rest_days: from his maturing moult to the first try.
        male_fertile_months: how long after maturing he is fertile as a rule.
        sac_first_days, sac_last_days: the keeper's own window from pairing to sac; None takes those of the species.
        pull_first_days, pull_last_days: from laying to pulling the sac; None takes those of the species.
    """

    enough_confirmed: int = 2
    usual_pairings: int = 2
    again_after_days: int = 2
    again_within_days: int = 14
    moult_wait_days: int = 28
    cycle_months: int = 14
    late_months: int = 6
    male_rest_days: int = 7
    male_fertile_months: int = 6
    sac_first_days: int | None = None
    sac_last_days: int | None = None
    pull_first_days: int | None = None
    pull_last_days: int | None = None


@dataclass(frozen=True, slots=True)
class KindThresholds(Thresholds):
    """Thresholds of one kind; `cited` says of each that is the kind's own where it is from."""

    cited: tuple[tuple[str, str], ...] = ()


DEFAULT = Thresholds()
_DAYS = {"days": 1, "weeks": 7, "months": 30}
# threshold -> the figure of a kind that gives it, which end of its range, in which unit
_OF_KIND = {
    "moult_wait_days": ("moult_to_pairing", "low", "days"),
    "cycle_months": ("moult_cycle", "low", "months"),
    "late_months": ("late_in_cycle", "low", "months"),
    "male_rest_days": ("male_rest_after_maturing", "low", "days"),
    "male_fertile_months": ("male_fertile", "high", "months"),
}
SOURCES: dict[str, str] = {
    "enough_confirmed": COMMON_PRACTICE,
    "usual_pairings": COMMON_PRACTICE,
    "again_after_days": FROM_MEMORY,
    "again_within_days": FROM_MEMORY,
    "moult_wait_days": "[MV741] (hobby)",
    "cycle_months": "[TZ] (hobby)",
    "late_months": "[TZ] [GSB] (hobby)",
    "male_rest_days": "[GSB] (hobby)",
    "male_fertile_months": "[TSU595] (hobby)",
    "sac_first_days": "[SA] (hobby), or the species' own",
    "sac_last_days": "[SA] (hobby), or the species' own",
    "pull_first_days": FROM_MEMORY,
    "pull_last_days": FROM_MEMORY,
}


def chosen(values: Mapping[str, object]) -> Thresholds:
    """The thresholds with a keeper's own values put in.

    Args:
        values: name to number, as the settings keep them. Names that are none, and values that are no whole number of
            0 or more, are passed over: a slip in the settings file must not stop the outlook.
    """
    good = {name: value for name, value in values.items() if name in names() and _whole(value)}
    return replace(DEFAULT, **good)  # type: ignore[arg-type]


def for_kind(base: Thresholds, species: str, own: Sequence[SpeciesNote] = ()) -> Thresholds:
    """The thresholds for a species: the keeper's own for the kind, else the keeper's own for all, else what a source
    says of the species, its genus or its group, else the general ones. What was told of one animal gives no rule."""
    found: dict[str, int] = {}
    cited: list[tuple[str, str]] = []
    for name, (what, end, unit) in _OF_KIND.items():
        changed = getattr(base, name) != getattr(DEFAULT, name)
        figure = next(
            (
                f
                for f in known(species, what, own)
                if f.level != GENERAL and not f.single and (f.level == OWN or not changed)
            ),
            None,
        )
        value = _in_unit(figure, end, unit) if figure is not None else None
        if figure is not None and value is not None:
            found[name] = value
            cited.append((name, figure.cited))
    if not found:
        return base
    plain = {name: getattr(base, name) for name in names()}
    return KindThresholds(**{**plain, **found}, cited=tuple(cited))


def _in_unit(figure: Known, end: str, unit: str) -> int | None:
    """An end of a range (the other end where that is not told), in days or months."""
    value = getattr(figure, end)
    value = value if value is not None else figure.high if figure.low is None else figure.low
    if value is None or figure.unit not in _DAYS:
        return None
    return round(value) if figure.unit == unit else round(value * _DAYS[figure.unit] / _DAYS[unit])


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 36_500


def source_of(thresholds: Thresholds, name: str) -> str:
    """Where a threshold is from; "your own" where the keeper changed it."""
    for known_name, where in getattr(thresholds, "cited", ()):
        if known_name == name:
            return str(where)
    if getattr(thresholds, name) != getattr(DEFAULT, name):
        return "your own"
    return SOURCES[name]


def names() -> tuple[str, ...]:
    """All thresholds, in order."""
    return tuple(f.name for f in fields(Thresholds))
