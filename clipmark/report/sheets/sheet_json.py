"""The values of a sheet as JSON, on their way to the process that draws them: text that can say values and nothing
else, unlike Python's own way of packing objects, which can run code when it is opened."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from dataclasses import fields, is_dataclass
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from clipmark.report.sheets.content import Sheet


def to_json(sheet: Sheet) -> str:
    """The whole sheet, pictures included (as base64)."""
    return json.dumps(_plain(sheet), ensure_ascii=True, allow_nan=False)


def from_json(text: str) -> Sheet:
    """The sheet that `to_json` wrote.

    Raises:
        ValueError: the text is not such a sheet.
    """
    try:
        sheet = _value(json.loads(text), Sheet)
    except (KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError(f"this is no sheet ({error})") from error
    assert isinstance(sheet, Sheet)
    return sheet


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return b64encode(value).decode("ascii") if isinstance(value, bytes) else value


def _value(item: Any, hint: Any) -> Any:
    if get_origin(hint) is UnionType:  # only "something or None" stands on a sheet
        return None if item is None else _value(item, next(one for one in get_args(hint) if one is not NoneType))
    if get_origin(hint) is tuple:
        return _tuple(item, get_args(hint))
    if isinstance(hint, type) and is_dataclass(hint):
        known = get_type_hints(hint)
        return hint(**{one.name: _value(item[one.name], known[one.name]) for one in fields(hint)})
    if hint is bytes:
        return b64decode(item, validate=True)
    if hint is float and isinstance(item, int) and not isinstance(item, bool):
        return float(item)
    if type(item) is not hint:
        raise TypeError(f"{type(item).__name__} where {hint.__name__} should be")
    return item


def _tuple(item: Any, inside: tuple[Any, ...]) -> tuple[Any, ...]:
    if not isinstance(item, list):
        raise TypeError(f"{type(item).__name__} where a list should be")
    if inside[-1] is Ellipsis:
        return tuple(_value(part, inside[0]) for part in item)
    return tuple(_value(part, hint) for part, hint in zip(item, inside, strict=True))
