"""The tables of one session as a folder of CSV files (`clipmark.csv_package`)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.book.model import SessionRecord
from clipmark.csv_package import CsvTable, write_package
from clipmark.report.exports.columns import ACROSS, TABLES, Table, schema
from clipmark.report.exports.tables import ALONE, Around, Row, rows, told_rows, with_her_kind

if TYPE_CHECKING:
    from clipmark.book.store import Book


def write_csv_folder(record: SessionRecord, folder: Path, about: Around = ALONE) -> list[Path]:
    """One file a table and `datapackage.json`; other files in the folder stay as they are.

    Args:
        about: what stands around the session in its book (`tables.around`), for life dates and the outlook.

    Raises:
        CannotWrite: the folder cannot be made or filled; nothing of it is left then.
    """
    filled = rows(record, about) | with_her_kind(record, about)
    tables = [CsvTable(t.name, t.meaning, schema(t), _cells(t, filled[t.name])) for t in (*TABLES, *ACROSS)]
    title = record.session.title or f"Session {record.session.id}"
    return write_package(folder, f"clipmark-session-{record.session.id}", title, tables)


def told_by_book(book: Book, asked: date | None = None) -> list[CsvTable]:
    """The tables that the book does not hold and its sessions tell: outlook, cycles, incidence.

    Args:
        asked: the day of asking; today where it is None.
    """
    filled = told_rows(book, asked)
    made = []
    for table in (*TABLES, *ACROSS):
        if table.name in filled:
            known = schema(table)
            for key in known.get("foreignKeys", ()):
                key["reference"]["fields"] = "id"  # so the numbers are called in the book's own tables
            made.append(CsvTable(table.name, table.meaning, known, _cells(table, filled[table.name])))
    return made


def _cells(table: Table, filled: list[Row]) -> Iterator[list[Any]]:
    for row in filled:
        yield [_typed(column.kind, row[column.name]) for column in table.columns]


def _typed(kind: str, value: Any) -> Any:
    if value is None:
        return None
    if kind == "yes":
        return bool(value)
    return float(value) if kind == "number" else value
