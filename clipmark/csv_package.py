"""Tables as a folder of CSV files (RFC 4180) with a Frictionless data package beside them: the one exporter of both.

A spreadsheet takes a cell that begins with = + - @ for a formula. Text that begins so (or with a tab, a line break,
or an apostrophe) gets an apostrophe in front; `unguarded` takes it off again. Numbers are never touched.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from clipmark import __version__

# what XML 1.0 cannot carry at all, escaped or not (section 2.2 "Characters"), lone surrogates among it
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# the wide forms are read as formula signs by spreadsheets set to East Asian languages
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "'", "＝", "＋", "－", "＠")


@dataclass(frozen=True, slots=True)
class CsvTable:
    """One file of the package.

    Attributes:
        schema: its Frictionless Table Schema; the names of its fields are the header.
        rows: cells in the order of the fields: text, numbers, True, False or None.
    """

    name: str
    about: str
    schema: dict[str, Any]
    rows: Iterable[Sequence[Any]]


def legible(text: str) -> str:
    """The text with the characters that no XML or HTML file may hold shown as U+FFFD; the rest untouched."""
    return _NOT_XML.sub("\ufffd", text)


def guarded(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    text = legible(text)
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text


def unguarded(text: str) -> str:
    """What `guarded` was given."""
    return text[1:] if text.startswith("'") else text


def write_package(folder: Path, name: str, title: str, tables: Sequence[CsvTable]) -> list[Path]:
    """One file a table and `datapackage.json`, whole or not at all; other files in the folder stay as they are.

    Raises:
        CannotWrite: the folder cannot be made or filled; nothing of it is left then.
    """
    from clipmark.atomic_files import atomic_folder

    package = {
        "name": name,
        "title": legible(title),
        "created_by": f"clipmark {__version__}",
        "profile": "tabular-data-package",
        "resources": [_resource(table) for table in tables],
    }
    with atomic_folder(folder) as fresh:
        for table in tables:
            with (fresh / f"{table.name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.writer(file, lineterminator="\r\n")
                writer.writerow([field["name"] for field in table.schema["fields"]])
                writer.writerows([_cell(value) for value in row] for row in table.rows)
        text = json.dumps(package, ensure_ascii=False, indent=1)
        (fresh / "datapackage.json").write_text(text + "\n", encoding="utf-8")
    return [folder / f"{table.name}.csv" for table in tables] + [folder / "datapackage.json"]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value)
    return guarded(value) if isinstance(value, str) else str(value)


def _resource(table: CsvTable) -> dict[str, Any]:
    return {
        "name": table.name,
        "path": f"{table.name}.csv",
        "description": table.about,
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"lineTerminator": "\r\n", "header": True},
        "schema": table.schema,
    }
