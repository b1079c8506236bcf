"""How a pass's trace is stored: float32, little-endian, column after column, zlib'd; the column names beside it.

Float32 keeps a position on a picture of 8,000 pixels to a thousandth of a pixel, far below what can be followed.
No pickle: what is read back is numbers, whatever the file says.
"""

from __future__ import annotations

import json
import zlib
from dataclasses import fields
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from clipmark.motion.result import Trace

LEVEL = 6
MOST_COLUMNS = 64
MOST_FRAMES = 20_000_000  # more than three days of film at 60 frames a second; whatever says more is damaged
_PIECE = 1 << 20


def packed(trace: Trace) -> tuple[int, str, bytes]:
    """Frames, column names as JSON, and the packed numbers."""
    import numpy as np

    names = [field.name for field in fields(trace)]
    table = np.stack([np.asarray(getattr(trace, name), dtype="<f4") for name in names])
    return table.shape[1], json.dumps(names), zlib.compress(table.tobytes(), LEVEL)


def nothing_followed(frames: int) -> Trace:
    """The trace of which nothing is known: NaN throughout.

    Raises:
        ValueError: no film has so many frames.
    """
    import numpy as np

    from clipmark.motion.result import Trace

    unknown = np.full(_count(frames), np.nan)
    unknown.setflags(write=False)  # one for all columns
    return Trace(**{field.name: unknown for field in fields(Trace)})


def check_packed(frames: object, columns: str, data: bytes) -> None:
    """Whether packed numbers are what they should be, in little memory whatever they unpack to.

    Raises:
        ValueError: they are not.
    """
    names = _names(columns)
    expected, found = _count(frames) * len(names) * 4, 0
    unpacker = zlib.decompressobj()
    try:
        rest = data
        while rest and not unpacker.eof and found <= expected:
            found += len(unpacker.decompress(rest, _PIECE))
            rest = unpacker.unconsumed_tail
    except zlib.error as error:
        raise ValueError(f"it does not unpack, {error}") from error
    if found != expected or not unpacker.eof or unpacker.unused_data:
        raise ValueError("it does not hold as many numbers as it says")


def _count(frames: object) -> int:
    if isinstance(frames, bool) or not isinstance(frames, int) or not 0 <= frames <= MOST_FRAMES:
        raise ValueError("its frames are no whole number of 0 or more, or too many")
    return frames


def _names(columns: str) -> list[str]:
    try:
        names = json.loads(columns)
    except RecursionError as error:
        raise ValueError("its columns are no list of names") from error
    named = isinstance(names, list) and all(isinstance(one, str) for one in names)
    if not named or not 0 < len(names) <= MOST_COLUMNS:
        raise ValueError("its columns are no list of names")
    if len(set(names)) != len(names):
        raise ValueError("two of its columns have one name")
    return names


def unpacked(frames: int, columns: str, data: bytes) -> Trace:
    """The trace again, float64 arrays of shape (frames,); a column that an older clipmark did not write is NaN.

    Raises:
        ValueError: the numbers do not fit what stands beside them.
    """
    import numpy as np

    from clipmark.motion.result import Trace

    names = _names(columns)
    expected = _count(frames) * len(names) * 4
    unpacker = zlib.decompressobj()
    try:
        raw = unpacker.decompress(data, max_length=expected + 1)  # never more than what was promised
    except zlib.error as error:
        raise ValueError(f"the trace does not unpack ({error})") from error
    if len(raw) != expected:
        raise ValueError(f"the trace holds {len(raw)} bytes and not {expected}")
    table = np.frombuffer(raw, dtype="<f4").reshape(len(names), frames).astype(np.float64)
    by_name = dict(zip(names, table, strict=True))
    missing = np.full(frames, np.nan)
    return Trace(**{field.name: by_name.get(field.name, missing) for field in fields(Trace)})
