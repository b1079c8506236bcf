"""Frame indexes kept between runs, so that a long film opens at once. What is kept can always be made again.

A file an index, named by the film's fingerprint: plain arrays and a table in JSON, in a zip (numpy's own format,
read without pickle). Whatever is wrong with such a file, it is as if it were not there.
"""

from __future__ import annotations

import json
import os
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clipmark import settings
from clipmark.atomic_files import CannotWrite, atomic_path

_VERSION = 1  # raise whenever an index would come out differently, or is kept differently
_KEPT_AT_MOST = 400  # files; the longest unused go first

Arrays = dict[str, NDArray[Any]]


def load(fingerprint: str) -> tuple[Arrays, dict[str, Any]] | None:
    """Arrays and facts as they were given to `save`; None where nothing usable is kept."""
    path = _path(fingerprint)
    try:
        with np.load(path, allow_pickle=False) as kept:
            facts = json.loads(bytes(kept["facts"]).decode())
            arrays = {name: kept[name] for name in kept.files if name != "facts"}
        if facts.pop("version") != _VERSION or facts.pop("fingerprint") != fingerprint:
            return None
        os.utime(path)
    except Exception:  # a broken file of ours must never keep a film from opening; it is made anew
        return None
    return arrays, facts


def save(fingerprint: str, arrays: Arrays, facts: dict[str, Any]) -> None:
    """Keep an index; where that is not possible (full or read-only disk) nothing is kept and nothing is said."""
    path = _path(fingerprint)
    table = json.dumps({**facts, "version": _VERSION, "fingerprint": fingerprint}, default=_as_text)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with atomic_path(path, durable=False) as fresh, fresh.open("wb") as file:
            np.savez(file, facts=np.frombuffer(table.encode(), np.uint8), **arrays)  # type: ignore[arg-type]
        _tidy(path.parent)
    except (OSError, CannotWrite):
        return


def _path(fingerprint: str) -> Path:
    return settings.cache_dir() / "index" / f"{fingerprint}.npz"


def _tidy(folder: Path) -> None:
    kept = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime)
    for path in kept[:-_KEPT_AT_MOST]:
        path.unlink(missing_ok=True)


def _as_text(value: object) -> str:
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    raise TypeError(type(value).__name__)
