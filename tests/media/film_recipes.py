"""How awkward films are made by ffmpeg, every frame with its number in its pixels, and what ffmpeg says of them.

The truth is asked of ffmpeg and ffprobe (another version of the decoders than the one that clipmark uses):
`shown_numbers` decodes from the first frame to the last, `shown_times` lists the times.
"""

from __future__ import annotations

import json
import random
import subprocess
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from pathlib import Path

import numpy as np

from tests import made

FRAMES = 227
Recipe = Callable[[Path], Path]


def run(*words: str, feed: bytes | None = None) -> bytes:
    done = subprocess.run(words, input=feed, capture_output=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)}: {done.stderr.decode(errors='replace')[-800:]}")
    return done.stdout


def encode(
    folder: Path,
    name: str,
    *options: str,
    frames: int = FRAMES,
    size: tuple[int, int] = (128, 96),
    rate: str = "25",
    before: tuple[str, ...] = (),
    first: int = 0,
) -> Path:
    """A numbered film through ffmpeg with these output options; `before` are further inputs."""
    raw = b"".join(made.numbered(first + n, *size).tobytes() for n in range(frames))
    path = folder / name
    source = ("-f", "rawvideo", "-pix_fmt", "gray", "-s", f"{size[0]}x{size[1]}", "-r", rate, "-i", "-")
    run("ffmpeg", "-v", "error", "-y", *source, *before, *options, str(path), feed=raw)
    return path


def x264(*more: str, gop: int = 40, pixels: str = "yuv420p") -> tuple[str, ...]:
    return ("-c:v", "libx264", "-preset", "veryfast", "-threads", "1", "-g", str(gop), "-pix_fmt", pixels, *more)


def x265(params: str = "", pixels: str = "yuv420p") -> tuple[str, ...]:
    told = "log-level=none:keyint=40:min-keyint=40:scenecut=0:pools=1" + (":" + params if params else "")
    return ("-c:v", "libx265", "-preset", "ultrafast", "-x265-params", told, "-pix_fmt", pixels)


TONE = ("-f", "lavfi", "-i", "sine=frequency=440:duration=9:sample_rate=16000")
MPEG4 = ("-c:v", "mpeg4", "-q:v", "3", "-g", "40", "-pix_fmt", "yuv420p")
MPEG2 = ("-c:v", "mpeg2video", "-q:v", "3", "-g", "15", "-bf", "2", "-pix_fmt", "yuv420p")
VP9 = (
    "-c:v",
    "libvpx-vp9",
    "-deadline",
    "realtime",
    "-cpu-used",
    "8",
    "-g",
    "60",
    "-b:v",
    "400k",
    "-pix_fmt",
    "yuv420p",
)
VP8 = ("-c:v", "libvpx", "-deadline", "realtime", "-cpu-used", "8", "-g", "60", "-b:v", "600k", "-pix_fmt", "yuv420p")
HIDDEN = ("-auto-alt-ref", "1", "-lag-in-frames", "16", "-cpu-used", "4", "-g", "60", "-b:v", "600k")
VP8_HIDDEN = ("-c:v", "libvpx", *HIDDEN)
VP9_HIDDEN = ("-c:v", "libvpx-vp9", *HIDDEN)
AV1 = ("-c:v", "libsvtav1", "-preset", "12", "-g", "60", "-crf", "30", "-pix_fmt", "yuv420p")
UNEVEN = ("-vf", "settb=1/1000,setpts=N*40+floor(18*sin(N*1.7))", "-vsync", "passthrough", "-enc_time_base", "1/1000")
DOUBLED = ("-vf", "settb=1/1000,setpts=floor(N/2)*80", "-vsync", "passthrough", "-enc_time_base", "1/1000")


def copied(folder: Path, name: str, source: Path, *options: str, before: tuple[str, ...] = ()) -> Path:
    """The same packets in another file."""
    path = folder / name
    run("ffmpeg", "-v", "error", "-y", *before, "-i", str(source), "-c", "copy", *options, str(path))
    return path


def piped(folder: Path, name: str, kind: str, source: Path) -> Path:
    """The same packets written to a pipe: no table of contents can be added at the end."""
    path = folder / name
    path.write_bytes(run("ffmpeg", "-v", "error", "-i", str(source), "-c", "copy", "-f", kind, "-"))
    return path


def changed(name: str, change: Callable[[bytearray], bytes], folder: Path, source: Path) -> Path:
    path = folder / name
    path.write_bytes(change(bytearray(source.read_bytes())))
    return path


def zeroed(data: bytearray) -> bytes:
    middle, width = len(data) // 2, len(data) // 20
    data[middle : middle + width] = bytes(width)
    return bytes(data)


def randomised(data: bytearray) -> bytes:
    middle, width = len(data) // 2, len(data) // 20
    data[middle : middle + width] = random.Random(5).randbytes(width)
    return bytes(data)


def tail_lost(data: bytearray) -> bytes:
    return bytes(data[: len(data) * 2 // 3])


def head_lost(data: bytearray) -> bytes:
    return bytes(data[188 * (len(data) // 188 // 5) :])


def mp4(folder: Path) -> Path:
    return encode(folder, "source.mp4", *x264("-bf", "2"))


def fast_start(folder: Path) -> Path:
    return encode(folder, "source.mp4", *x264("-bf", "2", "-movflags", "+faststart"))


def fragmented(folder: Path) -> Path:
    return encode(folder, "source.mp4", *x264("-bf", "2", "-movflags", "+frag_keyframe+empty_moov"))


def mkv(folder: Path) -> Path:
    return encode(folder, "source.mkv", *x264("-bf", "2"))


def ts(folder: Path) -> Path:
    return encode(folder, "source.ts", *x264("-bf", "2"))


def clock_reset(folder: Path) -> Path:
    one = encode(folder, "one.ts", *x264("-bf", "2"), frames=120)
    two = encode(folder, "two.ts", *x264("-bf", "2"), frames=113, first=120)
    path = folder / "film.ts"
    path.write_bytes(one.read_bytes() + two.read_bytes())
    return path


def clock_jump(folder: Path) -> Path:
    one = encode(folder, "one.ts", *x264("-bf", "2"), frames=120)
    two = encode(folder, "two.ts", *x264("-bf", "2", "-output_ts_offset", "30"), frames=113, first=120)
    path = folder / "film.ts"
    path.write_bytes(one.read_bytes() + two.read_bytes())
    return path


def turned(degrees: int, folder: Path) -> Path:
    # The stored picture lies on its side, the film says how to turn it, and what is shown is upright again.
    size = (96, 128) if degrees in (90, 270) else (128, 96)
    back = {90: "transpose=cclock", 180: "hflip,vflip", 270: "transpose=clock"}[degrees]
    lying = encode(folder, "lying.mp4", "-vf", back, *x264("-bf", "2"), size=size)
    return copied(folder, "film.mp4", lying, "-metadata:s:v:0", f"rotate={360 - degrees}")


def two_streams(folder: Path) -> Path:
    small = encode(folder, "small.mp4", *x264(), size=(64, 48), first=1000)
    large = encode(folder, "large.mp4", *x264("-bf", "2"))
    path = folder / "film.mkv"
    maps = ("-map", "0:v", "-map", "1:v", "-disposition:v:0", "0", "-disposition:v:1", "default")
    run("ffmpeg", "-v", "error", "-y", "-i", str(small), "-i", str(large), *maps, "-c", "copy", str(path))
    return path


def with_cover(folder: Path, name: str, source: Recipe) -> Path:
    run(
        "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", "color=red:s=300x300", "-frames:v", "1", f"{folder}/c.png"
    )
    path = folder / name
    inputs = ("-i", str(source(folder)), "-i", f"{folder}/c.png")
    marks = ("-map", "0", "-map", "1", "-c", "copy", "-disposition:v:1", "attached_pic")
    run("ffmpeg", "-v", "error", "-y", *inputs, *marks, str(path))
    return path


def sound_shifted(offset: str, folder: Path) -> Path:
    return encode(folder, "film.mkv", *x264("-bf", "2", "-c:a", "aac"), before=("-itsoffset", offset, *TONE))


def cover_only(folder: Path) -> Path:
    run(
        "ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", "color=red:s=300x300", "-frames:v", "1", f"{folder}/c.png"
    )
    run("ffmpeg", "-v", "error", "-y", *TONE, "-c:a", "aac", f"{folder}/s.m4a")
    path = folder / "film.m4a"
    inputs = ("-i", f"{folder}/s.m4a", "-i", f"{folder}/c.png")
    marks = ("-map", "0", "-map", "1", "-c", "copy", "-disposition:v:0", "attached_pic")
    run("ffmpeg", "-v", "error", "-y", *inputs, *marks, str(path))
    return path


def sound_only(folder: Path) -> Path:
    path = folder / "film.mp4"
    run("ffmpeg", "-v", "error", "-y", *TONE, "-c:a", "aac", str(path))
    return path


def written(name: str, content: bytes, folder: Path) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def film(name: str, *options: str, **more: object) -> Recipe:
    return partial(lambda folder: encode(folder, name, *options, **more))  # type: ignore[arg-type]


def of(source: Recipe, make: Callable[[Path, Path], Path]) -> Recipe:
    return lambda folder: make(folder, source(folder))


def shown_numbers(path: Path, width: int, height: int, stream: str = "V:0") -> list[int | None]:
    """The numbers in the frames as ffmpeg shows them, decoding from the first frame to the last."""
    shape = ("-vsync", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "-")
    raw = run("ffmpeg", "-v", "quiet", "-i", str(path), "-map", f"0:{stream}", *shape)
    pictures = np.frombuffer(raw, np.uint8).reshape(-1, height, width)
    return [made.number_in(picture) for picture in pictures]


def shown_times(path: Path, stream: str = "V:0") -> list[Fraction | None]:
    """The frames' times as ffprobe lists them, less the first one's."""
    entries = ("-show_entries", "frame=best_effort_timestamp:stream=time_base", "-of", "json")
    found = json.loads(run("ffprobe", "-v", "quiet", "-select_streams", stream, *entries, str(path)))
    base = Fraction(found["streams"][0]["time_base"])
    ticks = [frame.get("best_effort_timestamp") for frame in found["frames"]]
    zero = next((tick for tick in ticks if tick is not None), 0)
    return [None if tick is None else (tick - zero) * base for tick in ticks]
