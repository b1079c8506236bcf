"""What listings of the commands share: values as JSON, text of any kind on one line, columns."""

from __future__ import annotations

import gc
import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from clipmark.json_values import to_plain


def print_json(value: Any) -> None:
    """Print a value of the book for machines."""
    print(json.dumps(to_plain(value), ensure_ascii=False, indent=1).encode("utf-8", "replace").decode("utf-8"))


def one_line(text: str, width: int = 40) -> str:
    """A keeper's text for a listing: no line breaks, no control characters, shortened."""
    flat = " ".join(text.split())
    flat = "".join(letter if letter.isprintable() else "·" for letter in flat)
    return flat if len(flat) <= width else flat[: width - 1] + "…"


def table(head: Sequence[str], body: Iterable[Sequence[object]]) -> None:
    """Print columns."""
    lines = [[str(cell) for cell in row] for row in (head, *body)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    for line in lines:
        print("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())


_WORDS = {"reviewed": ("reviewed stretch", "reviewed stretches"), "pass": ("motion pass", "motion passes")}


def counted(name: str, number: int) -> str:
    """So many rows of a table of the book in words: `2 animals`, `1 life event`."""
    word = name.replace("_", " ")
    one, several = _WORDS.get(name, (word, f"{word}s"))
    return f"{number} {one if number == 1 else several}"


@contextmanager
def without_collecting() -> Iterator[None]:
    """Run without the search for cycles among objects: hundreds of thousands of frozen values have none, and looking
    for some takes a third of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
