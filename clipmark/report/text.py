"""Texts of keepers and file names on their way out: kept as they are, but unable to do anything.

A name may hold tags, formulas, line breaks, control characters, any alphabet and any length. Escaping for HTML and
SVG is done by the libraries that write those (jinja2, ElementTree); here stands what they leave to us.
"""

from __future__ import annotations

import re
import unicodedata

from clipmark.csv_package import legible

__all__ = ["file_name", "file_stem", "isolated", "legible", "one_line", "width_of"]

_SPACES = re.compile(r"\s+")


def one_line(text: str, most: int = 0) -> str:
    """The text on one line, spaces and breaks run together; longer than `most` characters (0: any) it ends in “…”."""
    line = _SPACES.sub(" ", legible(text)).strip()
    return line if not most or len(line) <= most else line[: most - 1].rstrip() + "…"


def isolated(text: str) -> str:
    """The text between Unicode isolates, so that right-to-left script or an override in it cannot turn what stands
    beside it (UAX 9). For drawn text; HTML uses <bdi>."""
    return f"\u2068{text}\u2069" if text and not text.isascii() else text


def width_of(text: str, size: float) -> float:
    """About how wide a sans-serif text of `size` is, in the same unit (for laying out pictures; ± a tenth)."""
    ems = 0.0
    for character in text:
        if unicodedata.combining(character) or unicodedata.category(character) == "Cf":
            continue
        if unicodedata.east_asian_width(character) in "WF":
            ems += 1.0
        else:
            ems += 0.3 if character in "iljtf.,:;'|!() " else 0.85 if character in "mwMW" else 0.56
    return ems * size


def file_stem(text: str, fallback: str = "session") -> str:
    """A file name that every system takes and that stays in its folder: letters, digits, - and _, at most 60."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    stem = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:60].strip("-").lower()
    return stem or fallback


def file_name(path: str) -> str:
    """The last part of a path of any system."""
    return path.replace("\\", "/").rsplit("/", 1)[-1]
