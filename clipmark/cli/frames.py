"""The frame index of a film as CSV: each frame that exists, and when.

Columns: number (from 0), pts (ticks as the file counts them), seconds (from the first frame), keyframe (1 or 0).

example: clipmark frames pairing.mp4 --csv frames.csv
"""

from __future__ import annotations

import argparse
from pathlib import Path


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("clip", type=Path, help="the film file")
    parser.add_argument("--csv", type=Path, required=True, help="where the table goes; - for standard output")


def run(arguments: argparse.Namespace) -> int:
    import sys

    from clipmark.atomic_files import atomic_file
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip

    clip = open_clip(arguments.clip, Bar("reading the index"))
    if str(arguments.csv) == "-":
        _write(clip.index, sys.stdout)
    else:
        with atomic_file(arguments.csv, newline="") as file:
            _write(clip.index, file)
        print(f"{len(clip.index)} frames in “{arguments.csv}”")
    for note in clip.notes:
        print(note, file=sys.stderr)
    return 0


def _write(index, file) -> None:  # type: ignore[no-untyped-def]
    import csv

    table = csv.writer(file)
    table.writerow(("number", "pts", "seconds", "keyframe"))
    for number, (pts, keyframe) in enumerate(zip(index.pts.tolist(), index.keyframe.tolist(), strict=True)):
        table.writerow((number, pts, decimal_seconds(index.exact_seconds(number)), int(keyframe)))


def decimal_seconds(seconds) -> str:  # type: ignore[no-untyped-def]
    """Exact seconds with nine decimals: finer than any clock that films are made with."""
    ticks = round(seconds * 10**9)
    return f"{ticks // 10**9}.{ticks % 10**9:09d}"
