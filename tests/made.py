"""Tiny test films with known truth: every frame carries its number in its pixels, times are written as asked.

For tests and benchmarks; nothing in the program itself needs it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av.video.stream import VideoStream

Bytes = NDArray[np.uint8]

_COLUMNS, _ROWS = 8, 2  # cells that carry 12 bits of number and 4 of check sum
MOST = 1 << 12  # numbers that fit


@dataclass(frozen=True, slots=True)
class Made:
    """A film that was made, and the truth about it: the tick of each frame, and the seconds of a tick."""

    path: Path
    pts: tuple[int, ...]
    time_base: Fraction
    width: int
    height: int


def numbered(number: int, width: int = 64, height: int = 48, dark: int = 16, light: int = 235) -> Bytes:
    """A grey picture, (height, width), that says which frame it is: sixteen cells, dark or light."""
    word = number << 4 | _check(number)
    bits = np.array([word >> bit & 1 for bit in range(16)], np.uint8).reshape(_ROWS, _COLUMNS)
    rows = np.arange(height) * _ROWS // height
    columns = np.arange(width) * _COLUMNS // width
    return np.where(bits[rows][:, columns] == 1, light, dark).astype(np.uint8)


def number_in(picture: NDArray[np.uint8]) -> int | None:
    """The number that a grey picture (h, w) carries; None where it carries none that is whole."""
    height, width = picture.shape
    if height < _ROWS or width < _COLUMNS:
        return None
    word = 0
    for bit in range(16):
        row, column = divmod(bit, _COLUMNS)
        y = slice(*_middle(row, _ROWS, height))
        x = slice(*_middle(column, _COLUMNS, width))
        word |= int(picture[y, x].mean() > 128) << bit
    number, check = word >> 4, word & 15
    return number if check == _check(number) else None


def _check(number: int) -> int:
    """Four bits that catch most misread numbers; an all-dark or all-light picture does not pass."""
    return (number * 7 + (number >> 4) * 5 + (number >> 8) * 3 + 9) & 15


def _middle(cell: int, cells: int, size: int) -> tuple[int, int]:
    """The middle half of a cell, at least one pixel."""
    start, stop = -(-cell * size // cells), -(-(cell + 1) * size // cells)
    quarter = (stop - start) // 4
    return start + quarter, max(stop - quarter, start + quarter + 1)


def film(
    path: Path,
    pts: Sequence[int],
    time_base: Fraction = Fraction(1, 1000),
    width: int = 64,
    height: int = 48,
    draw: Callable[[int], Bytes] | None = None,
    codec: str = "ffv1",
    pixel_format: str = "gray",
    options: dict[str, str] | None = None,
    sound: NDArray[np.float32] | None = None,
    sound_rate: int = 16000,
    restated: dict[int, int] | None = None,
) -> Made:
    """Write a film, lossless as it stands; what is read back is identical, pixel and tick.

    Args:
        pts: rising ticks, one a frame. Milliseconds in a `.mkv` come back as they are.
        draw: makes frame n as grey (height, width) or red-green-blue (height, width, 3); default: `numbered`.
        restated: ticks of packets that the file states as others, as damaged or odd writers do.
        sound: one channel, begins with tick 0 (kept as 16 bits).
    """
    import av

    with av.open(str(path), "w") as container:
        stream = cast("VideoStream", container.add_stream(codec, rate=Fraction(25), options=options or {}))
        stream.width, stream.height, stream.pix_fmt = width, height, pixel_format
        stream.time_base = time_base
        stream.codec_context.time_base = time_base
        voice = container.add_stream("pcm_s16le", rate=sound_rate, layout="mono") if sound is not None else None
        for number, tick in enumerate(pts):
            picture = numbered(number, width, height) if draw is None else draw(number)
            frame = av.VideoFrame.from_ndarray(picture, format="gray" if picture.ndim == 2 else "rgb24")
            frame = frame.reformat(format=pixel_format)
            frame.pts, frame.time_base = tick, time_base
            for packet in stream.encode(frame):
                if restated and packet.pts in restated:
                    packet.pts = packet.dts = restated[packet.pts]
                container.mux(packet)
        container.mux(stream.encode(None))
        if voice is not None and sound is not None:
            whole = np.clip(np.round(sound * 32768), -32768, 32767).astype(np.int16)
            for start in range(0, len(whole), 1024):
                part = av.AudioFrame.from_ndarray(whole[None, start : start + 1024], format="s16", layout="mono")
                part.sample_rate, part.pts, part.time_base = sound_rate, start, Fraction(1, sound_rate)
                container.mux(voice.encode(part))
            container.mux(voice.encode(None))
    return Made(Path(path), tuple(pts), time_base, width, height)


def uneven(count: int, seed: int = 7, mean: int = 40) -> list[int]:
    """Ticks that rise by uneven steps about `mean`, as phones write them."""
    steps = np.random.default_rng(seed).integers(mean // 2, mean * 3 // 2 + 1, count - 1)
    return [0, *np.cumsum(steps).tolist()]
