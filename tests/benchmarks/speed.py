"""How fast the motion pass is against bare decoding of the same file in the same run.

    python -m tests.benchmarks.speed                     # made film, 1920x1080 and 640x360
    python -m tests.benchmarks.speed FILM BOXES.json     # a film of yours

Bare decoding is `ffmpeg -f null` with its own choice of threads. Both are run in turn, three times each, and the
median is told; on a busy machine trust the ratio more than the frames a second.
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


def made(folder: Path, width: int, height: int, rate: str, seconds: int = 20) -> tuple[Path, Path]:
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
        "30",
    ]
    command += ["-i", "-", "-pix_fmt", "yuv420p", "-c:v", "libx264", "-preset", "veryfast", "-b:v", rate, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as encoder:
        assert encoder.stdin is not None
        noise = draw.normal(0, 2, (height + 64, width + 64)).astype(np.float32)
        for i in range(30 * seconds):
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
    from clipmark.media.grey import GreyFilm
    from clipmark.motion.scan import film_width, scan
    from clipmark.report.scan_file import read_boxes

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


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
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
