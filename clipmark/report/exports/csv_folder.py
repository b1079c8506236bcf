"""The tables as a folder of CSV files (RFC 4180) with a Frictionless data package beside them.

A spreadsheet takes a cell that begins with = + - @ for a formula. Text that begins so (or with a tab, a line break,
or an apostrophe) gets an apostrophe in front; `unguarded` takes it off again. Numbers are never touched.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from clipmark import __version__
from clipmark.atomic_files import atomic_folder
from clipmark.book.model import SessionRecord
from clipmark.report.exports.columns import TABLES, Column, Table, schema
from clipmark.report.exports.tables import Row, rows
from clipmark.report.text import legible

# the wide forms are read as formula signs by spreadsheets set to East Asian languages
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "'", "＝", "＋", "－", "＠")


def guarded(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    text = legible(text)
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text


def unguarded(text: str) -> str:
    """What `guarded` was given."""
    return text[1:] if text.startswith("'") else text


def _cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if column.kind == "yes":
        return "true" if value else "false"
    if column.kind == "number":
        return format(float(value), ".12g")
    return guarded(str(value)) if column.kind == "text" else str(value)


def write_csv_folder(record: SessionRecord, folder: Path) -> list[Path]:
    """One file a table and `datapackage.json`; other files in the folder stay as they are.

    Raises:
        CannotWrite: the folder cannot be made or filled; nothing of it is left then.
    """
    filled = rows(record)
    with atomic_folder(folder) as fresh:
        for table in TABLES:
            _write(fresh / f"{table.name}.csv", table, filled[table.name])
        package = json.dumps(_package(record), ensure_ascii=False, indent=1)
        (fresh / "datapackage.json").write_text(package + "\n", encoding="utf-8")
    return [folder / f"{table.name}.csv" for table in TABLES] + [folder / "datapackage.json"]


def _write(path: Path, table: Table, filled: Iterable[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow([column.name for column in table.columns])
        for row in filled:
            writer.writerow([_cell(column, row[column.name]) for column in table.columns])


def _package(record: SessionRecord) -> dict[str, Any]:
    return {
        "name": f"clipmark-session-{record.session.id}",
        "title": legible(record.session.title) or f"Session {record.session.id}",
        "created_by": f"clipmark {__version__}",
        "resources": [
            {
                "name": table.name,
                "path": f"{table.name}.csv",
                "description": table.meaning,
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "dialect": {"lineTerminator": "\r\n", "header": True},
                "schema": schema(table),
            }
            for table in TABLES
        ],
    }
