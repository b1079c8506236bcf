"""How fast the motion pass is against bare decoding of the same file in the same run.

    python -m tests.benchmarks.speed                     # made film, 1920x1080 and 640x360
    python -m tests.benchmarks.speed FILM BOXES.json     # a film of yours
    python -m tests.benchmarks.speed --long              # memory: 2 hours of film against 10 minutes of the same

Bare decoding is `ffmpeg -f null` with its own choice of threads. Both are run in turn, three times each, and the
median is told; on a busy machine trust the ratio more than the frames a second.

`--long [WIDTHxHEIGHT [FPS]]` repeats a film of 20 s without decoding it, with an outline a minute, runs
`clipmark scan` with its trace on 10 minutes and on 2 hours of it, each as a program of its own, and tells the peak
memory of both. It takes the time of 130 minutes of film.
"""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = ((1920, 1080, "10M"), (640, 360, "1500k"))


def made(folder: Path, width: int, height: int, rate: str, seconds: int = 20, fps: int = 30) -> tuple[Path, Path]:
    """A textured oval swaying and jumping on textured ground, H.264, and its boxes file."""
    import cv2
    import numpy as np

    path = folder / f"speed-{width}.mp4"
    draw = np.random.default_rng(3)

    def texture(mean: float, spread: float) -> np.ndarray:
        rough = sum(
            cv2.resize(draw.normal(0, 1, (height // k, width // k)).astype(np.float32), (width, height))
            for k in (2, 8)
        )
        return mean + spread * rough / rough.std()

    ground, skin = texture(110, 18), texture(60, 12)
    long = height / 4.5
    y, x = np.mgrid[0:height, 0:width]
    oval = (((x - width / 2) / long) ** 2 + ((y - height / 2) / (0.7 * long)) ** 2 < 1).astype(np.float32)
    command = [
        "ffmpeg",
        "-v",
        "error",
        "-y",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "gray",
        "-s",
        f"{width}x{height}",
        "-r",
        str(fps),
    ]
    command += ["-i", "-", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-preset", "veryfast", "-b:v", rate, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as encoder:
        assert encoder.stdin is not None
        noise = draw.normal(0, 2, (height + 64, width + 64)).astype(np.float32)
        for i in range(0, 30 * seconds, 30 // fps):
            aside = 0.1 * long if (i // 60) % 2 else 0.0
            move = np.float64([[1, 0, aside], [0, 1, 0]])
            inside = cv2.warpAffine(oval, move, (width, height))
            picture = ground * (1 - inside) + cv2.warpAffine(skin, move, (width, height)) * inside
            sway = np.float64([[1, 0, 3 * np.sin(i / 9)], [0, 1, 2 * np.cos(i / 13)]])
            picture = cv2.warpAffine(picture, sway, (width, height), borderMode=cv2.BORDER_REFLECT)
            dx, dy = draw.integers(0, 64, 2)
            encoder.stdin.write(np.clip(picture + noise[dy : dy + height, dx : dx + width], 0, 255).astype(np.uint8))
    boxes = folder / f"speed-{width}.json"
    box = {"time_s": 0, "x": width / 2 - long, "y": height / 2 - 0.7 * long, "w": 2 * long, "h": 1.4 * long}
    boxes.write_text(json.dumps({"boxes": [box]}))
    return path, boxes


def measure(path: Path, boxes_path: Path, runs: int = 3) -> dict[str, float]:
    """Medians of frames a second, bare and with the pass, and the ratio."""
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.scan import film_width, scan
    from clipmark.report.exports.scan_file import read_boxes

    clip = open_clip(path)
    boxes = read_boxes(boxes_path, clip)
    bare, whole = [], []
    for _ in range(runs):
        began = time.perf_counter()
        subprocess.run(["ffmpeg", "-v", "error", "-i", str(path), "-an", "-f", "null", "-"], check=True)
        bare.append(len(clip.index) / (time.perf_counter() - began))
        began = time.perf_counter()
        scan(GreyFilm(clip, film_width(clip.width, clip.height, boxes)), boxes)
        whole.append(len(clip.index) / (time.perf_counter() - began))
    ratio = statistics.median(w / b for w, b in zip(whole, bare, strict=True))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"bare": statistics.median(bare), "pass": statistics.median(whole), "ratio": ratio, "peak_mib": peak}


# -- memory -------------------------------------------------------------------------------------------------------
def repeated(film: Path, times: int) -> Path:
    """The same film so many times over, its packets copied."""
    path = film.with_name(f"{film.stem}-{times}.mp4")
    command = [
        "ffmpeg",
        "-v",
        "error",
        "-y",
        "-stream_loop",
        str(times - 1),
        "-i",
        str(film),
        "-c",
        "copy",
        str(path),
    ]
    subprocess.run(command, check=True)
    return path


def peak(path: Path, boxes: Path) -> dict[str, float]:
    """Peak memory in MiB, seconds and flags of `clipmark scan` as a program of its own."""
    out = path.with_suffix(".flags.json")
    scan = [sys.executable, "-m", "clipmark", "scan", str(path), "--boxes", str(boxes), "--out", str(out)]
    scan += ["--trace", str(path.with_suffix(".csv"))]
    # the child of a child: what this process has taken before must not count
    tell = "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, capture_output=True); "
    tell += "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    began = time.perf_counter()
    run = subprocess.run([sys.executable, "-c", tell, *scan], check=True, capture_output=True, text=True)
    document = json.loads(out.read_text(encoding="utf-8"))
    return {
        "mib": int(run.stdout.split()[-1]) / 1024,
        "seconds": time.perf_counter() - began,
        "frames": document["clip"]["frames"],
        "flags": len(document["flags"]),
    }


def long(folder: Path, width: int, height: int, fps: int) -> None:
    film, first = made(folder, width, height, "1500k", fps=fps)
    (drawn,) = json.loads(first.read_text())["boxes"]
    found = []
    for minutes in (10, 120):
        path, boxes = repeated(film, minutes * 3), folder / "long.json"
        boxes.write_text(json.dumps({"boxes": [{**drawn, "time_s": 60 * k} for k in range(minutes)]}))
        found.append(peak(path, boxes))
        print(
            f"{width}x{height} at {fps}, {minutes} minutes, {found[-1]['frames']} frames: peak memory "
            f"{found[-1]['mib']:.0f} MiB, {found[-1]['flags']} flags, {found[-1]['seconds']:.0f} s",
            flush=True,
        )
        path.unlink()
    print(f"2 hours take {found[1]['mib'] / found[0]['mib']:.2f} times the memory of 10 minutes")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        if sys.argv[1:2] == ["--long"]:
            width, height = (int(side) for side in (sys.argv[2] if len(sys.argv) > 2 else "640x360").split("x"))
            return long(Path(folder), width, height, int(sys.argv[3]) if len(sys.argv) > 3 else 30)
        given = len(sys.argv) > 2
        films = [(Path(sys.argv[1]), Path(sys.argv[2]))] if given else [made(Path(folder), *size) for size in SIZES]
        for path, boxes in films:
            found = measure(path, boxes)
            print(
                f"{path.name}: bare decoding {found['bare']:.0f} frames/s, pass {found['pass']:.0f} frames/s, "
                f"ratio {found['ratio']:.2f}, peak memory {found['peak_mib']:.0f} MiB"
            )


if __name__ == "__main__":
    main()
