"""A lock that a living process holds: it ends with the process, however that ends. A process number proves nothing,
since another program may have it by now.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from types import TracebackType

_BYTE = 1 << 30  # Windows locks bytes, also those past the end: one that nobody writes


class ProcessLock:
    """A held lock on a file; a context manager. Let go of by `release` or by the end of the process.

    `fcntl.flock` belongs to the open file, so a child that was begun without it does not keep it. Source: flock(2).
    """

    def __init__(self, path: Path, handle: int):
        self.path, self._handle = path, handle

    @classmethod
    def take(cls, path: Path) -> ProcessLock | None:
        """The lock of this name, made where it is missing; None where a living process holds it.

        Raises:
            OSError: the file cannot be made, such as on a full disk.
        """
        while True:
            handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)
            try:
                held = _lock(handle)
                same = held and _is(path, handle)
            except BaseException:
                os.close(handle)
                raise
            if held and same:
                return cls(path, handle)
            os.close(handle)
            if not held:
                return None
            # the file was removed between opening and locking: another one has the name, or none

    def release(self) -> None:
        """Let go; the file stays."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def __enter__(self) -> ProcessLock:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def hold(path: Path, patience_s: float = 0.0) -> ProcessLock | None:
    """The lock of this name, waited for as long as `patience_s` seconds; None: another process holds it longer.

    Raises:
        OSError: the file cannot be made.
    """
    until = time.monotonic() + patience_s
    while True:
        lock = ProcessLock.take(path)
        if lock is not None or time.monotonic() >= until:
            return lock
        time.sleep(0.01)


def is_held(path: Path) -> bool:
    """Whether a living process holds the lock of this name; False where there is no such file."""
    if not path.exists():
        return False
    try:
        lock = ProcessLock.take(path)
    except OSError:
        return False
    if lock is None:
        return True
    lock.release()
    return False


def _is(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(os.stat(path), os.fstat(handle))
    except FileNotFoundError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> bool:
        os.lseek(handle, _BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
