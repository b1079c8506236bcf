"""Between the frozen values of the book and plain JSON. Reading is strict: whatever does not fit is said in a
sentence with its place in the file, and nothing is guessed."""

from __future__ import annotations

import math
import re
from dataclasses import MISSING, fields
from enum import StrEnum
from fractions import Fraction
from types import NoneType
from typing import Any, TypeVar, get_args, get_origin

from clipmark.book.errors import CannotKeep
from clipmark.book.forms.rows import LARGEST, hints
from clipmark.book.meaning.checks import check
from clipmark.errors import ClipmarkError

T = TypeVar("T")
_FRACTION = re.compile(r"(-?\d{1,19})/(\d{1,19})", re.ASCII)


class NotAsExpected(ClipmarkError):
    """Something in a file is not what it should be; `where` is its place, such as `marks[3].start_pts`."""

    def __init__(self, where: str, what: str):
        super().__init__(f"{where} {what}.")
        self.where, self.what = where, what


def to_plain(value: Any) -> Any:
    """A value as JSON takes it: objects by field name, enums as words, a Fraction as "numerator/denominator"."""
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    return value


def from_plain(type_: type[T], item: Any, where: str) -> T:
    """The value of an object as `to_plain` wrote it; fields with a default may be left out.

    Raises:
        NotAsExpected: a field is missing, unknown, of the wrong type, or the book does not take the value.
    """
    if not isinstance(item, dict):
        raise NotAsExpected(where, f"should be an object, not {_named(item)}")
    known = hints(type_)
    for name in item:
        if name not in known:
            raise NotAsExpected(f"{where}.{_short(name)}", "is not known to this clipmark; a newer one may know it")
    values: dict[str, Any] = {}
    for field in fields(type_):  # type: ignore[arg-type]
        if field.name in item:
            values[field.name] = _value(item[field.name], known[field.name], f"{where}.{field.name}")
        elif field.default is MISSING:
            raise NotAsExpected(f"{where}.{field.name}", "is missing")
    value = type_(**values)
    try:
        check(value)
    except CannotKeep as error:
        raise NotAsExpected(where, f"is not accepted: {error}".rstrip(".")) from error
    return value


def _value(item: Any, hint: Any, where: str) -> Any:
    if type(None) in get_args(hint):
        if item is None:
            return None
        hint = next(one for one in get_args(hint) if one is not NoneType)
    if hint is Fraction:
        return _fraction(item, where)
    if get_origin(hint) is tuple:
        return _tuple(item, get_args(hint), where)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        if not isinstance(item, str) or item not in [one.value for one in hint]:
            raise NotAsExpected(where, f"should be one of {', '.join(hint)}, not {_named(item)}")
        return hint(item)
    if hint is int:
        if isinstance(item, bool) or not isinstance(item, int) or abs(item) > LARGEST:
            raise NotAsExpected(where, f"should be a whole number of at most 63 bits, not {_named(item)}")
    elif hint is float:
        if isinstance(item, bool) or not isinstance(item, int | float) or abs(item) > 1e300 or math.isnan(item):
            raise NotAsExpected(where, f"should be a number, not {_named(item)}")
        return float(item)
    elif not isinstance(item, hint):
        raise NotAsExpected(where, f"should be {_WORDS.get(hint, hint.__name__)}, not {_named(item)}")
    return item


def _fraction(item: Any, where: str) -> Fraction:
    match = _FRACTION.fullmatch(item) if isinstance(item, str) else None
    if match is None or int(match[2]) == 0 or int(match[2]) > LARGEST or abs(int(match[1])) > LARGEST:
        raise NotAsExpected(where, f'should be a fraction such as "1/30", not {_named(item)}')
    return Fraction(int(match[1]), int(match[2]))


def _tuple(item: Any, inside: tuple[Any, ...], where: str) -> tuple[Any, ...]:
    if not isinstance(item, list):
        raise NotAsExpected(where, f"should be a list, not {_named(item)}")
    if inside[-1] is Ellipsis:
        return tuple(_value(part, inside[0], f"{where}[{place}]") for place, part in enumerate(item))
    if len(item) != len(inside):
        raise NotAsExpected(where, f"should have {len(inside)} entries, not {len(item)}")
    return tuple(
        _value(part, hint, f"{where}[{place}]") for place, (part, hint) in enumerate(zip(item, inside, strict=True))
    )


_WORDS = {str: "text", bool: "true or false"}


def _named(item: Any) -> str:
    if item is None:
        return "null"
    if isinstance(item, dict):
        return "an object"
    if isinstance(item, list):
        return "a list"
    return f"“{_short(item)}”"


def _short(item: Any) -> str:
    try:
        text = str(item)
    except ValueError:  # a whole number of thousands of digits
        return "a very long number"
    return text if len(text) <= 40 else text[:39] + "…"
