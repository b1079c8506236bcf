"""Between frozen values (dataclasses) and plain JSON, there and back: the one home of this rule.

Objects go by field name, enums as words, a `Fraction` as "numerator/denominator", bytes as base64. Reading is strict:
whatever does not fit is said in a sentence with its place, and nothing is guessed. JSON can say values and nothing
else, unlike Python's own way of packing objects, which can run code when it is opened.
"""

from __future__ import annotations

import binascii
import math
import re
from base64 import b64decode, b64encode
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from types import NoneType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from clipmark.errors import ClipmarkError

T = TypeVar("T")
_HINTS: dict[type, dict[str, Any]] = {}
LARGEST = 2**63 - 1  # the largest whole number that is read: what an SQLite integer holds
_FRACTION = re.compile(r"(-?\d{1,19})/(\d{1,19})", re.ASCII)


class NotAsExpected(ClipmarkError):
    """Something in a file is not what it should be; `where` is its place, such as `marks[3].start_pts`."""

    def __init__(self, where: str, what: str):
        super().__init__(f"{where} {what}.")
        self.where, self.what = where, what


def to_plain(value: Any) -> Any:
    """A value as JSON takes it."""
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {name: to_plain(item) for name, item in value.items()}
    if isinstance(value, bytes):
        return b64encode(value).decode("ascii")
    return str(value) if isinstance(value, Path | date) else value


def from_plain(type_: type[T], item: Any, where: str, check: Callable[[Any], object] | None = None) -> T:
    """The value of an object as `to_plain` wrote it; fields with a default may be left out.

    Args:
        type_: a dataclass.
        where: the item's place in its file, for the sentence.
        check: called with the value; a `ClipmarkError` that it raises is the reason why the value is not accepted.
    Raises:
        NotAsExpected: a field is missing, unknown, of the wrong type, or `check` does not take the value.
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
    if check is not None:
        try:
            check(value)
        except ClipmarkError as error:
            raise NotAsExpected(where, f"is not accepted: {error}".rstrip(".")) from error
    return value


def hints(type_: Any) -> dict[str, Any]:
    """The types of a dataclass's fields by name, in the order of the fields."""
    if type_ not in _HINTS:
        known = get_type_hints(type_)
        _HINTS[type_] = {field.name: known[field.name] for field in fields(type_)}
    return _HINTS[type_]


def _value(item: Any, hint: Any, where: str) -> Any:
    if type(None) in get_args(hint):
        if item is None:
            return None
        hint = next(one for one in get_args(hint) if one is not NoneType)
    if hint is Fraction:
        return _fraction(item, where)
    if get_origin(hint) is tuple:
        return _tuple(item, get_args(hint), where)
    if isinstance(hint, type) and is_dataclass(hint):
        return from_plain(hint, item, where)
    if hint is bytes:
        return _bytes(item, where)
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


def _bytes(item: Any, where: str) -> bytes:
    try:
        return b64decode(item, validate=True)
    except (TypeError, ValueError, binascii.Error) as error:
        raise NotAsExpected(where, f"should be base64, not {_named(item)}") from error


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
