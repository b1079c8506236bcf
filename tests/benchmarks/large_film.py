"""How film of 4K feels on this machine: everything as a ratio to bare decoding of the same film in the same run.

    python -m tests.benchmarks.large_film [FILM]

Without a film one is made (and kept in the folder of CLIPMARK_BENCH): 3840x2160 HEVC, 25 frames a second, 12 s, a
keyframe every 50 frames, B-frames, no slices and no wavefronts, as cameras write it. Prints for the media layer and
for the window: stepping, a step key held down, jumps, how soon a frame is there in full, running at 1x. The clock is
stretched by whatever else runs; "work" is processor time, of the whole process without the window's own thread.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np

from clipmark.media.clip import Clip, open_clip
from clipmark.media.frames.reader import Reader
from clipmark.media.open_film import open_container, packets_of, picture_stream
from tests.benchmarks.feel import FOLDER, Stand, first_frame, memory_mib
from tests.benchmarks.repeated import repeated

FRAMES = 60  # that are decoded to see what bare decoding takes
GROUP, GROUPS = 50, 6

Alone = Callable[[], tuple[float, float]]  # what `bare` gives, measured about now


def large_film() -> Path:
    """One group of moving texture under noise, coded once and repeated."""
    import av
    import cv2

    path = FOLDER / f"uhd-{GROUP * GROUPS}.mp4"
    if path.exists():
        return path
    FOLDER.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(1)
    cloth = cv2.GaussianBlur(rng.normal(128, 90, (2600, 4400)).astype(np.float32), (0, 0), 3)
    cloth = np.clip((cloth - 128) * 4 + 128, 0, 255).astype(np.uint8)
    noises = [rng.integers(0, 8, (2160, 3840), np.uint8) for _ in range(5)]
    one = path.with_suffix(".one.mp4")
    params = (
        f"log-level=none:keyint={GROUP}:min-keyint={GROUP}:scenecut=0:bframes=3:open-gop=0:sao=1:wpp=0"
        ":frame-threads=2:qp=21"
    )
    with av.open(str(one), "w") as container:
        stream = container.add_stream("libx265", rate=25, options={"preset": "ultrafast", "x265-params": params})
        stream.width, stream.height, stream.pix_fmt = 3840, 2160, "yuv420p"
        for n in range(GROUP):
            y, x = int(200 + 180 * np.sin(n / 40)), int(270 + 250 * np.sin(n / 63))
            lit = cv2.add(np.ascontiguousarray(cloth[y : y + 2160, x : x + 3840]), noises[n % 5])
            grey = av.VideoFrame.from_ndarray(lit, format="gray")
            frame = grey.reformat(format="yuv420p")
            frame.pts = n
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    fresh = path.with_suffix(".part.mp4")
    repeated(one, fresh, GROUPS)
    one.unlink()
    fresh.rename(path)
    return path


def watched() -> tuple[float, float]:
    """Now by the clock, and by the processor without the calling thread; in seconds."""
    return time.perf_counter(), time.process_time() - time.thread_time()


def bare(clip: Clip) -> tuple[float, float]:
    """Seconds a frame of decoding and nothing else: by the clock, by the processor."""
    begun, work = time.perf_counter(), time.process_time()
    count = 0
    with open_container(clip.path) as container:
        stream = picture_stream(container, clip.path, clip.stream)
        stream.thread_type = "AUTO"
        for packet in packets_of(container, stream):
            count += sum(1 for _ in stream.decode(packet))
            if count >= FRAMES:
                break
    return (time.perf_counter() - begun) / count, (time.process_time() - work) / count


def media_layer(clip: Clip) -> None:
    """Reading on, reading and shrinking, and the way to a frame far from its keyframe, against bare decoding."""
    ways: dict[str, list[tuple[float, float]]] = {"bare decoding": [], "reading": [], "reading and shrinking": []}
    for _ in range(2):
        ways["bare decoding"].append(bare(clip))
        for name in ("reading", "reading and shrinking"):
            begun, work = time.perf_counter(), time.process_time()
            with Reader(clip) as reader:
                for picture in reader.pictures(0, FRAMES):
                    if name == "reading and shrinking":
                        picture.shrunk(1280)
            ways[name].append(((time.perf_counter() - begun) / FRAMES, (time.process_time() - work) / FRAMES))
    least = {name: [min(column) for column in zip(*found, strict=True)] for name, found in ways.items()}
    alone = least["bare decoding"]
    for name, (clock, work) in least.items():
        print(
            f"{name:34} {1000 * clock:6.1f} ms by the clock, {1000 * work:6.1f} ms of work a frame: "
            f"{clock / alone[0]:.2f} and {work / alone[1]:.2f} of bare decoding"
        )
    far = GROUP - 2
    with Reader(clip) as reader:
        reader.frame(0)
        ratios = []
        for start in (GROUP, 3 * GROUP, 2 * GROUP):
            work = time.process_time()
            reader.frame(start + far)
            ratios.append((time.process_time() - work) / (far + 1) / alone[1])
    print(f"{f'a frame {far} behind its keyframe':34} {statistics.median(ratios):.2f} of the work of bare decoding")


def told(name: str, values: list[float], unit: str = "ms") -> None:
    ordered = sorted(values)
    late = ordered[min(int(len(ordered) * 0.95), len(ordered) - 1)]
    print(f"{name:58} median {statistics.median(ordered):8.1f}  p95 {late:8.1f} {unit}  n {len(ordered)}", flush=True)


def steps(stand: Stand, way: int, start: int, count: int) -> None:
    """Twelve presses a second: from the press to the painted frame."""
    from PySide6.QtCore import Qt

    key = Qt.Key.Key_Right if way > 0 else Qt.Key.Key_Left
    stand.page.going.to_number(start)
    stand.spin_until(lambda: stand.shown(start))
    stand.press(key)
    stand.spin_until(lambda: stand.shown(start + way))
    stand.spin(4.0)
    values, waited = [], 0
    for n in range(2, count + 2):
        number = start + way * n
        waited += not stand.page.player.source(stand.window.workspace.clip_id).ready(number)
        begun = time.perf_counter()
        stand.press(key)
        stand.spin_until(lambda k=number: stand.shown(k))
        stand.painted()
        values.append((time.perf_counter() - begun) * 1000)
        stand.spin(max(1 / 12 - values[-1] / 1000, 0))
    told(f"step {'on' if way > 0 else 'back'}, 12 a second ({waited} were not decoded yet)", values)


def held(stand: Stand, way: int, start: int, seconds: float, alone: Alone) -> None:
    """A step key held down, 30 repeats a second: frames that reach the screen, and the longest standstill."""
    from PySide6.QtCore import Qt

    key = Qt.Key.Key_Right if way > 0 else Qt.Key.Key_Left
    player = stand.page.player
    stand.window.workspace.cache.clear()
    stand.page.going.to_number(start)
    stand.spin_until(lambda: stand.shown(start))
    came: list[tuple[float, int]] = []
    watch = player.shown.connect(lambda _, p, exact: came.append((time.perf_counter(), p.number)) if exact else None)
    player.key_held = lambda: True
    begun, work = watched()
    while time.perf_counter() < begun + seconds:
        stand.press(key)
        stand.spin(1 / 30)
    clock, work = (now - then for now, then in zip(watched(), (begun, work), strict=True))
    player.key_held = lambda: False
    player.shown.disconnect(watch)
    numbers, place = {number for _, number in came}, player.number()
    clock_alone, work_alone = alone()
    times = [begun, *(at for at, _ in came), begun + seconds]
    longest = max(b - a for a, b in pairwise(times))
    print(
        f"{f'step key held, {chr(43) if way > 0 else chr(8722)}':58} {len(numbers) / clock:6.1f} frames/s on the "
        f"screen, {len(numbers) / clock * clock_alone:.2f} of bare decoding's rate by the clock; "
        f"longest standstill {1000 * longest:.0f} ms; place {abs(place - start)} frames on, "
        f"{work / max(len(numbers), 1) / work_alone:.2f} of bare decoding's work a frame",
        flush=True,
    )
    stand.spin(1.0)


def jumps(stand: Stand, clip: Clip, count: int, alone: Alone) -> None:
    """Anywhere: until something is shown, and the exact frame, against decoding it from its keyframe alone."""
    rng = np.random.default_rng(4)
    first, exact, over = [], [], []
    for number in (int(n) for n in rng.integers(0, len(clip.index), count)):
        stand.window.workspace.cache.clear()
        seen: list[float] = []
        begun = time.perf_counter()
        watch = stand.page.player.shown.connect(lambda *_, s=seen, b=begun: s.append(time.perf_counter() - b))
        stand.page.going.to_number(number)
        stand.spin_until(lambda n=number: stand.shown(n))
        took = time.perf_counter() - begun
        stand.page.player.shown.disconnect(watch)
        first.append(seen[0] * 1000)
        exact.append(took * 1000)
        stand.spin(2.0)
        over.append(took / (alone()[0] * (number % GROUP + 1)))
    told("jump anywhere, until something is shown", first)
    told("jump anywhere, until the exact frame is shown", exact)
    told("  the same as a ratio to decoding it from its keyframe", over, "×")


def still(stand: Stand, numbers: tuple[int, ...], alone: Alone) -> None:
    """From the last of some steps until the frame is there in full."""
    from PySide6.QtCore import Qt

    values, ratios = [], []
    for start in numbers:
        stand.page.going.to_number(start)
        stand.spin_until(lambda n=start: stand.shown(n))
        stand.spin(3.0)
        for n in range(1, 11):
            stand.press(Qt.Key.Key_Right)
            stand.spin_until(lambda k=start + n: stand.shown(k))
        begun = time.perf_counter()
        view = stand.page.cameras.current
        stand.spin_until(lambda v=view: not getattr(v.picture, "reduced", False))
        values.append((time.perf_counter() - begun) * 1000)
        ratios.append(values[-1] / 1000 / (alone()[0] * ((start + 10) % GROUP + 1)))
    told("ten steps, then still: until the frame is there in full", values)
    told("  the same as a ratio to decoding it from its keyframe", ratios, "×")


def running(stand: Stand, seconds: float, speed: int, alone: Alone) -> None:
    """Frames on the screen and film seconds a second, from a place with nothing decoded ahead."""
    player = stand.page.player
    stand.page.going.to_number(0)
    stand.spin_until(lambda: stand.shown(0))
    stand.window.workspace.cache.clear()
    stand.page.going.to_number(10)
    stand.spin_until(lambda: stand.shown(10))
    came: set[int] = set()
    watch = player.shown.connect(lambda _, p, exact: came.add(p.number) if exact else None)
    player.set_speed(Fraction(speed))
    player.play()
    begun, work = watched()
    place = player.place
    while player.running and time.perf_counter() < begun + seconds:
        stand.spin(0.05)
    clock, work = (now - then for now, then in zip(watched(), (begun, work), strict=True))
    reached = float(player.place - place) / clock
    player.pause()
    player.shown.disconnect(watch)
    clock_alone, work_alone = alone()
    print(
        f"{f'running at {speed}×':58} {len(came) / clock:6.1f} frames/s on the screen, {reached:.2f} film seconds a "
        f"second; bare decoding gives {1 / clock_alone:.1f} frames/s; {work / max(len(came), 1) / work_alone:.2f} of "
        "its work a frame",
        flush=True,
    )


def main() -> int:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else large_film()
    clip = open_clip(path)
    print(
        f"{path.name}: {clip.width}x{clip.height} {clip.codec}, {len(clip.index)} frames, {clip.size_bytes >> 20} MiB"
    )
    media_layer(clip)
    stand = Stand()
    for figure in first_frame(stand, path):
        print(figure.line())
    before = bare(clip)

    def alone() -> tuple[float, float]:
        """Bare decoding about now: what else runs on the machine changes."""
        nonlocal before
        now = bare(clip)
        then, before = before, now
        return (then[0] + now[0]) / 2, (then[1] + now[1]) / 2

    steps(stand, +1, 60, 40)
    steps(stand, -1, 230, 40)
    held(stand, +1, 20, 4.0, alone)
    held(stand, -1, 290, 4.0, alone)
    jumps(stand, clip, 8, alone)
    still(stand, (105, 225), alone)
    running(stand, 5.0, 1, alone)
    running(stand, 5.0, 8, alone)
    cache = stand.window.workspace.cache
    print(f"{len(cache)} pictures held, {cache.nbytes >> 20} MiB; most memory of the process {memory_mib():.0f} MiB")
    stand.window.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
