"""The whole book as one documented JSON file (docs/schemas/book.schema.json); bring_in.py is the way back."""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark import __version__
from clipmark.book.errors import BookDamaged
from clipmark.book.forms import rows
from clipmark.book.forms.rows import Kind
from clipmark.book.steps.queries import text_of
from clipmark.json_values import to_plain
from clipmark.progress import SILENT, Progress

if TYPE_CHECKING:
    from clipmark.book.store import Book

FORMAT = "clipmark-book/1"
# list in the file -> kind, parents before children
LISTS: dict[str, Kind[Any]] = {
    "animals": rows.ANIMAL, "life_events": rows.LIFE_EVENT, "loans": rows.LOAN, "sessions": rows.SESSION,
    "clips": rows.CLIP, "shots": rows.SHOT, "outlines": rows.OUTLINE, "marks": rows.MARK, "passes": rows.PASS,
    "spans": rows.SPAN, "regions": rows.REGION, "flags": rows.FLAG, "calls": rows.CALL, "reviewed": rows.REVIEWED,
    "outcomes": rows.OUTCOME, "reminders": rows.REMINDER, "species_notes": rows.SPECIES_NOTE,
}  # fmt: skip
PARENTS = {
    "animal_id": "animals", "female_id": "animals", "male_id": "animals", "session_id": "sessions",
    "clip_id": "clips", "pass_id": "passes", "flag_id": "flags",
}  # fmt: skip
LATER = {"flags": "proposed_as", "calls": "carried_from"}  # point at rows of flags and calls, set when all are there
_TOLD = 1_000  # things between two words to the progress


def document(book: Book, traces: bool = True) -> dict[str, Any]:
    """The whole book as JSON takes it, all of one moment; without `traces` it is smaller by far.

    Raises:
        BookDamaged.
    """
    with book.reading():
        made: dict[str, Any] = {"format": FORMAT, "made_by": f"clipmark {__version__}"}
        return made | {name: list(items) for name, items in _lists(book, traces)}


def _lists(book: Book, traces: bool) -> Iterator[tuple[str, Iterable[dict[str, Any]]]]:
    for name, kind in LISTS.items():
        yield name, (to_plain(value) for value in book.each(kind))
    sets = book.connection.execute("SELECT name, in_use, acts FROM act_set ORDER BY id").fetchall()
    yield (
        "act_sets",
        (
            {"name": text_of(name), "in_use": bool(in_use), "acts": [to_plain(act) for act in book.read_acts(text)]}
            for name, in_use, text in sets
        ),
    )
    if traces:
        packed = book.connection.execute(
            "SELECT pass_id, trace.frames, columns, data FROM trace JOIN pass ON pass.id = pass_id ORDER BY pass_id"
        )
        yield "traces", (_trace_out(book, *row) for row in packed)


def _trace_out(book: Book, number: int, frames: int, columns: str, data: bytes) -> dict[str, Any]:
    try:
        names, text = json.loads(columns), base64.b64encode(data).decode("ascii")
    except (ValueError, TypeError, RecursionError) as error:
        raise BookDamaged(book.path, f"the trace of motion pass {number} cannot be read: {error}") from error
    return {"pass_id": number, "frames": frames, "columns": names, "data": text}


def write_document(book: Book, path: Path, traces: bool = True, progress: Progress = SILENT) -> None:
    """Write the whole book as JSON, whole or not at all, one thing in memory at a time; `progress` counts things.

    Raises:
        CannotWrite, BookDamaged.
    """
    from clipmark.atomic_files import atomic_file

    with book.reading() as db, atomic_file(path) as file:
        tables = [kind.table for kind in LISTS.values()] + ["act_set"] + (["trace"] if traces else [])
        total = sum(db.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in tables)
        done = 0
        file.write(f'{{\n"format": {_line(FORMAT)},\n"made_by": {_line(f"clipmark {__version__}")}')
        for name, items in _lists(book, traces):
            file.write(f",\n{json.dumps(name)}: [")
            # a line for each thing, so that two exports can be compared line by line
            for place, item in enumerate(items):
                file.write(f"{',' if place else ''}\n {_line(item)}")
                done += 1
                if done % _TOLD == 0:
                    progress.advance(done, total)
            file.write("]")
        file.write("\n}\n")
        progress.advance(total, total)


def _line(item: Any) -> str:
    text = json.dumps(item, ensure_ascii=False, allow_nan=False)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:  # a file name that is no UTF-8
        return json.dumps(item, ensure_ascii=True, allow_nan=False)
    return text
