"""How much two processes are worth against one: copies of the sample session's film, passed over by `clipmark.many`.

    python -m tests.benchmarks.many [--films 4] [--rounds 1] [--jobs 1 2]

Prints for each number of processes wall time, processor time, and film time by wall time; and the ratio. Other work
on the machine falsifies the ratio: the load average is printed with it. Also prints what a pass weighs in the book.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

from clipmark.book.forms.traces import packed
from clipmark.cli.scan_many import Piece, pass_of_file
from clipmark.many import run_all
from clipmark.media.clip import open_clip
from clipmark.media.frames.grey import GreyFilm
from clipmark.motion.scan import film_width, scan
from clipmark.report.exports.scan_file import read_boxes
from clipmark.resources import resource


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=4)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--jobs", type=int, nargs="+", default=[1, 2])
    arguments = parser.parse_args()
    sample = resource("sample_media")
    clip = open_clip(sample / "pairing.mp4")
    length = float(clip.index.end_seconds())
    best: dict[int, float] = {}
    with tempfile.TemporaryDirectory() as room:
        pieces = []
        for number in range(arguments.films):
            film = Path(room) / f"{number}.mp4"
            shutil.copy(sample / "pairing.mp4", film)
            pieces.append(Piece(str(film), boxes=str(sample / "pairing.boxes.json")))
        size = f"{clip.width} x {clip.height}, {clip.size_bytes / 2**20:.1f} MiB"
        print(f"{arguments.films} films of {length:.1f} s, {size}")
        for round_ in range(arguments.rounds):
            for jobs in arguments.jobs:
                began, before = time.perf_counter(), os.times()
                outcomes = list(run_all(pass_of_file, pieces, jobs))
                took = time.perf_counter() - began
                busy = sum(os.times()[:4]) - sum(before[:4])
                assert not [one.trouble for one in outcomes if one.trouble]
                best[jobs] = min(took, best.get(jobs, took))
                print(
                    f"round {round_ + 1}, {jobs} processes: {took:6.1f} s wall, {busy:6.1f} s processor, "
                    f"{arguments.films * length / took:5.2f} s of film a second, load {os.getloadavg()[0]:.1f}"
                )
    first = arguments.jobs[0]
    for jobs in arguments.jobs[1:]:
        print(f"{first} -> {jobs} processes: {best[first] / best[jobs]:.2f} times as fast (best of each)")
    boxes = read_boxes(sample / "pairing.boxes.json", clip)
    result = scan(GreyFilm(clip, film_width(clip.width, clip.height, boxes)), boxes)
    frames, _, data = packed(result.trace)
    hourly = len(data) / 2**20 * 3600 / length
    print(f"trace in the book: {len(data) / frames:.1f} bytes a frame, {hourly:.2f} MiB an hour of film")


if __name__ == "__main__":
    main()
