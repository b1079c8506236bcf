"""Pieces of work for the tests of clipmark.many: they must be importable in another process."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from clipmark.errors import ClipmarkError
from clipmark.progress import Progress


def square(number: int, progress: Progress) -> int:
    """The earlier a piece, the longer it takes; so they finish in another order."""
    time.sleep(max(0.0, 0.3 - 0.1 * number))
    for done in range(1, 4):
        progress.advance(done, 3)
    return number * number


def awkward(what: str, progress: Progress) -> str:
    if what == "words":
        raise ClipmarkError("This film will not do.")
    if what == "fault":
        raise ZeroDivisionError("ours")
    if what == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
    return what


def slow(path: str, progress: Progress) -> None:
    Path(path).write_text("begun")
    for done in range(600):
        progress.advance(done, 600)
        time.sleep(0.1)
