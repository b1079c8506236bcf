"""The log: what went wrong in clipmark itself, with its traces, in one file that is kept small."""

from __future__ import annotations

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

from clipmark import settings

MOST_BYTES = 512 << 10
KEPT = 3  # older files beside the newest


def log_file() -> Path:
    """Where the log lies; whether or not there is one yet."""
    return settings.data_dir() / "log" / "clipmark.log"


def begin_log() -> RotatingFileHandler | None:
    """Write warnings and errors of the whole program into the log from now on; None where it cannot be written.

    The file is made with the first entry, so a program without faults leaves none."""
    path = log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(path, maxBytes=MOST_BYTES, backupCount=KEPT, encoding="utf-8", delay=True)
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    handler.setLevel(logging.WARNING)
    logging.getLogger().addHandler(handler)
    return handler
