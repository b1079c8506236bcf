"""How the window feels: medians and 95th percentiles of what a keeper waits for.

    python -m tests.benchmarks.feel                 offscreen
    xvfb-run -a python -m tests.benchmarks.feel     in a real window (set QT_QPA_PLATFORM=xcb)

Prints one line a figure: what, median, p95, n, bar, whether it is kept. Film: 1080p H.264 with a keyframe every 250
frames, made once and kept in the folder of CLIPMARK_BENCH (default: a folder of the system's own). Absolute times
belong to one machine; say which, and what else ran on it. "own work" is processor time of the window's thread alone,
which a busy machine does not stretch.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np

FOLDER = Path(os.environ.get("CLIPMARK_BENCH", Path(tempfile.gettempdir()) / "clipmark-bench"))


@dataclass(frozen=True, slots=True)
class Figure:
    what: str
    values: list[float]
    unit: str
    bar: float | None = None
    least: bool = False  # the bar is a least, not a most

    def line(self) -> str:
        ordered = sorted(self.values)
        middle = statistics.median(ordered)
        late = ordered[min(int(len(ordered) * 0.95), len(ordered) - 1)]
        early = ordered[int(len(ordered) * 0.05)]
        judged = early if self.least else late
        kept = "" if self.bar is None else ("kept" if (judged >= self.bar) == self.least else "NOT KEPT")
        bar = "" if self.bar is None else f"{'≥' if self.least else '<'} {self.bar:g}"
        tail = "p5" if self.least else "p95"
        spread = f"median {middle:8.1f} {tail} {judged:8.1f} {self.unit:<4} n {len(ordered):<4}"
        return f"{self.what:<62} {spread} {bar:<8} {kept}"


def full_hd(frames: int = 900) -> Path:
    """1080p30 H.264, a keyframe every 250 frames, two B-frames, about 10 Mbit/s: moving texture under noise."""
    import av
    import cv2

    path = FOLDER / f"hd-{frames}.mp4"
    if path.exists():
        return path
    FOLDER.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(1)
    cloth = cv2.GaussianBlur(rng.normal(128, 90, (1400, 2400, 3)).astype(np.float32), (0, 0), 3)
    cloth = np.clip((cloth - 128) * 4 + 128, 0, 255).astype(np.uint8)
    fresh = path.with_suffix(".part.mp4")
    with av.open(str(fresh), "w") as container:
        options = {"preset": "fast", "g": "250", "bf": "2", "sc_threshold": "0", "b": "10M"}
        stream = container.add_stream("libx264", rate=30, options=options)
        stream.width, stream.height, stream.pix_fmt, stream.bit_rate = 1920, 1080, "yuv420p", 10_000_000
        voice = container.add_stream("aac", rate=48000, layout="mono")
        for n in range(frames):
            y, x = int(100 + 90 * np.sin(n / 40)), int(200 + 180 * np.sin(n / 63))
            picture = np.ascontiguousarray(cloth[y : y + 1080, x : x + 1920])
            noise = rng.integers(0, 8, (1080, 1920, 1), np.uint8)
            frame = av.VideoFrame.from_ndarray(cv2.add(picture, np.repeat(noise, 3, axis=2)), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        tone = (0.2 * np.sin(np.arange(48000 * frames // 30) * 2 * np.pi * 440 / 48000) * 32767).astype(np.int16)
        for start in range(0, len(tone), 1024):
            part = av.AudioFrame.from_ndarray(tone[None, start : start + 1024], format="s16", layout="mono")
            part.sample_rate, part.pts, part.time_base = 48000, start, Fraction(1, 48000)
            container.mux(voice.encode(part))
        container.mux(voice.encode(None))
    fresh.rename(path)
    return path


class Stand:
    """A window over a fresh book, and ways to wait for it."""

    def __init__(self) -> None:
        self.home = Path(tempfile.mkdtemp(prefix="clipmark-feel-"))
        os.environ["CLIPMARK_HOME"] = str(self.home)
        import clipmark.window.main_window  # noqa: F401  imports are not part of "window up"
        from clipmark.settings import INTRODUCED, Settings
        from clipmark.window.app import make_application, open_window

        Settings().put(INTRODUCED, True)
        self.app = make_application()
        begun, own = time.perf_counter(), time.thread_time()
        self.window = open_window()
        self.window.resize(1280, 720)
        self.window.show()
        self.window.activateWindow()  # without a window manager nobody else does
        self.spin_until(lambda: self.window.isVisible() and self.window.page == "start")
        self.app.processEvents()
        self.up_ms, self.up_own_ms = (time.perf_counter() - begun) * 1000, (time.thread_time() - own) * 1000
        self.window.show_page("film")
        self.page: Any = self.window.pages["film"]

    def spin_until(self, done: Callable[[], bool], seconds: float = 60.0) -> None:
        end = time.perf_counter() + seconds
        while not done():
            self.app.processEvents()
            if time.perf_counter() > end:
                raise TimeoutError("the window did not get there")
            time.sleep(0.0005)  # as little polling as will do: it takes from the decoder

    def spin(self, seconds: float) -> None:
        end = time.perf_counter() + seconds
        while time.perf_counter() < end:
            self.app.processEvents()
            time.sleep(0.0005)

    def shown(self, number: int) -> bool:
        view = self.page.cameras.current
        return view.picture is not None and view.exact and view.picture.number == number

    def press(self, key: Any, modifiers: Any = None) -> None:
        from PySide6.QtCore import Qt
        from PySide6.QtTest import QTest

        QTest.keyClick(self.window, key, modifiers or Qt.KeyboardModifier.NoModifier)

    def painted(self) -> None:
        self.page.cameras.current.repaint()


def first_frame(stand: Stand, film: Path) -> list[Figure]:
    from clipmark.media.clip import open_clip

    open_clip(film)  # the index is made once a film and kept; what is measured is the second opening
    begun, own = time.perf_counter(), time.process_time()
    stand.window.add_films([film])
    stand.spin_until(lambda: stand.shown(0))
    stand.painted()
    took, work = (time.perf_counter() - begun) * 1000, (time.process_time() - own) * 1000
    name = "first frame after the film is given"
    return [Figure(name, [took], "ms", 300), Figure(f"{name}: work of all threads", [work], "ms")]


def steps(stand: Stand, way: int, start: int, count: int, pause: float) -> list[Figure]:
    """Key press to painted frame, at `1/pause` presses a second."""
    from PySide6.QtCore import Qt

    key = Qt.Key.Key_Right if way > 0 else Qt.Key.Key_Left
    stand.page.going.to_number(start)
    stand.spin_until(lambda: stand.shown(start))
    for warm in range(1, 4):
        stand.press(key)
        stand.spin_until(lambda w=warm: stand.shown(start + way * w))
    stand.spin(2.5)
    values, work, missed = [], [], 0
    number = start + way * 3
    for _ in range(count):
        number += way
        missed += not stand.page.player.source(stand.window.workspace.clip_id).ready(number)
        begun, own = time.perf_counter(), time.thread_time()
        stand.press(key)
        stand.spin_until(lambda n=number: stand.shown(n))
        stand.painted()
        values.append((time.perf_counter() - begun) * 1000)
        work.append((time.thread_time() - own) * 1000)
        stand.spin(max(pause - values[-1] / 1000, 0))
    name = f"step {'on' if way > 0 else 'back'}, warm, 1080p GOP 250, {1 / pause:.0f} presses a second"
    print(f"    of {count} frames {missed} were not decoded yet when they were asked for")
    return [Figure(name, values, "ms", 16), Figure(f"{name}: own work", work, "ms", 16)]


def timed_jump(stand: Stand, number: int) -> tuple[float, float, float, float]:
    """Milliseconds until the exact frame is painted, and until anything is; until then the window's own work, and
    that of all other threads."""
    seen: list[float] = []
    begun, own, work = time.perf_counter(), time.thread_time(), time.process_time()
    watch = stand.page.player.shown.connect(lambda *_: seen.append((time.perf_counter() - begun) * 1000))
    stand.page.going.to_number(number)
    stand.spin_until(lambda: stand.shown(number))
    stand.painted()
    took, own, work = (time.perf_counter() - begun), (time.thread_time() - own), (time.process_time() - work)
    stand.page.player.shown.disconnect(watch)
    return took * 1000, seen[0], own * 1000, (work - own) * 1000


def decoded(film: Path, key: int, pts: int) -> tuple[float, float]:
    """Milliseconds, by the clock and of work, that the library alone takes from a keyframe's tick to a frame's, in a
    file that is open already."""
    import av

    with av.open(str(film)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        next(container.decode(stream))
        begun, work = time.perf_counter(), time.process_time()
        container.seek(key, stream=stream)
        for frame in container.decode(stream):
            if frame.pts == pts:
                break
        return (time.perf_counter() - begun) * 1000, (time.process_time() - work) * 1000


def jumps(stand: Stand, film: Path, count: int) -> list[Figure]:
    """A jump anywhere, against decoding the same frame from its keyframe with nothing else going on; the better of
    two turns of each."""
    from clipmark.media.clip import open_clip

    index = open_clip(film).index
    keys = np.flatnonzero(index.keyframe)
    rng = np.random.default_rng(4)
    numbers = [int(n) for n in rng.integers(0, len(index), count)]
    took: dict[int, list[tuple[float, float, float, float]]] = {number: [] for number in numbers}
    alone: dict[int, list[tuple[float, float]]] = {number: [] for number in numbers}
    for number in (*numbers, *numbers):
        stand.window.workspace.cache.clear()
        took[number].append(timed_jump(stand, number))
        stand.spin(1.5)
        key = int(index.pts[keys[np.searchsorted(keys, number, side="right") - 1]])
        alone[number].append(decoded(film, key, int(index.pts[number])))
    least = [[min(turns) for turns in zip(*took[n], strict=True)] for n in took]
    bare = [[min(turns) for turns in zip(*alone[n], strict=True)] for n in took]
    over = [jump[0] - decoding[0] for jump, decoding in zip(least, bare, strict=True)]
    more = [jump[3] - decoding[1] for jump, decoding in zip(least, bare, strict=True)]
    own = [jump[2] for jump in least]
    preview = [jump[1] for jump in least]
    return [
        Figure("jump anywhere, beyond bare decoding from the keyframe", over, "ms", 30),
        Figure("jump anywhere, beyond bare decoding: work of decoding", more, "ms"),
        Figure("jump anywhere: own work", own, "ms"),
        Figure("jump anywhere, until something is shown", preview, "ms", 60),
    ]


def marks(stand: Stand, count: int, others: int) -> list[Figure]:
    """Key press until the mark is in the book (committed), with `others` marks already in the session."""
    from PySide6.QtCore import Qt

    values, work = [], []
    record = stand.window.workspace.record
    assert record is not None
    before = len(record.marks)
    for n in range(count):
        stand.page.going.to_number(10 + n)
        stand.spin_until(lambda k=10 + n: stand.shown(k))
        begun, own = time.perf_counter(), time.thread_time()
        stand.press(Qt.Key.Key_C)
        values.append((time.perf_counter() - begun) * 1000)
        work.append((time.thread_time() - own) * 1000)
        stand.app.processEvents()
    with_now = stand.window.workspace.book.session(record.session.id)
    assert len(with_now.marks) == before + count, "marks are missing"
    name = f"key press to mark in the book, {others} marks there"
    return [Figure(name, values, "ms", 10), Figure(f"{name}: own work", work, "ms", 10)]


class Blocks:
    """The longest time between two turns of the event loop, while something goes on."""

    def __init__(self, stand: Stand):
        self.stand = stand

    def while_(self, going: Callable[[], bool], each: Callable[[int], None]) -> list[tuple[float, float]]:
        """Turn lengths and own work in them, ms; `each` plays the keeper once in 30 ms."""
        gaps, turn, last = [], 0, time.perf_counter()
        due = last
        while going():
            begun, own = time.perf_counter(), time.thread_time()
            self.stand.app.processEvents()
            if time.perf_counter() >= due:
                each(turn)
                turn += 1
                due = time.perf_counter() + 0.03
            gaps.append(((time.perf_counter() - begun) * 1000, (time.thread_time() - own) * 1000))
            time.sleep(0.001)
        return gaps


def pass_blocks(stand: Stand, how: str) -> list[Figure]:
    """The event loop's turns while a pass runs (as a process, or in a thread for comparison) and the keeper steps."""
    from PySide6.QtCore import Qt

    from clipmark.book.film.intake import run_pass

    page, workspace = stand.page, stand.window.workspace
    clip, film, record = workspace.clip, workspace.film(workspace.clip_id), workspace.record
    state = {"on": True}
    if how == "process":
        page.passes.begin(clip)
        page.passes.kept.connect(lambda _: state.update(on=False))
        page.passes.ended.connect(lambda _: state.update(on=False))
    else:
        workspace.tasks.run(
            "pass", lambda p: run_pass(film, record, clip, p), lambda _: state.update(on=False),
            lambda e: (print(e), state.update(on=False))[1],
        )  # fmt: skip
    page.going.to_number(300)
    gaps = Blocks(stand).while_(lambda: state["on"], lambda _: stand.press(Qt.Key.Key_Right))
    name = f"turns of the interface while a pass runs ({how})"
    longest = [Figure(f"longest of {name}", [max(g for g, _ in gaps)], "ms", 50)]
    spread = [
        Figure(name, [g for g, _ in gaps], "ms", 50),
        Figure(f"{name}: own work", [w for _, w in gaps], "ms", 50),
    ]
    return [*longest, *spread]


def roll(stand: Stand, count: int, flags: int) -> Figure | None:
    """Frames a second of the log roll scrolled from end to end, with many marks and flags in the book."""
    drawn = getattr(stand.page.roll, "roll", None)
    if drawn is None:
        return None
    values = []
    bar = drawn.verticalScrollBar()
    drawn.zoom(20.0)
    top = bar.maximum()
    for n in range(150):
        begun = time.perf_counter()
        bar.setValue(top * n // 150)
        drawn.viewport().repaint()
        values.append(1 / (time.perf_counter() - begun))
    return Figure(f"roll scrolled, {count} marks and {flags} flags", values, "fps", 50, least=True)


def fill_book(stand: Stand, count: int, flags: int) -> None:
    """Many marks and flags, straight into the book."""
    from clipmark.book.model import Actor, FlagRecord, Mark

    workspace = stand.window.workspace
    clip, film = workspace.clip, workspace.film(workspace.clip_id)
    rng = np.random.default_rng(2)
    pts = film.index.pts
    workspace.book._db.execute("PRAGMA synchronous = OFF")  # only while the book is filled
    for act in ("push-up", "jerk"):
        for _ in range(count // 2):
            tick = int(pts[int(rng.integers(0, len(pts)))])
            workspace.book.add_mark(Mark(0, clip.id, act, Actor.HIM, tick, None, False, "bench"))
    for _ in range(flags):
        number = int(rng.integers(0, len(pts) - 10))
        onset, full = int(pts[number]), int(pts[number + 4])
        workspace.book.add_flag(
            FlagRecord(0, clip.id, None, onset, full, None, None, None, None, None, "by hand", by="bench")
        )
    workspace.book._db.execute("PRAGMA synchronous = EXTRA")
    workspace.refresh()


def sound_offset(stand: Stand, seconds: float = 6.0) -> Figure | None:
    """How far the frame on the screen is from the sound that is heard: 0 while the frame's own time is heard."""
    from clipmark.window.play.sound_out import can_sound

    player, workspace = stand.page.player, stand.window.workspace
    if not can_sound():
        print("    no sound output here: the offset of sound was not measured")
        return None
    clip, film = workspace.clip, workspace.film(workspace.clip_id)
    stand.page.going.to_number(30)
    stand.spin_until(lambda: stand.shown(30))
    player.play()
    stand.spin_until(lambda: player.hearing.sounding and (player.hearing.played_s() or 0) > 0.3)
    values = []
    end = time.perf_counter() + seconds
    while time.perf_counter() < end and player.running:
        stand.app.processEvents()
        number = player.shown_number(clip.id)
        if player.hearing.sounding and number is not None and number + 1 < len(film.index):
            heard = float(player._due() - clip.offset)
            from_s, to_s = (float(film.index.exact_seconds(n)) for n in (number, number + 1))
            values.append(max(from_s - heard, heard - to_s, 0.0) * 1000)
        time.sleep(0.001)
    player.pause()
    return Figure("picture against sound heard, at 1x", values, "ms", 40)


def memory_mib() -> float:
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer repetitions")
    parser.add_argument("--only", default="", help="letters: s steps, j jumps, m marks, p pass, r roll, a sound")
    options = parser.parse_args()
    wanted = options.only or "sjmpra"
    some = 30 if options.quick else 120
    film = full_hd()
    stand = Stand()
    load = os.getloadavg()[0]
    print(f"platform {stand.app.platformName()}, {os.cpu_count()} cores, load {load:.1f}, film {film.name}")
    figures: list[Figure] = []

    def tell(figure: Figure | None) -> None:
        if figure is not None:
            figures.append(figure)
            print(figure.line(), flush=True)

    tell(Figure("window up, after imports", [stand.up_ms], "ms", 1500))
    tell(Figure("window up, after imports: own work", [stand.up_own_ms], "ms", 1500))
    for figure in first_frame(stand, film):
        tell(figure)
    if "s" in wanted:
        for way, start, pause in ((+1, 260, 1 / 12), (-1, 700, 1 / 12), (+1, 260, 1 / 30), (-1, 740, 1 / 30)):
            for figure in steps(stand, way, start, some, pause):
                tell(figure)
    if "j" in wanted:
        for figure in jumps(stand, film, 6 if options.quick else 30):
            tell(figure)
    if "m" in wanted:
        for figure in marks(stand, 40, 0):
            tell(figure)
    if "p" in wanted:
        from clipmark.book.model import Outline

        clip = stand.window.workspace.clip
        stand.window.workspace.edit(
            stand.window.workspace.book.add_outline, Outline(0, clip.id, clip.first_pts, 800, 400, 300, 220)
        )
        for how in ("process", "thread"):
            for figure in pass_blocks(stand, how):
                tell(figure)
    if "a" in wanted:
        tell(sound_offset(stand))
    if "r" in wanted:
        fill_book(stand, 5000, 500)
        stand.spin(1.0)
        tell(roll(stand, 5000, 500))
        for figure in marks(stand, 20, 5000):
            tell(figure)
    limit = stand.window.workspace.cache.limit_bytes / 2**20
    tell(Figure("frames in the cache", [stand.window.workspace.cache.nbytes / 2**20], "MiB", limit + 0.001))
    tell(Figure("most memory of the whole process", [memory_mib()], "MiB"))
    stand.window.close()
    missed = [f for f in figures if "NOT KEPT" in f.line()]
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
