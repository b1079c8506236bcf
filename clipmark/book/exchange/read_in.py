"""An exported book as it is read: checked whole before anything is brought in, and never whole in memory.

A file of any size is read item by item, more than once: looked through, checked, brought in (bring_in.py). What is
kept of it meanwhile are the numbers of its things, 16 bytes each.
"""

from __future__ import annotations

import base64
import binascii
import json
from array import array
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from clipmark.book.exchange.book_json import FORMAT, LATER, LISTS, PARENTS
from clipmark.book.exchange.json_lists import JsonLists
from clipmark.book.forms.traces import check_packed
from clipmark.book.meaning.checks import from_plain
from clipmark.book.model import Act, SpanRecord
from clipmark.errors import ClipmarkError
from clipmark.json_values import NotAsExpected
from clipmark.plain_file import odd
from clipmark.progress import SILENT, Part, Progress

LONGEST_FILE = 2 << 30
LARGEST_NUMBER = 10**12  # of a thing in a book: SQLite gives the next numbers from the largest, and stops at 2^63 - 1
MOST_ACT_SETS = 1_000
_TOLD = 500  # things between two words to the progress

Trace = tuple[int, str, bytes]  # frames, names of columns as JSON, packed numbers


class ExchangeUnreadable(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"“{path}” could not be read as an exported book: {reason} Nothing was brought in.")
        self.path, self.reason = path, reason


class Source(Protocol):
    """Where the lists of a document come from."""

    def items(self, name: str) -> Iterator[Any]:
        """The items of a list; none where there is no such list."""

    def count(self, name: str) -> int:
        """How many items it has."""


class Numbers:
    """Numbers of things and what each has become, in 16 bytes a thing; read after the last was added."""

    def __init__(self) -> None:
        self._old, self._new = array("q"), array("q")
        self._ascending = True

    def add(self, old: int, new: int = 0) -> None:
        """Note what `old` has become."""
        self._ascending &= not self._old or old > self._old[-1]
        self._old.append(old)
        self._new.append(new)

    def twice(self) -> int | None:
        """The place of a number that was added before; None where there is none."""
        if self._ascending:
            return None
        old = np.asarray(self._old)
        order = np.argsort(old, kind="stable")
        again = np.flatnonzero(np.diff(old[order]) == 0)
        return int(order[again + 1].min()) if len(again) else None

    def _find(self, old: int) -> int:
        if not self._ascending:
            order = np.argsort(np.asarray(self._old), kind="stable")
            self._old = array("q", np.asarray(self._old)[order].tobytes())
            self._new = array("q", np.asarray(self._new)[order].tobytes())
            self._ascending = True
        place = bisect_left(self._old, old)
        return place if place < len(self._old) and self._old[place] == old else -1

    def __contains__(self, old: int) -> bool:
        return self._find(old) >= 0

    def __getitem__(self, old: int) -> int:
        place = self._find(old)
        if place < 0:
            raise KeyError(old)
        return self._new[place]


@dataclass
class Document:
    """A checked document, of which values are made when they are asked for."""

    source: Source
    act_sets: list[tuple[str, bool, tuple[Act, ...]]]
    things: int

    def values(self, name: str) -> Iterator[tuple[int, Any]]:
        """The values of a list with their numbers in the file."""
        for place, item in enumerate(self.source.items(name)):
            value = from_plain(LISTS[name].type, item, f"{name}[{place}]")
            yield _number(value, place), value

    def traces(self) -> Iterator[tuple[int, Trace]]:
        """The packed traces with the number of their pass."""
        for place, item in enumerate(self.source.items("traces")):
            yield item["pass_id"], _trace(item, f"traces[{place}]")


class _File:
    """The lists of a file; troubles as ExchangeUnreadable."""

    def __init__(self, path: Path, lists: JsonLists):
        self._path, self._lists = path, lists

    def items(self, name: str) -> Iterator[Any]:
        try:
            yield from self._lists.items(name)
        except OSError as error:
            raise ExchangeUnreadable(self._path, f"{error.strerror or error}.") from error
        except ValueError as error:
            raise ExchangeUnreadable(self._path, f"{error}.") from error

    def count(self, name: str) -> int:
        return self._lists.count(name)


class _Made:
    """The lists of a document that is in memory."""

    def __init__(self, made: Mapping[str, Any]):
        self._made = made

    def items(self, name: str) -> Iterator[Any]:
        return iter(self._made.get(name, ()))

    def count(self, name: str) -> int:
        return len(self._made.get(name, ()))


def read_document(path: Path, progress: Progress = SILENT) -> Document:
    """Read and check an exported book; a third of `progress` is looking through, two are checking.

    Raises:
        ExchangeUnreadable: with the reason and the place in the file. Cancelled through `progress`.
    """
    try:
        if odd(path):
            raise ExchangeUnreadable(path, f"{odd(path)}.")
        size = path.stat().st_size
        if size > LONGEST_FILE:
            raise ExchangeUnreadable(path, f"it is longer than {LONGEST_FILE >> 30} GiB.")
        lists = JsonLists.look_through(path, Part(progress, 0, size, 3 * size))
    except OSError as error:
        raise ExchangeUnreadable(path, f"{error.strerror or error}.") from error
    except ValueError as error:
        raise ExchangeUnreadable(path, f"it is no JSON ({str(error)[:80]}).") from error
    try:
        _known_names(lists.values, lists.lists)
        return _checked(_File(path, lists), Part(progress, size, 3 * size, 3 * size))
    except NotAsExpected as error:
        raise ExchangeUnreadable(path, str(error)) from error


def parsed(made: Any) -> Document:
    """Check a document that is in memory.

    Raises:
        NotAsExpected.
    """
    values = made if isinstance(made, dict) else {}
    lists = {name: item for name, item in values.items() if isinstance(item, list)}
    _known_names({name: item for name, item in values.items() if name not in lists}, lists)
    return _checked(_Made(lists), SILENT)


def _known_names(values: Mapping[str, Any], lists: Mapping[str, Any]) -> None:
    """Whether the document says what it is, and holds nothing else."""
    if values.get("format") != FORMAT:
        raise NotAsExpected("The file", f"does not say that its format is {FORMAT}")
    known = (*LISTS, "act_sets", "traces")
    for name in (*values, *lists):
        if name not in (*known, "format", "made_by"):
            raise NotAsExpected(str(name)[:40], "is not known to this clipmark; a newer one may know it")
        if name in known and name not in lists:
            raise NotAsExpected(name, "should be a list")


def _checked(source: Source, progress: Progress) -> Document:
    total = sum(source.count(name) for name in (*LISTS, "act_sets", "traces"))
    done = 0
    numbers: dict[str, Numbers] = {}
    for name, kind in LISTS.items():
        numbers[name] = own = Numbers()
        aims = array("q"), array("q")
        for place, item in enumerate(source.items(name)):
            where = f"{name}[{place}]"
            value = from_plain(kind.type, item, where)
            number = _number(value, place)
            if not 1 <= number <= LARGEST_NUMBER:
                raise _not_a_number(where)
            _check_parents(value, name, numbers, where)
            own.add(number)
            if name in LATER and getattr(value, LATER[name]):
                aims[0].append(number)
                aims[1].append(getattr(value, LATER[name]))
            done += 1
            if done % _TOLD == 0:
                progress.advance(done, total)
        _check_list(name, own, aims)
    act_sets = _act_sets(source)
    _check_traces(source, numbers["passes"], progress, done + len(act_sets), total)
    progress.advance(total, total)
    return Document(source, act_sets, total)


def _number(value: Any, place: int) -> int:
    return place + 1 if isinstance(value, SpanRecord) else int(value.id)


def _not_a_number(where: str) -> NotAsExpected:
    return NotAsExpected(f"{where}.id", f"should be between 1 and {LARGEST_NUMBER:,} and used once")


def _check_parents(value: Any, name: str, numbers: Mapping[str, Numbers], where: str) -> None:
    for column, parent in _parents(name):
        number = getattr(value, column)
        if number is not None and number not in numbers[parent]:
            raise NotAsExpected(f"{where}.{column}", f"refers to {number}, which is not among the {parent}")


@cache
def _parents(name: str) -> tuple[tuple[str, str], ...]:
    """The columns of a list that name a thing of another list, with that list."""
    fields = LISTS[name].type.__dataclass_fields__
    return tuple((column, parent) for column, parent in PARENTS.items() if column in fields)


def _check_list(name: str, numbers: Numbers, aims: tuple[array[int], array[int]]) -> None:
    """What can be told when the whole list was read: no number twice, and what points into it."""
    again = numbers.twice()
    if again is not None:
        raise _not_a_number(f"{name}[{again}]")
    for number, aim in zip(*aims, strict=True):
        if aim not in numbers:
            raise NotAsExpected(f"{name} {number}.{LATER[name]}", f"refers to {aim}, which is not among the {name}")


def _act_sets(source: Source) -> list[tuple[str, bool, tuple[Act, ...]]]:
    from clipmark.book.steps.edits import check_acts

    found: list[tuple[str, bool, tuple[Act, ...]]] = []
    for place, item in enumerate(source.items("act_sets")):
        where = f"act_sets[{place}]"
        if place >= MOST_ACT_SETS:
            raise NotAsExpected(where, f"is one too many; {MOST_ACT_SETS:,} are taken")
        if not isinstance(item, dict) or set(item) != {"name", "in_use", "acts"}:
            raise NotAsExpected(where, "should be an object with name, in_use and acts")
        name, in_use, listed = item["name"], item["in_use"], item["acts"]
        if not isinstance(name, str) or not isinstance(in_use, bool) or name in [one[0] for one in found]:
            raise NotAsExpected(where, "should have a name of its own and say whether it is in use")
        if not isinstance(listed, list):
            raise NotAsExpected(f"{where}.acts", "should be a list")
        acts = tuple(from_plain(Act, act, f"{where}.acts[{number}]") for number, act in enumerate(listed))
        try:
            check_acts(acts)
        except ClipmarkError as error:
            raise NotAsExpected(where, f"is not accepted: {error}".rstrip(".")) from error
        if in_use and any(one[1] for one in found):
            raise NotAsExpected(where, "is a second one in use")
        found.append((name, in_use, acts))
    return found


def _check_traces(source: Source, passes: Numbers, progress: Progress, done: int, total: int) -> None:
    found = Numbers()
    for place, item in enumerate(source.items("traces")):
        where = f"traces[{place}]"
        if not isinstance(item, dict) or set(item) != {"pass_id", "frames", "columns", "data"}:
            raise NotAsExpected(where, "should be an object with pass_id, frames, columns and data")
        number = item["pass_id"]
        if type(number) is not int or abs(number) > LARGEST_NUMBER or number not in passes:
            raise _not_a_pass(where)
        _trace(item, where)
        found.add(number)
        progress.advance(done + place, total)
    again = found.twice()
    if again is not None:
        raise _not_a_pass(f"traces[{again}]")


def _not_a_pass(where: str) -> NotAsExpected:
    return NotAsExpected(f"{where}.pass_id", "should be a pass of this file, once")


def _trace(item: Mapping[str, Any], where: str) -> Trace:
    try:
        data = base64.b64decode(item["data"], validate=True)
        columns = json.dumps(item["columns"])
        check_packed(item["frames"], columns, data)
    except (ValueError, TypeError, binascii.Error) as error:
        raise NotAsExpected(where, f"does not unpack ({error})") from error
    return item["frames"], columns, data
