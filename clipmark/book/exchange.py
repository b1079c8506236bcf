"""The whole book as one documented JSON file (docs/schemas/book.schema.json), and back.

Into an empty book everything comes back exactly, numbers included. Into a book that holds something, numbers are
given anew, and what is there already stays as it is: animals by name, sex and species; sessions by title, date and
animals; film by fingerprint; marks, calls and all else where they are equal. So a second reviewer's book can be
brought in: their marks and calls join the same session, and bringing it in twice adds nothing.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark import __version__
from clipmark.book import journal, rows
from clipmark.book.errors import BookDamaged
from clipmark.book.model import Act, SpanRecord
from clipmark.book.plain import NotAsExpected, from_plain, to_plain
from clipmark.book.queries import text_of
from clipmark.book.rows import Kind
from clipmark.book.traces import check_packed
from clipmark.errors import ClipmarkError
from clipmark.plain_file import odd

if TYPE_CHECKING:
    from clipmark.book.store import Book

FORMAT = "clipmark-book/1"
# list in the file -> kind, parents before children
LISTS: dict[str, Kind[Any]] = {
    "animals": rows.ANIMAL, "life_events": rows.LIFE_EVENT, "loans": rows.LOAN, "sessions": rows.SESSION,
    "clips": rows.CLIP, "shots": rows.SHOT, "outlines": rows.OUTLINE, "marks": rows.MARK, "passes": rows.PASS,
    "spans": rows.SPAN, "flags": rows.FLAG, "calls": rows.CALL, "reviewed": rows.REVIEWED,
    "outcomes": rows.OUTCOME, "reminders": rows.REMINDER, "species_notes": rows.SPECIES_NOTE,
}  # fmt: skip
PARENTS = {
    "animal_id": "animals", "female_id": "animals", "male_id": "animals", "session_id": "sessions",
    "clip_id": "clips", "pass_id": "passes", "flag_id": "flags",
}  # fmt: skip
# what a thing is known by among what is there already; all its columns where nothing is said
KNOWN_BY = {
    "animals": ("name", "sex", "species"),
    "sessions": ("title", "date", "female_id", "male_id"),
    "clips": ("session_id", "fingerprint", "size", "frames", "first_pts", "time_base_num", "time_base_den"),
    "outlines": ("clip_id", "pts", "part"),
    "passes": ("clip_id", "parameters", "made_at"),
    "reminders": ("session_id", "uid"),
}
LATER = {"flags": "proposed_as", "calls": "carried_from"}  # point at rows of flags and calls, set when all are there
LONGEST_FILE = 2 << 30


class ExchangeUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"“{path}” could not be read as an exported book: {reason} Nothing was brought in.")
        self.path, self.reason = path, reason


@dataclass
class Document:
    """A read file: values by list and number, sets of acts, packed traces by pass."""

    values: dict[str, dict[int, Any]]
    act_sets: list[tuple[str, bool, tuple[Act, ...]]]
    traces: dict[int, tuple[int, str, bytes]]


@dataclass
class Imported:
    """How many of each were brought in, and how many were there already."""

    added: dict[str, int] = field(default_factory=dict)
    known: dict[str, int] = field(default_factory=dict)


# out ----------------------------------------------------------------------------------------------------------


def document(book: Book, traces: bool = True) -> dict[str, Any]:
    """The whole book as JSON takes it, all of one moment; without `traces` it is smaller by far.

    Raises:
        BookDamaged.
    """
    with book._reading() as db:
        made: dict[str, Any] = {"format": FORMAT, "made_by": f"clipmark {__version__}"}
        for name, kind in LISTS.items():
            made[name] = [to_plain(value) for value in book._rows(kind)]
        made["act_sets"] = [
            {"name": text_of(name), "in_use": bool(in_use), "acts": [to_plain(act) for act in book._read_acts(text)]}
            for name, in_use, text in db.execute("SELECT name, in_use, acts FROM act_set ORDER BY id").fetchall()
        ]
        if traces:
            packed = db.execute(
                "SELECT pass_id, trace.frames, columns, data FROM trace JOIN pass ON pass.id = pass_id"
                " ORDER BY pass_id"
            )
            made["traces"] = [_trace_out(book, *row) for row in packed]
    return made


def _trace_out(book: Book, number: int, frames: int, columns: str, data: bytes) -> dict[str, Any]:
    try:
        names, text = json.loads(columns), base64.b64encode(data).decode("ascii")
    except (ValueError, TypeError, RecursionError) as error:
        raise BookDamaged(book.path, f"the trace of motion pass {number} cannot be read: {error}") from error
    return {"pass_id": number, "frames": frames, "columns": names, "data": text}


def write_document(book: Book, path: Path, traces: bool = True) -> None:
    """Write the whole book as JSON, whole or not at all.

    Raises:
        CannotWrite, BookDamaged.
    """
    from clipmark.atomic_files import atomic_file

    made = document(book, traces)
    with atomic_file(path) as file:
        file.write("{")
        for place, (name, value) in enumerate(made.items()):
            file.write(f"{',' if place else ''}\n{json.dumps(name)}: ")
            if isinstance(value, list):  # a line for each thing, so that two exports can be compared line by line
                file.write("[" + ",".join("\n " + _line(item) for item in value) + "]")
            else:
                file.write(_line(value))
        file.write("\n}\n")


def _line(item: Any) -> str:
    text = json.dumps(item, ensure_ascii=False, allow_nan=False)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:  # a file name that is no UTF-8
        return json.dumps(item, ensure_ascii=True, allow_nan=False)
    return text


# in -----------------------------------------------------------------------------------------------------------


def read_document(path: Path) -> Document:
    """Read and check an exported book.

    Raises:
        ExchangeUnreadable: with the reason and the place in the file.
    """
    try:
        if odd(path):
            raise ExchangeUnreadable(path, f"{odd(path)}.")
        if path.stat().st_size > LONGEST_FILE:
            raise ExchangeUnreadable(path, "it is longer than 2 GiB.")
        made = json.loads(path.read_bytes().decode("utf-8-sig"), parse_constant=_no_constant)
    except OSError as error:
        raise ExchangeUnreadable(path, f"{error.strerror or error}.") from error
    except (ValueError, RecursionError) as error:
        raise ExchangeUnreadable(path, f"it is no JSON ({str(error)[:80]}).") from error
    try:
        return parsed(made)
    except NotAsExpected as error:
        raise ExchangeUnreadable(path, str(error)) from error


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is no JSON number")


LARGEST_NUMBER = 10**12  # of a thing in a book: SQLite gives the next numbers from the largest, and stops at 2^63 - 1


def parsed(made: Any) -> Document:
    """Check a document and turn it into values.

    Raises:
        NotAsExpected.
    """
    if not isinstance(made, dict) or made.get("format") != FORMAT:
        raise NotAsExpected("The file", f"does not say that its format is {FORMAT}")
    for name in made:
        if name not in (*LISTS, "format", "made_by", "act_sets", "traces"):
            raise NotAsExpected(str(name)[:40], "is not known to this clipmark; a newer one may know it")
    values: dict[str, dict[int, Any]] = {}
    for name, kind in LISTS.items():
        values[name] = {}
        for place, item in enumerate(_list(made, name)):
            where = f"{name}[{place}]"
            value = from_plain(kind.type, item, where)
            number = place + 1 if isinstance(value, SpanRecord) else value.id
            if not 1 <= number <= LARGEST_NUMBER or number in values[name]:
                raise NotAsExpected(f"{where}.id", f"should be between 1 and {LARGEST_NUMBER:,} and used once")
            _check_parents(value, values, where)
            values[name][number] = value
    _check_later(values)
    return Document(values, _act_sets(made), _traces(made, values))


def _list(made: Mapping[str, Any], name: str) -> list[Any]:
    items = made.get(name, [])
    if not isinstance(items, list):
        raise NotAsExpected(name, "should be a list")
    return items


def _check_parents(value: Any, values: Mapping[str, Mapping[int, Any]], where: str) -> None:
    for column, parent in PARENTS.items():
        number = getattr(value, column, None)
        if number is not None and number not in values[parent]:
            raise NotAsExpected(f"{where}.{column}", f"refers to {number}, which is not among the {parent}")


def _check_later(values: Mapping[str, Mapping[int, Any]]) -> None:
    for name, column in LATER.items():
        for number, value in values[name].items():
            aim = getattr(value, column)
            if aim != 0 and aim not in values[name]:
                raise NotAsExpected(f"{name} {number}.{column}", f"refers to {aim}, which is not among the {name}")


def _act_sets(made: Mapping[str, Any]) -> list[tuple[str, bool, tuple[Act, ...]]]:
    from clipmark.book.edits import check_acts

    found: list[tuple[str, bool, tuple[Act, ...]]] = []
    for place, item in enumerate(_list(made, "act_sets")):
        where = f"act_sets[{place}]"
        if not isinstance(item, dict) or set(item) != {"name", "in_use", "acts"}:
            raise NotAsExpected(where, "should be an object with name, in_use and acts")
        name, in_use = item["name"], item["in_use"]
        if not isinstance(name, str) or not isinstance(in_use, bool) or name in [one[0] for one in found]:
            raise NotAsExpected(where, "should have a name of its own and say whether it is in use")
        acts = tuple(
            from_plain(Act, act, f"{where}.acts[{number}]") for number, act in enumerate(_list(item, "acts"))
        )
        try:
            check_acts(acts)
        except ClipmarkError as error:
            raise NotAsExpected(where, f"is not accepted: {error}".rstrip(".")) from error
        if in_use and any(one[1] for one in found):
            raise NotAsExpected(where, "is a second one in use")
        found.append((name, in_use, acts))
    return found


def _traces(made: Mapping[str, Any], values: Mapping[str, Mapping[int, Any]]) -> dict[int, tuple[int, str, bytes]]:
    found: dict[int, tuple[int, str, bytes]] = {}
    for place, item in enumerate(_list(made, "traces")):
        where = f"traces[{place}]"
        if not isinstance(item, dict) or set(item) != {"pass_id", "frames", "columns", "data"}:
            raise NotAsExpected(where, "should be an object with pass_id, frames, columns and data")
        number = item["pass_id"]
        if not isinstance(number, int) or number not in values["passes"] or number in found:
            raise NotAsExpected(f"{where}.pass_id", "should be a pass of this file, once")
        try:
            data = base64.b64decode(item["data"], validate=True)
            columns = json.dumps(item["columns"])
            check_packed(item["frames"], columns, data)
        except (ValueError, TypeError, binascii.Error) as error:
            raise NotAsExpected(where, f"does not unpack ({error})") from error
        found[number] = (item["frames"], columns, data)
    return found


def bring_in(book: Book, read: Document, label: str = "import a book") -> Imported:
    """Bring a read document into a book, in one step of undo.

    Raises:
        CannotKeep and the troubles of a book; then nothing was brought in.
    """
    said = Imported()
    with book._step(label) as writer:
        given = book._db.execute("SELECT count(*) FROM sqlite_sequence WHERE name NOT IN ('step', 'change')")
        keep = given.fetchone()[0] == 0  # a book in which no number was ever given takes those of the file
        numbers: dict[str, dict[int, int]] = {}
        there_before = _Present(book)
        for name, kind in LISTS.items():
            numbers[name] = {}
            for number, value in read.values[name].items():
                row = _in_book(name, value, numbers)
                present = there_before.take(name, kind, row)
                if present is None:
                    new = writer.insert(kind.table, row, number if keep and name != "spans" else None)
                    said.added[name] = said.added.get(name, 0) + 1
                    if name == "passes":
                        _one_current(book, writer, row, new)
                        _put_trace(book, read.traces.get(number), new)
                else:
                    new = present
                    said.known[name] = said.known.get(name, 0) + 1
                numbers[name][number] = new
        _set_later(writer, read, numbers, there_before)
        _bring_acts(book, writer, read, said, choose=keep)
    return said


def _in_book(name: str, value: Any, numbers: Mapping[str, Mapping[int, int]]) -> dict[str, Any]:
    row: dict[str, Any] = rows.encode(value)
    for column, parent in PARENTS.items():
        if row.get(column) is not None:
            row[column] = numbers[parent][row[column]]
    if name in LATER:
        row[LATER[name]] = 0
    return row


class _Present:
    """What the book held before: each row answers once, so that two equal marks of a file stay two."""

    def __init__(self, book: Book):
        self._book = book
        self._found: dict[str, dict[tuple[Any, ...], list[int]]] = {}
        self.taken: set[tuple[str, int]] = set()

    def take(self, name: str, kind: Kind[Any], row: Mapping[str, Any]) -> int | None:
        if name not in self._found:
            self._found[name] = self._index(name, kind)
        waiting = self._found[name].get(self._key(name, row))
        if not waiting:
            return None
        if name == "outlines":  # one box of a part on a frame, however often it comes
            return waiting[0]
        number = waiting.pop(0)
        self.taken.add((name, number))
        return number

    def _index(self, name: str, kind: Kind[Any]) -> dict[tuple[Any, ...], list[int]]:
        found: dict[tuple[Any, ...], list[int]] = defaultdict(list)
        for (number,) in self._book._db.execute(f'SELECT id FROM "{kind.table}" ORDER BY id').fetchall():
            row = journal.fetch(self._book._db, kind.table, number)
            assert row is not None
            found[self._key(name, row)].append(number)
        return found

    def _key(self, name: str, row: Mapping[str, Any]) -> tuple[Any, ...]:
        names = KNOWN_BY.get(name) or tuple(column for column in sorted(row) if column not in ("id", LATER.get(name)))
        return tuple(row[column] for column in names)


def _one_current(book: Book, writer: journal.Writer, row: Mapping[str, Any], new: int) -> None:
    """A clip keeps the current pass it had; a pass that comes in beside it stands with the older ones."""
    others = book._db.execute(
        "SELECT id FROM pass WHERE clip_id = ? AND current AND id <> ?", (row["clip_id"], new)
    ).fetchall()
    if row["current"] and others:
        writer.update("pass", new, {"current": 0})


def _put_trace(book: Book, trace: tuple[int, str, bytes] | None, pass_id: int) -> None:
    if trace is not None:
        book._db.execute("INSERT INTO trace VALUES (?, ?, ?, ?)", (pass_id, *trace))


def _set_later(
    writer: journal.Writer,
    read: Document,
    numbers: Mapping[str, Mapping[int, int]],
    present: _Present,
) -> None:
    for name, column in LATER.items():
        for number, value in read.values[name].items():
            aim, new = getattr(value, column), numbers[name][number]
            if aim and (name, new) not in present.taken:
                writer.update(LISTS[name].table, new, {column: numbers[name][aim]})


def _bring_acts(book: Book, writer: journal.Writer, read: Document, said: Imported, choose: bool) -> None:
    stored = {name: book.acts(name) for name in book.act_sets()}
    for name, in_use, acts in read.act_sets:
        if acts in stored.values() and (name not in stored or stored[name] == acts):
            said.known["act_sets"] = said.known.get("act_sets", 0) + 1
            continue
        free = name
        while free in stored:
            free = f"{free or 'acts'} (brought in)"
        text = json.dumps([to_plain(act) for act in acts], ensure_ascii=True)
        writer.insert("act_set", {"name": free, "acts": text, "in_use": int(in_use and choose)})
        stored[free] = acts
        said.added["act_sets"] = said.added.get("act_sets", 0) + 1


def import_file(book: Book, path: Path) -> Imported:
    """Read an exported book and bring it in: all of it or nothing.

    Raises:
        ExchangeUnreadable, and the troubles of a book.
    """
    return bring_in(book, read_document(path), f"import {path.name}")
