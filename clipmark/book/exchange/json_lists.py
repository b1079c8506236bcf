"""A JSON file of long lists, one item in memory at a time: an object whose values are lists or short values.

First the whole file is looked through: is it JSON, where does each list begin, how many items has it. Then the
lists are read in any order and as often as wanted.
"""

from __future__ import annotations

import codecs
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from clipmark.progress import SILENT, Progress

LONGEST_ITEM = 160 << 20  # letters; the trace of a day of film at 30 frames a second has 140 million
_LONG, _MOST_PARTS = 4 << 20, 100_000  # a longer item has few parts: a trace is one long text
_MOST_NAMES = 1_000
_PIECE = 1 << 18  # bytes read at a time
_IN_NUMBERS = "0123456789.eE+-"  # one that ends where the piece ends may go on
_NEAR = 16  # letters: an error so near the end of what was read may come from a token that was cut


class NoJson(ValueError):
    """The file is no JSON, or an item in it is too long; the text says which."""


class ChangedMeanwhile(ValueError):
    """The file is not the one that was looked through."""

    def __init__(self) -> None:
        super().__init__("it was changed while it was being read")


@dataclass
class JsonLists:
    """What lies in a file: short values by name, and of each list its place in bytes and number of items."""

    path: Path
    values: dict[str, Any] = field(default_factory=dict)
    lists: dict[str, tuple[int, int]] = field(default_factory=dict)
    _same: tuple[int, ...] = ()

    @classmethod
    def look_through(cls, path: Path, progress: Progress = SILENT) -> JsonLists:
        """Read the whole file once; `progress` counts bytes.

        Raises:
            OSError. NoJson: it is none, or no object, or a name stands in it twice.
        """
        found = cls(path)
        with path.open("rb") as file:
            found._same = _identity(file)
            text = _Text(file, 0, progress, os.fstat(file.fileno()).st_size)
            if text.start() != "{":
                text.value()
                text.end()
                return found
            for name in text.names():
                if name in found.values or name in found.lists:
                    raise NoJson(f"“{name[:40]}” stands in it twice")
                if len(found.values) + len(found.lists) >= _MOST_NAMES:
                    raise NoJson(f"it has more than {_MOST_NAMES:,} names")
                if text.next_sign() == "[":
                    place = text.place()
                    found.lists[name] = (place, sum(1 for _ in text.items()))
                else:
                    found.values[name] = text.value()
            text.end()
        return found

    def items(self, name: str) -> Iterator[Any]:
        """The items of a list, one after the other; none where there is no such list.

        Raises:
            OSError. ChangedMeanwhile: the file is another one now.
        """
        if name not in self.lists:
            return
        with self.path.open("rb") as file:
            if _identity(file) != self._same:
                raise ChangedMeanwhile
            yield from _Text(file, self.lists[name][0]).items()

    def count(self, name: str) -> int:
        """How many items a list has."""
        return self.lists.get(name, (0, 0))[1]


def _identity(file: IO[bytes]) -> tuple[int, ...]:
    now = os.fstat(file.fileno())
    return now.st_dev, now.st_ino, now.st_size, now.st_mtime_ns


class _Text:
    """The text of a file from a byte on, of which a piece is in memory."""

    def __init__(self, file: IO[bytes], start: int, progress: Progress = SILENT, total: int = 0):
        file.seek(start)
        self._file, self._bytes, self._progress, self._total = file, start, progress, total
        self._decode = codecs.getincrementaldecoder("utf-8-sig" if start == 0 else "utf-8")()
        self._json = json.JSONDecoder(parse_constant=_no_constant)
        self._text, self._at, self._more = "", 0, True

    def _read(self, least: int = 0) -> bool:
        """Take in another piece, of `least` bytes or more; False at the end of the file."""
        piece = self._file.read(max(least, _PIECE)) if self._more else b""
        self._more = bool(piece)
        try:
            fresh = self._decode.decode(piece, final=not piece)
        except UnicodeDecodeError as error:
            raise NoJson(str(error)) from error
        self._bytes += len(piece)
        self._text, self._at = self._text[self._at :] + fresh, 0
        self._progress.advance(self._bytes, self._total)
        return self._more

    def next_sign(self) -> str:
        """The next letter that is no space, which is not taken; empty at the end."""
        while True:
            while self._at < len(self._text):
                letter = self._text[self._at]
                if letter not in " \t\n\r":
                    return letter
                self._at += 1
            if not self._read():
                return ""

    start = next_sign

    def take(self, *wanted: str) -> str:
        """Take the next letter, one of those.

        Raises:
            NoJson: it is another one.
        """
        letter = self.next_sign()
        if letter not in wanted:
            there = f"{letter} stands" if letter else "the file ends"
            raise NoJson(f"{there} where {' or '.join(wanted)} should be, near byte {self.place()}")
        self._at += 1
        return letter

    def place(self) -> int:
        """The byte of the next letter that is no space."""
        self.next_sign()
        waiting = len(self._decode.getstate()[0])
        return self._bytes - waiting - len(self._text[self._at :].encode("utf-8"))

    def value(self) -> Any:
        """The next value, whole.

        Raises:
            NoJson: there is none, or it is longer than any item of ours.
        """
        self.next_sign()
        while True:
            try:
                made, end = self._json.raw_decode(self._text, self._at)
                following = self._text[end : end + 1]
                if not self._more or (following and following not in _IN_NUMBERS) or end < len(self._text) - _NEAR:
                    self._at = end
                    return made
            except json.JSONDecodeError as error:
                cut = error.msg.startswith("Unterminated string") or error.pos >= len(self._text) - _NEAR
                if not cut or not self._more:
                    raise NoJson(f"{error.msg}, near byte {self.place()}") from error
            except (ValueError, RecursionError) as error:  # a number of thousands of digits; lists in lists in lists
                raise NoJson(str(error)) from error
            self._grow()

    def _grow(self) -> None:
        """Take in more of an item that is not whole yet, as long as it is none that would fill the memory."""
        letters = len(self._text) - self._at
        if letters > LONGEST_ITEM or (letters > _LONG and self._text.count(",", self._at) > _MOST_PARTS):
            raise NoJson(f"an item in it is too long, near byte {self.place()}")
        self._read(letters // 4)

    def names(self) -> Iterator[str]:
        """The names of an object, each given out when its value comes next."""
        self.take("{")
        if self.next_sign() == "}":
            self._at += 1
            return
        while True:
            if self.next_sign() != '"':
                self.take('"')
            name = self.value()
            self.take(":")
            yield name
            if self.take(",", "}") == "}":
                return

    def items(self) -> Iterator[Any]:
        """The items of a list."""
        self.take("[")
        if self.next_sign() == "]":
            self._at += 1
            return
        while True:
            yield self.value()
            if self.take(",", "]") == "]":
                return

    def end(self) -> None:
        """Nothing but spaces is left.

        Raises:
            NoJson: there is more.
        """
        if self.next_sign():
            raise NoJson(f"something follows its end, near byte {self.place()}")


def _no_constant(word: str) -> float:
    raise ValueError(f"{word} is no JSON number")
