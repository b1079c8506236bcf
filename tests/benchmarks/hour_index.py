"""What the index of a film of one hour costs, by container: read once from memory, nothing kept from before.

    python -m tests.benchmarks.hour_index

A clip of 20 s (640x360, 25 frames a second, with sound, about 1 Mbit/s) is repeated 180 times by ffmpeg without
coding it anew: 90,000 frames, 400 to 490 MB a file, kept in the folder of CLIPMARK_BENCH. Told are seconds of the
processor and of the clock for opening the film, the better of three turns; what the demuxer alone takes for the same
packets, which is the least that reading them can cost; and whether each film gave its 90,000 frames with exact times.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from clipmark.media.clip import _only, open_clip
from clipmark.media.open_film import open_container, picture_stream
from tests.benchmarks.feel import FOLDER

FRAMES = 90_000
TURNS = 3
_SOURCE = ("-f", "lavfi", "-i", "testsrc2=size=640x360:rate=25:duration=20,noise=alls=12:allf=t",
           "-f", "lavfi", "-i", "sine=frequency=440:duration=20:sample_rate=48000")  # fmt: skip
_SHORT = {
    "h264.mp4": ("-c:v", "libx264", "-preset", "veryfast", "-b:v", "900k", "-g", "50", "-bf", "2", "-pix_fmt",
                 "yuv420p", "-c:a", "aac", "-b:a", "96k"),
    "mpeg4.avi": ("-c:v", "mpeg4", "-b:v", "900k", "-g", "50", "-bf", "0", "-c:a", "mp3", "-b:a", "96k"),
    "vp8.webm": ("-c:v", "libvpx", "-deadline", "realtime", "-cpu-used", "8", "-g", "50", "-b:v", "800k", "-c:a",
                 "libopus", "-b:a", "64k"),
}  # fmt: skip
_LONG = (
    ("MP4", "h264.mp4", "hour.mp4", ()),
    ("MOV", "h264.mp4", "hour.mov", ()),
    ("MP4 in fragments", "h264.mp4", "hour-fragments.mp4", ("-movflags", "+frag_keyframe+empty_moov")),
    ("MKV", "h264.mp4", "hour.mkv", ()),
    ("MKV without cues", "h264.mp4", "hour-piped.mkv", ("piped",)),
    ("WebM", "vp8.webm", "hour.webm", ()),
    ("AVI", "mpeg4.avi", "hour.avi", ()),
    ("TS", "h264.mp4", "hour.ts", ()),
)


def run(*words: str, into: Path | None = None) -> None:
    command = ("ffmpeg", "-v", "error", "-y", *words)
    if into is None:
        subprocess.run(command, check=True)
        return
    with into.open("wb") as file, subprocess.Popen(command, stdout=subprocess.PIPE) as piped:
        assert piped.stdout is not None
        while block := piped.stdout.read(1 << 20):  # a pipe cannot be gone back in, so no cues can be written
            file.write(block)


def made(folder: Path, short: str, name: str, options: tuple[str, ...]) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    source, path = folder / short, folder / name
    if not source.exists():
        run(*_SOURCE, *_SHORT[short], "-shortest", str(source))
    if not path.exists():
        repeated = ("-stream_loop", str(FRAMES // 500 - 1), "-i", str(source), "-c", "copy")
        if options == ("piped",):
            run(*repeated, "-f", "matroska", "-", into=path)
        else:
            run(*repeated, *options, str(path))
    return path


def least(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds of the processor and of the clock, the better of some turns."""
    best = (1e9, 1e9)
    for _ in range(TURNS):
        processor, clock = time.process_time(), time.perf_counter()
        work()
        best = min(best, (time.process_time() - processor, time.perf_counter() - clock))
    return best


def demuxed(path: Path) -> None:
    with open_container(path) as container:
        stream = picture_stream(container, path)
        _only(container, stream.index)
        for _ in container.demux(stream):
            pass


def main() -> int:
    print("| container | MB | seconds of processor (of the clock) | the demuxer alone |\n|---|---|---|---|")
    bad = 0
    for kind, short, name, options in _LONG:
        path = made(FOLDER / "hour", short, name, options)
        with path.open("rb") as file:
            while file.read(1 << 22):  # into memory: no disk is measured
                pass
        clip = open_clip(path, use_cache=False)
        bad += len(clip.index) != FRAMES or not clip.times_exact
        processor, clock = least(lambda p=path: open_clip(p, use_cache=False))  # type: ignore[misc]
        alone, _ = least(lambda p=path: demuxed(p))  # type: ignore[misc]
        told = "" if len(clip.index) == FRAMES else f" ({len(clip.index)} frames)"
        print(
            f"| {kind}{told} | {path.stat().st_size / 1e6:.0f} | {processor:.2f} ({clock:.2f}) | {alone:.2f} |",
            flush=True,
        )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
