"""What commands share in talking to the terminal: the progress bar (and, by name, writing whole files)."""

from __future__ import annotations

import sys
import time
from typing import IO

from clipmark.atomic_files import CannotWrite, atomic_file

__all__ = ["Bar", "CannotWrite", "atomic_file"]


class Bar:
    """A Progress as one line on a terminal; silent in a pipe."""

    def __init__(self, label: str, stream: IO[str] | None = None):
        self._stream = stream or sys.stderr
        self._show = self._stream.isatty()
        self._label, self._drawn = label, 0.0

    def advance(self, done: int, total: int) -> None:
        if not self._show or (time.monotonic() - self._drawn < 0.1 and done < total):
            return
        self._drawn = time.monotonic()
        if total:
            full = 30 * done // total
            text = f"{self._label} {'█' * full}{'·' * (30 - full)} {100 * done // total:3d} %"
        else:
            text = f"{self._label} {done}"
        self._stream.write(f"\r{text}\x1b[K")
        if total and done >= total:
            self._stream.write("\r\x1b[K")
        self._stream.flush()
