"""Between the frozen values of the book and rows of its tables: one generic rule, no table by table copying.

A field is a column of the same name; enums are stored as their words, tuples as JSON, a Fraction exactly as two
integer columns `name_num` and `name_den`. Text that cannot be UTF-8 (file names of other times) is stored as bytes.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache, lru_cache, partial
from types import NoneType
from typing import Any, Generic, TypeVar, get_args, get_origin

from clipmark.book import model
from clipmark.book.errors import CannotKeep
from clipmark.json_values import LARGEST, hints

T = TypeVar("T")
SqlValue = int | float | str | bytes | None


@dataclass(frozen=True)
class Kind(Generic[T]):
    """A stored kind of value: its table, its type, and what the keeper calls one of it."""

    table: str
    type: type[T]
    word: str


ANIMAL = Kind("animal", model.Animal, "animal")
LIFE_EVENT = Kind("life_event", model.LifeEvent, "event in an animal's life")
LOAN = Kind("loan", model.Loan, "loan")
SPECIES_NOTE = Kind("species_note", model.SpeciesNote, "note on a species")
SESSION = Kind("session", model.Session, "session")
CLIP = Kind("clip", model.ClipRecord, "clip")
SHOT = Kind("shot", model.ShotRecord, "shot")
OUTLINE = Kind("outline", model.Outline, "outline")
MARK = Kind("mark", model.Mark, "mark")
PASS = Kind("pass", model.PassRecord, "motion pass")
SPAN = Kind("span", model.SpanRecord, "span")
REGION = Kind("region", model.RegionRecord, "followed region")
FLAG = Kind("flag", model.FlagRecord, "flag")
CALL = Kind("call", model.Call, "call")
REVIEWED = Kind("reviewed", model.Reviewed, "reviewed stretch")
OUTCOME = Kind("outcome", model.Outcome, "outcome")
REMINDER = Kind("reminder", model.Reminder, "reminder")
# parents before children, so that rows can be put in this order and taken out in the reverse
KINDS: tuple[Kind[Any], ...] = (
    ANIMAL, LIFE_EVENT, LOAN, SESSION, CLIP, SHOT, OUTLINE, MARK, PASS, SPAN, REGION, FLAG, CALL, REVIEWED, OUTCOME,
    REMINDER, SPECIES_NOTE,
)  # fmt: skip
# child table -> (column, parent table): what goes when the parent goes
CHILDREN: dict[str, tuple[tuple[str, str], ...]] = {
    "animal": (("life_event", "animal_id"), ("loan", "animal_id")),
    "session": (("clip", "session_id"), ("outcome", "session_id"), ("reminder", "session_id")),
    "clip": (
        ("shot", "clip_id"), ("outline", "clip_id"), ("mark", "clip_id"), ("flag", "clip_id"), ("pass", "clip_id"),
        ("reviewed", "clip_id"),
    ),
    "pass": (("span", "pass_id"), ("region", "pass_id"), ("flag", "pass_id")),
    "flag": (("call", "flag_id"),),
}  # fmt: skip


def columns(type_: type) -> tuple[str, ...]:
    """The table's columns of that type, without the id."""
    names: list[str] = []
    for name, hint in hints(type_).items():
        if name != "id":
            names += [f"{name}_num", f"{name}_den"] if hint is Fraction else [name]
    return tuple(names)


def encode(value: Any) -> dict[str, SqlValue]:
    """Column to SQL value, without the id.

    Raises:
        CannotKeep: a number is too large or not finite, or a word is none of those allowed.
    """
    row: dict[str, SqlValue] = {}
    for name, hint in hints(type(value)).items():
        if name == "id":
            continue
        item = getattr(value, name)
        if hint is Fraction:
            exact = Fraction(item)
            row[f"{name}_num"], row[f"{name}_den"] = _whole(name, exact.numerator), _whole(name, exact.denominator)
        else:
            row[name] = _encode(name, item, hint)
    return row


def _encode(name: str, item: Any, hint: Any) -> SqlValue:
    if item is None:
        return None
    if get_origin(hint) is tuple:
        return json.dumps(plain_tuple(item), ensure_ascii=True, allow_nan=False)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        try:
            return hint(item).value
        except ValueError as error:
            raise CannotKeep(f"“{item}” is no {name} that the book knows ({', '.join(hint)}).") from error
    if isinstance(item, bool):
        return int(item)
    if isinstance(item, str):
        return storable(str(item))
    if hint is int or hint == int | None:
        return _whole(name, item)
    number = float(item)
    if not math.isfinite(number):
        raise CannotKeep(f"The {name} must be a finite number, not {number}.")
    return number


def _whole(name: str, item: Any) -> int:
    number = int(item)
    if number != item or not -LARGEST <= number <= LARGEST:
        raise CannotKeep(f"The {name} must be a whole number of at most 63 bits, not {item}.")
    return number


def plain_tuple(items: Sequence[Any]) -> list[Any]:
    """Tuples of text, enums or pairs as plain lists."""
    return [
        plain_tuple(item) if isinstance(item, tuple | list) else item.value if isinstance(item, StrEnum) else item
        for item in items
    ]


def decode(type_: type[T], row: Mapping[str, Any]) -> T:
    """The value of a row as `encode` wrote it.

    Raises:
        ValueError, TypeError: the row holds what this clipmark never writes.
    """
    return decode_all(type_, (row,))[0]


def decode_all(type_: type[T], found: Sequence[Mapping[str, Any]]) -> list[T]:
    """The values of many rows of one question; errors as `decode`. What each column needs is looked up once."""
    if not found:
        return []
    place = {name: number for number, name in enumerate(found[0].keys())}
    plan = [
        (name, hint, None, place[f"{name}_num"], place[f"{name}_den"]) if hint is Fraction
        else (name, hint, _reader(hint), place[name], 0)
        for name, hint in hints(type_).items()
    ]  # fmt: skip
    made = []
    for row in found:
        raw: tuple[Any, ...] = tuple(row.values()) if isinstance(row, dict) else tuple(row)
        values = []
        for name, hint, read, at, under in plan:
            item: Any = raw[at]
            if read is None:
                item = Fraction(item, raw[under])
            elif type(item) is not hint or hint is float:
                try:
                    item = read(item)
                except (ValueError, TypeError, RecursionError) as error:
                    raise ValueError(f"{name}: {error}") from error
            values.append(item)
        made.append(type_(*values))
    return made


@cache
def _reader(hint: Any) -> Callable[[Any], Any]:
    """What makes the value of a column of that type out of what SQLite gives."""
    if NoneType in get_args(hint):
        read = _reader(next(one for one in get_args(hint) if one is not NoneType))
        return lambda item: None if item is None else read(item)
    if get_origin(hint) is tuple:
        # the same few texts come again and again; tuples may be shared
        return lru_cache(4_096)(lambda item: _tuple(json.loads(_of(str, item)), get_args(hint)))
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return hint
    return {str: _text, bool: _truth, float: _number}.get(hint, partial(_of, hint))


def _of(type_: type[T], item: Any) -> T:
    if type(item) is not type_:
        raise TypeError(f"{type(item).__name__} where {type_.__name__} should be")
    return item


def _text(item: Any) -> str:
    """Text that is no UTF-8 was stored as the bytes it came from."""
    return os.fsdecode(item) if isinstance(item, bytes) else _of(str, item)


def _truth(item: Any) -> bool:
    return bool(_of(int, item))


def _number(item: Any) -> float:
    number = float(item) if type(item) in (int, float) else _of(float, item)
    if not math.isfinite(number):
        raise ValueError("a number that is not finite")
    return number


def _tuple(items: Any, inside: tuple[Any, ...]) -> tuple[Any, ...]:
    """A tuple out of a JSON list: `inside` as in the type, such as (str, ...) or (str, int)."""
    _of(list, items)
    if inside[-1] is Ellipsis:
        return tuple(_in_tuple(part, inside[0]) for part in items)
    return tuple(_in_tuple(part, hint) for part, hint in zip(items, inside, strict=True))


def _in_tuple(part: Any, hint: Any) -> Any:
    return _tuple(part, get_args(hint)) if get_origin(hint) is tuple else _reader(hint)(part)


def storable(text: str) -> str:
    """The text without half characters, which no file takes; those that stand for the bytes of a file name that is
    no UTF-8 stay."""
    if text.isascii():
        return text
    return "".join("\ufffd" if _half(letter) else letter for letter in text)


def _half(letter: str) -> bool:
    return "\ud800" <= letter <= "\udfff" and not "\udc80" <= letter <= "\udcff"


def bindable(value: SqlValue) -> SqlValue:
    """The value as SQLite takes it: text that is no UTF-8 goes in as the bytes it came from."""
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            return storable(value).encode("utf-8", "surrogateescape")
    return value
