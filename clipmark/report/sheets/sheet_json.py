"""The values of a sheet as JSON, on their way to the process that draws them."""

from __future__ import annotations

import json

from clipmark.json_values import NotAsExpected, from_plain, to_plain
from clipmark.report.sheets.content import Sheet


def to_json(sheet: Sheet) -> str:
    """The whole sheet, pictures included (as base64)."""
    return json.dumps(to_plain(sheet), ensure_ascii=True, allow_nan=False)


def from_json(text: str) -> Sheet:
    """The sheet that `to_json` wrote.

    Raises:
        ValueError: the text is not such a sheet.
    """
    try:
        return from_plain(Sheet, json.loads(text), "sheet")
    except (NotAsExpected, RecursionError) as error:
        raise ValueError(f"this is no sheet ({error})") from error
