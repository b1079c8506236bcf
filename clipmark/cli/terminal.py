"""What commands share in talking to the terminal: the progress bar and writing files whole or not at all."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from clipmark.errors import ClipmarkError


class CannotWrite(ClipmarkError):
    def __init__(self, path: Path, reason: str):
        super().__init__(f"“{path}” could not be written ({reason}). Choose another place or make room there.")
        self.path = path


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


@contextmanager
def whole_file(path: Path, newline: str | None = None) -> Iterator[IO[str]]:
    """A text file (UTF-8) that appears under its name only when it is complete.

    Raises:
        CannotWrite: the folder is missing, read-only or full.
    """
    path = Path(path)
    fresh = ""
    try:
        handle, fresh = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8", newline=newline) as file:
            yield file
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(fresh, 0o666 & ~umask)
        os.replace(fresh, path)
        fresh = ""
    except OSError as error:
        raise CannotWrite(path, error.strerror or str(error)) from error
    finally:
        if fresh and os.path.exists(fresh):
            os.unlink(fresh)
