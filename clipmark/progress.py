"""How long work reports and how it is stopped. Work knows neither Qt nor terminal."""

from __future__ import annotations

from typing import Protocol


class Cancelled(Exception):
    """The keeper asked for a stop; raised out of `Progress.advance` and left to travel up."""


class Progress(Protocol):
    def advance(self, done: int, total: int) -> None:
        """Report `done` of `total` steps (frames, files; `total` 0 when unknown).

        Raises:
            Cancelled: a stop was asked for. Clean up in `finally`, do not swallow it.
        """


class Silent:
    """A Progress that reports to nobody and never stops the work."""

    def advance(self, done: int, total: int) -> None:
        """Nothing is told."""
        return None


SILENT = Silent()


class Part:
    """A Progress for one part of a longer work: its steps fill the stretch from `begin` to `end` of `whole`."""

    def __init__(self, progress: Progress, begin: int, end: int, whole: int):
        self._progress, self._begin, self._length, self._whole = progress, begin, end - begin, whole

    def advance(self, done: int, total: int) -> None:
        """Report so many steps of this part."""
        self._progress.advance(self._begin + self._length * done // max(total, 1), self._whole)
