"""A film of four hours at 1080p, read beside one of half a minute with the same pictures: does length cost anything?

    python -m tests.benchmarks.four_hours [--hours 4]

The long film is made of the packets of the short one, again and again (about 1 Mbit/s, a keyframe every 250 frames).
Told are milliseconds of the processor and, in brackets, of the clock: the median, or the 95th of 100 where it says
p95. Steps are frames read one after the other; the window keeps frames ahead of them in store besides.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.reader import Reader
from tests.benchmarks.repeated import repeated

GROUP, RATE, SHORT = 250, 30, 3  # frames a group and a second, groups of the short film


def short_film(folder: Path) -> Path:
    path = folder / "short.mp4"
    seconds = SHORT * GROUP / RATE
    source = f"testsrc2=size=1920x1080:rate={RATE}:duration={seconds}"
    coded = (
        "-c:v", "libx264", "-preset", "veryfast", "-b:v", "1M", "-g", str(GROUP), "-sc_threshold", "0", "-bf", "2",
        "-pix_fmt", "yuv420p",
    )  # fmt: skip
    subprocess.run(("ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", source, *coded, str(path)), check=True)
    return path


def long_film(short: Path, hours: float) -> Path:
    """The short film so often that it lasts so long, without decoding."""
    return repeated(short, short.with_name("long.mp4"), round(hours * 3600 * RATE / (SHORT * GROUP)))


def taken(work: Callable[[], object]) -> tuple[float, float]:
    """Milliseconds of the processor, of the clock."""
    processor, clock = time.process_time(), time.perf_counter()
    work()
    return 1000 * (time.process_time() - processor), 1000 * (time.perf_counter() - clock)


def told(values: list[tuple[float, float]], share: float = 0.5) -> str:
    parts = [sorted(one)[min(int(share * len(one)), len(one) - 1)] for one in zip(*values, strict=True)]
    return f"{parts[0]:.1f} ({parts[1]:.1f})"


def read(path: Path, seed: int = 1) -> dict[str, str]:
    """The figures of one film."""
    rng, clips = random.Random(seed), list[Clip]()
    first = taken(lambda: clips.append(open_clip(path)))
    again = [taken(lambda: clips.append(open_clip(path))) for _ in range(3)]
    clip = clips[-1]
    length = len(clip.index)
    with Reader(clip, threads=1) as reader:
        # the same places in their groups in both films, since a frame late in its group costs more
        inside = [rng.randrange(GROUP) for _ in range(30)]
        places = [rng.randrange(length // GROUP) * GROUP + one for one in inside]
        previews = [taken(lambda at=at: reader.nearest_key(at)) for at in places]
        exact = [taken(lambda at=at: reader.frame(at)) for at in places[:8]]
        steps = []
        for start in places[:4]:
            reader.frame(start)
            steps += [taken(lambda at=at: reader.frame(at)) for at in range(start + 1, min(start + 100, length))]
    return {
        "frames": f"{length:,}",
        "opened for the first time": told([first]),
        "opened again": told(again),
        "jump: the keyframe before it": told(previews),
        "the same, p95": told(previews, 0.95),
        "jump: the exact frame": told(exact),
        "step": told(steps),
        "step, p95": told(steps, 0.95),
    }


def run(hours: float) -> None:
    with tempfile.TemporaryDirectory(dir=os.environ.get("CLIPMARK_FILM_CACHE")) as folder:
        os.environ["CLIPMARK_HOME"] = folder
        short = short_film(Path(folder))
        making = taken(lambda: long_film(short, hours))
        long = short.with_name("long.mp4")
        print(f"{hours:g} h, {long.stat().st_size / 1e9:.2f} GB, made in {making[1] / 1000:.0f} s\n")
        few, many = read(short), read(long)
    print("| ms of the processor (of the clock) | half a minute | the long film |\n|---|---|---|")
    for name, value in few.items():
        print(f"| {name} | {value} | {many[name]} |")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--hours", type=float, default=4)
    run(parser.parse_args().hours)
