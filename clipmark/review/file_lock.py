"""A lock on a file that a living process holds: it vanishes with the process, whatever ends it.

Process numbers are used again and prove nothing; a lock file that merely exists is left behind by a crash.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import IO


def hold(path: Path) -> IO[bytes] | None:
    """Lock a file (made where missing) until the returned file is closed; None: another process holds it.

    Raises:
        OSError: the file cannot be made.
    """
    file = path.open("ab")
    try:
        _lock(file)
    except OSError:
        file.close()
        return None
    return file


def is_held(path: Path) -> bool:
    """Whether a living process holds the lock of a file; False where there is no such file."""
    try:
        file = path.open("r+b")
    except OSError:
        return False
    with file:
        try:
            _lock(file)
        except OSError:
            return True
    return False


def _lock(file: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
