"""Pictures to film: H.264 by PyAV with exact, possibly uneven times; rotation written into the MP4 header."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

# Turning the stored picture clockwise by this many degrees gives the displayed one: (a, b, c, d) of the track matrix.
MATRICES = {0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}


def write_film(
    path: Path,
    pictures: Iterable[np.ndarray],
    pts: np.ndarray,
    time_base: Fraction,
    rate: Fraction,
    options: dict[str, str],
    rotation: int = 0,
    codec: str = "libx264",
    sound: np.ndarray | None = None,
    sound_rate: int = 48000,
) -> None:
    """Write displayed BGR pictures; `rotation` degrees clockwise are left to the player. `sound`: mono, -1..1."""
    turns = {0: 0, 90: 1, 180: 2, 270: 3}[rotation]
    with av.open(str(path), "w", format="mp4") as out:
        stream = out.add_stream(codec, rate=rate)
        stream.pix_fmt = "yuv420p"
        stream.time_base = time_base
        stream.codec_context.time_base = time_base
        stream.codec_context.thread_count = 1  # the same bytes on every machine
        stream.options = options
        voice = None
        if sound is not None:
            voice = out.add_stream("aac", rate=sound_rate)
            voice.codec_context.layout = "mono"
            voice.codec_context.bit_rate = 64_000
        for picture, tick in zip(pictures, pts, strict=True):
            stored = np.ascontiguousarray(np.rot90(picture, turns))
            if stream.codec_context.width in (0, None) or not stream.codec_context.is_open:
                stream.width, stream.height = stored.shape[1], stored.shape[0]
            frame = av.VideoFrame.from_ndarray(stored, format="bgr24")
            frame.pts, frame.time_base = int(tick), time_base
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
        if voice is not None and sound is not None:
            for k in range(0, len(sound), 1024):
                piece = sound[k : k + 1024].astype(np.float32)[None]
                note = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
                note.sample_rate, note.pts, note.time_base = sound_rate, k, Fraction(1, sound_rate)
                out.mux(voice.encode(note))
            out.mux(voice.encode(None))
    if rotation:
        turn_by_header(path, rotation)


def turn_by_header(path: Path, rotation: int) -> None:
    """Set the first track's display matrix (ISO/IEC 14496-12, track header box) in place."""
    data = bytearray(path.read_bytes())
    at = data.find(b"tkhd")
    version = data[at + 4]
    matrix_at = at + 4 + (4 + 32 if version else 4 + 20) + 16
    a, b, c, d = MATRICES[rotation]
    values = (a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30)
    for k, value in enumerate(values):
        data[matrix_at + 4 * k : matrix_at + 4 * k + 4] = int(value).to_bytes(4, "big", signed=True)
    path.write_bytes(bytes(data))
