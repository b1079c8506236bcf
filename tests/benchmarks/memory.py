"""How much memory the motion pass takes an hour of film.

    python -m tests.benchmarks.memory [FRAMES]

A made film is fed without decoding (320x240, a pull every eight seconds, one outline); the memory of the process is
read while the pass goes on. Told are the slope, by least squares over the second half of the film, and the most that
the process took. What is set aside for all frames at the beginning is only in the latter: run it for two lengths and
compare. The index of a real film comes on top. Needs Linux (`/proc`).
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import numpy as np

from clipmark.motion.scan import scan
from tests.motion.test_scan import BOX, MadeFilm

PAGE = os.sysconf("SC_PAGE_SIZE")
MIB = 2.0**20


class Long:
    """Eight seconds of made film, over and over."""

    width, height = 320, 240

    def __init__(self, frames: int):
        self._pictures = [picture for _, picture in MadeFilm(onset=2.0, release=5.0, pull=0.12).frames()]
        self.times = np.arange(frames) / 25

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, np.ndarray]]:
        stop = len(self.times) if stop is None else min(stop, len(self.times))
        for number in range(start, stop):
            yield number, self._pictures[number % len(self._pictures)]


class Noted:
    """A Progress that reads the memory of the process."""

    def __init__(self) -> None:
        self.at: list[tuple[int, float]] = []

    def advance(self, done: int, total: int) -> None:
        if done % 100 == 0:
            self.at.append((done, int(Path("/proc/self/statm").read_text().split()[1]) * PAGE))


def main() -> None:
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 12_000
    film, noted = Long(frames), Noted()
    scan(Long(400), [BOX])  # what is loaded once
    before, began = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, time.process_time()
    result = scan(film, [BOX], progress=noted)
    took = time.process_time() - began
    late = [(done, taken) for done, taken in noted.at if done > frames / 2]
    slope = float(np.polyfit([done for done, _ in late], [taken for _, taken in late], 1)[0])
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    arrays = sum(getattr(result.trace, field.name).nbytes for field in fields(result.trace))
    hour = slope * 108_000 / MIB
    flags = sum(flag.flagged for flag in result.flags)
    print(f"{frames} frames, {flags} flags, trace {arrays / frames:.0f} bytes a frame")
    print(f"while reading {slope:.0f} bytes a frame more: {hour:.1f} MiB an hour at 30 frames a second")
    each = 1000 * took / frames
    print(f"{before:.0f} MiB before, {peak:.0f} MiB at most; {each:.2f} ms of processor a frame")


if __name__ == "__main__":
    main()
