"""Days as people type them: by the international standard, or in the order of their system. No Qt."""

from __future__ import annotations

import re
from datetime import date

from clipmark.errors import ClipmarkError


class DayUnreadable(ClipmarkError):
    def __init__(self, text: str, order: str):
        example = {"dmy": "27.3.2026 or 27/3/2026", "mdy": "3/27/2026", "ymd": "2026/3/27"}[order]
        super().__init__(f"“{text.strip()}” is no day. Type it as 2026-03-27, or as {example}.")
        self.text = text


def parse_day(text: str, order: str = "dmy") -> date | None:
    """The day that was typed; None for nothing.

    Args:
        order: of day, month and year on this system, "dmy", "mdy" or "ymd"; for what is written with strokes. With
            points the day comes first, with hyphens the year where it has four digits (ISO 8601).
    Raises:
        DayUnreadable: it is no day of the calendar between 1900 and 2199.
    """
    if not text.strip():
        return None
    parts = re.fullmatch(r"\s*(\d{1,4})\s*([-./ ])\s*(\d{1,2})\s*\2\s*(\d{1,4})\.?\s*", text)
    compact = re.fullmatch(r"\s*(\d{4})(\d{2})(\d{2})\s*", text)
    if compact:
        year, month, day = (int(one) for one in compact.groups())
    elif parts:
        first, mark, second, third = parts.groups()
        if len(first) == 4:
            written = "ymd"
        elif mark == ".":
            written = "dmy"
        else:
            written = order if order != "ymd" or len(third) < 4 else "dmy"
        by_name = dict(zip(written, (first, second, third), strict=True))
        year, month, day = int(by_name["y"]), int(by_name["m"]), int(by_name["d"])
        year += 2000 if len(by_name["y"]) <= 2 else 0
    else:
        raise DayUnreadable(text, order)
    try:
        found = date(year, month, day)
    except ValueError as error:
        raise DayUnreadable(text, order) from error
    if not 1900 <= found.year < 2200:
        raise DayUnreadable(text, order)
    return found


def order_of(pattern: str) -> str:
    """The order of day, month and year in a system's short date format, such as "dd.MM.yy" -> "dmy"."""
    places = {letter: pattern.lower().find(letter) for letter in "dmy"}
    found = "".join(sorted((one for one in places if places[one] >= 0), key=lambda one: places[one]))
    return found if found in ("dmy", "mdy", "ymd") else "ymd"
