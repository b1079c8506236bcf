"""Telling ordinary files from folders, pipes, devices and links that lead nowhere, before anything waits on them."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path


def odd(path: Path) -> str:
    """Why what is there cannot be read as a file; empty where it is an ordinary file, or nothing is there."""
    try:
        mode = os.stat(path).st_mode
    except OSError as error:
        return "it is a link that leads in a circle" if error.errno == errno.ELOOP else ""  # opening it says why
    except ValueError:  # a name that no file can have
        return ""
    if stat.S_ISREG(mode):
        return ""
    return "it is a folder" if stat.S_ISDIR(mode) else "it is a pipe or a device, not a file"
