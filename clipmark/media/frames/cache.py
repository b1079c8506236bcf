"""Frames kept in memory, bounded in bytes and shared between views and threads."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock
from typing import Generic, Protocol, TypeVar


class Sized(Protocol):
    @property
    def nbytes(self) -> int:
        """Bytes of memory that it takes."""


Kept = TypeVar("Kept", bound=Sized)


class FrameCache(Generic[Kept]):
    """The frames used last, at most `limit_bytes` of them together. All calls may come from any thread.

    Keys are what tells frames apart: (clip fingerprint, frame number), or with a third part for a size.
    """

    def __init__(self, limit_bytes: int):
        self._limit = limit_bytes
        self._kept: OrderedDict[Hashable, Kept] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()

    @property
    def nbytes(self) -> int:
        """Bytes held now; never above the limit."""
        return self._bytes

    @property
    def limit_bytes(self) -> int:
        """The most bytes that are kept."""
        return self._limit

    def __len__(self) -> int:
        return len(self._kept)

    def __contains__(self, key: Hashable) -> bool:
        """Whether it is held; does not count as a use."""
        with self._lock:
            return key in self._kept

    def get(self, key: Hashable) -> Kept | None:
        """What is kept under this key, now the last to go; None if nothing is."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
            return found

    def put(self, key: Hashable, frame: Kept) -> None:
        """Keep a frame; the longest unused ones go. One that is larger than the whole cache is not kept."""
        with self._lock:
            before = self._kept.pop(key, None)
            if before is not None:
                self._bytes -= before.nbytes
            if frame.nbytes > self._limit:
                return
            self._kept[key] = frame
            self._bytes += frame.nbytes
            while self._bytes > self._limit:
                _, gone = self._kept.popitem(last=False)
                self._bytes -= gone.nbytes

    def drop(self, key: Hashable) -> None:
        """Let go of a frame, if it is held."""
        with self._lock:
            gone = self._kept.pop(key, None)
            if gone is not None:
                self._bytes -= gone.nbytes

    def clear(self) -> None:
        """Let go of everything."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0
