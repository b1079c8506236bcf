"""The whole book as a folder of CSV tables with a Frictionless data package beside them, for spreadsheets and
statistics programs. One way only: the JSON of book/exchange/book_json.py is what comes back.

Ticks stand as they are; beside them stand seconds on the session clock, so that no reader has to compute them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Any, get_args, get_origin

from clipmark.book.exchange.book_json import LISTS, PARENTS
from clipmark.book.exchange.field_docs import ABOUT, WORDS
from clipmark.book.model import ClipRecord
from clipmark.csv_package import CsvTable, write_package
from clipmark.json_values import hints, to_plain

if TYPE_CHECKING:
    from clipmark.book.store import Book

# columns in seconds on the session clock, beside the ticks they stand for
_SECONDS = {
    "shots": ("start_pts", "end_pts"),
    "outlines": ("pts",),
    "marks": ("start_pts", "end_pts"),
    "spans": ("start_pts", "end_pts"),
    "regions": ("pts",),
    "reviewed": ("start_pts", "end_pts"),
    "flags": ("onset_pts", "full_pts", "release_pts"),
}


def write_folder(book: Book, folder: Path, more: Sequence[CsvTable] = ()) -> list[Path]:
    """Write all tables and `datapackage.json` into a folder, whole or not at all; returns the files.

    Args:
        more: tables of what was read out of the book, which stand beside its own.
    Raises:
        CannotWrite.
    """
    with book.reading():
        values = {name: book.rows_of(kind) for name, kind in LISTS.items()}
    clips = {clip.id: clip for clip in values["clips"]}
    passes = {one.id: clips[one.clip_id] for one in values["passes"] if one.clip_id in clips}
    made = []
    for name, kind in LISTS.items():
        columns = _columns(name, kind.type, clips, passes)
        cells = [[read(value) for _, _, read in columns] for value in values[name]]
        made.append(CsvTable(name, ABOUT[name], _schema(columns), cells))
    return write_package(folder, "clipmark-book", "Record book", [*made, *more])


Column = tuple[str, dict[str, Any], Callable[[Any], Any]]


def _columns(name: str, type_: type, clips: dict[int, ClipRecord], passes: dict[int, ClipRecord]) -> list[Column]:
    """Name, table-schema field and reader of each column."""
    made: list[Column] = []
    for field, hint in hints(type_).items():
        said = {"name": field, "description": WORDS[name].get(field, "number"), **_field_type(hint)}
        made.append((field, said, _cell(field)))
        if hint is Fraction:
            seconds = f"{field}_s"
            said = {"name": seconds, "type": "number", "description": f"{field} as seconds, rounded"}
            made.append((seconds, said, lambda value, field=field: float(getattr(value, field))))  # type: ignore[misc]
        if field in _SECONDS.get(name, ()):
            seconds = f"{field.removesuffix('_pts') if field != 'pts' else 'time'}_s"
            said = {
                "name": seconds,
                "type": "number",
                "description": f"{field} on the session clock, seconds, rounded",
            }
            made.append((seconds, said, _clock(field, clips, passes)))
    return made


def _cell(field: str) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        plain = to_plain(getattr(value, field))
        if isinstance(plain, list):
            return "; ".join("=".join(map(str, one)) if isinstance(one, list) else str(one) for one in plain)
        return plain

    return read


def _clock(field: str, clips: dict[int, ClipRecord], passes: dict[int, ClipRecord]) -> Callable[[Any], float | None]:
    def read(value: Any) -> float | None:
        tick = getattr(value, field)
        if tick is None:
            return None
        clip = clips.get(value.clip_id) if hasattr(value, "clip_id") else passes.get(value.pass_id)
        return round(float(clip.on_clock(tick)), 6) if clip is not None else None  # in a damaged book it may be gone

    return read


def _field_type(hint: Any) -> dict[str, Any]:
    required = True
    if NoneType in get_args(hint):
        hint, required = next(one for one in get_args(hint) if one is not NoneType), False
    if hint in (int, float, bool):
        kind: dict[str, Any] = {"type": {int: "integer", float: "number", bool: "boolean"}[hint]}
        return {**kind, "constraints": {"required": True}} if required else kind
    if get_origin(hint) is not tuple and hint is not Fraction and issubclass(hint, StrEnum):
        return {"type": "string", "constraints": {"required": True, "enum": [one.value for one in hint]}}
    return {"type": "string"}


def _schema(columns: list[Column]) -> dict[str, Any]:
    schema: dict[str, Any] = {"fields": [said for _, said, _ in columns]}
    names = [column for column, _, _ in columns]
    if "id" in names:
        schema["primaryKey"] = ["id"]
    keys = [
        {"fields": [column], "reference": {"resource": PARENTS[column], "fields": ["id"]}}
        for column in names
        if column in PARENTS
    ]
    if keys:
        schema["foreignKeys"] = keys
    return schema
