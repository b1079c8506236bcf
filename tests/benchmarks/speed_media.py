"""How quick film is read: ratios to bare decoding of the same file, taken in turns in the same run.

`python tests/benchmarks/speed_media.py [FILM]` (without a film one is made by ffmpeg: 1080p, groups of 250 frames).
Processor seconds are told beside the clock's, because other work on the machine moves the clock only.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.media.frames.reader import Reader
from clipmark.media.open_film import open_container, packets_of, picture_stream

FRAMES = 600  # of the film that are read in each turn
TURNS = 3


class Watch:
    """Seconds of the clock and of the processor that a block took."""

    clock = 0.0
    processor = 0.0


@contextmanager
def watched() -> Iterator[Watch]:
    watch = Watch()
    clock, processor = time.perf_counter(), time.process_time()
    yield watch
    watch.clock, watch.processor = time.perf_counter() - clock, time.process_time() - processor


def make_film(folder: Path) -> Path:
    """Moving noise in 1080p at about 10 Mbit/s, one keyframe in 250 frames."""
    path = folder / "film.mp4"
    source = "testsrc2=size=1920x1080:rate=30:duration=25,noise=alls=8:allf=t"
    coded = ("-c:v", "libx264", "-preset", "veryfast", "-b:v", "10M", "-g", "250", "-bf", "2", "-pix_fmt", "yuv420p")
    subprocess.run(("ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", source, *coded, str(path)), check=True)
    return path


def bare(clip: Clip) -> int:
    """Decode and do nothing else."""
    count = 0
    with open_container(clip.path) as container:
        stream = picture_stream(container, clip.path, clip.stream)
        stream.thread_type = "AUTO"
        for packet in packets_of(container, stream):
            for _ in stream.decode(packet):
                count += 1
                if count >= FRAMES:
                    return count
    return count


def read(clip: Clip) -> int:
    with Reader(clip) as reader:
        return sum(1 for _ in reader.pictures(0, FRAMES))


def grey(clip: Clip) -> int:
    return sum(1 for _ in GreyFilm(clip).frames(0, FRAMES))


def compare(clip: Clip) -> None:
    """Reading and the grey film against bare decoding, best of several turns."""
    ways: dict[str, Callable[[Clip], int]] = {"bare decoding": bare, "reading": read, "grey film": grey}
    best: dict[str, tuple[float, float]] = {}
    for _ in range(TURNS):
        for name, way in ways.items():
            with watched() as watch:
                count = way(clip)
            clock, processor = best.get(name, (9e9, 9e9))
            best[name] = min(clock, watch.clock / count), min(processor, watch.processor / count)
    for name, (clock, processor) in best.items():
        by_clock, by_processor = best["bare decoding"][0] / clock, best["bare decoding"][1] / processor
        print(
            f"{name:14} {1 / clock:7.1f} frames/s  {1000 * processor:6.2f} ms of processor a frame  "
            f"{by_clock:.2f} of bare decoding by the clock, {by_processor:.2f} by the processor"
        )


def told(name: str, seconds: list[float]) -> None:
    ordered = sorted(seconds)
    high = ordered[int(0.95 * (len(ordered) - 1))]
    print(f"{name:34} median {1000 * statistics.median(ordered):8.2f} ms   95 of 100 within {1000 * high:8.2f} ms")


def steps(clip: Clip) -> None:
    """Stepping and jumping without any cache, and backwards by blocks of frames decoded ahead of need."""
    middle = min(len(clip.index) // 2, 300)
    with Reader(clip) as reader:
        reader.frame(middle)
        told("a step forward", [_timed(lambda n=n: reader.frame(n)) for n in range(middle + 1, middle + 121)])
    with Reader(clip, quick=True) as reader:
        told(
            "a step back by decoding anew",
            [_timed(lambda n=n: reader.frame(n)) for n in range(middle, middle - 8, -1)],
        )
        spots = [(n * 7919) % len(clip.index) for n in range(1, 13)]
        told("a jump to the exact frame", [_timed(lambda n=n: reader.frame(n)) for n in spots])
        told("a jump to the nearest keyframe", [_timed(lambda n=n: reader.nearest_key(n)) for n in spots])
    with Reader(clip) as reader, watched() as watch:
        block = list(reader.pictures(max(middle - 60, 0), middle))
    print(f"{'a block of ' + str(len(block)) + ' frames backwards':34} {1000 * watch.clock:8.1f} ms, then each step")
    picture = block[-1]
    size = (1280, round(1280 * picture.height / picture.width))
    told("a frame at hand, drawn 1280 wide", [_timed(lambda p=p: p.bgra(*size)) for p in block])


def _timed(work: Callable[[], object]) -> float:
    with watched() as watch:
        work()
    return watch.clock


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[1]) if len(sys.argv) > 1 else make_film(Path(folder))
        with watched() as watch:
            clip = open_clip(path, use_cache=False)
        print(f"{clip.width}x{clip.height} {clip.codec}, {len(clip.index)} frames, {clip.size_bytes / 1e6:.0f} MB")
        print(
            f"index          {1000 * watch.clock:.0f} ms by the clock, {1000 * watch.processor:.0f} ms of processor"
        )
        compare(clip)
        steps(clip)


if __name__ == "__main__":
    main()
