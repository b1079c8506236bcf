"""A lock on a file that a living process holds: it vanishes with the process, whatever ends it.

Process numbers are used again and prove nothing; a lock file that merely exists is left behind by a crash.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import IO


def hold(path: Path, patience_s: float = 0.0) -> IO[bytes] | None:
    """Lock a file (made where missing) until the returned file is closed; None: another process holds it, for longer
    than `patience_s` seconds.

    Raises:
        OSError: the file cannot be made.
    """
    file, until = path.open("ab"), time.monotonic() + patience_s
    while True:
        try:
            _lock(file)
        except OSError:
            if time.monotonic() < until:
                time.sleep(0.01)
                continue
            file.close()
            return None
        return file


def is_held(path: Path) -> bool:
    """Whether a living process holds the lock of a file; False where there is none. Takes it for an instant."""
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
