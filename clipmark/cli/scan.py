"""The motion pass on one film, without a book: where her abdomen was drawn, tipped or twisted and then held.

The boxes file holds at least one box a shot, round her abdomen, in pixels of the picture as displayed:
  {"boxes": [{"time_s": 0.0, "x": 210, "y": 96, "w": 84, "h": 60}]}
What could not be watched is listed with its cause: silence there is no evidence.

With --fit the scorer is fitted again from the flags that were called in a record book, only so far as it then does no
worse on validation films that come with clipmark; the old parameters stay as they are:
  clipmark scan --fit pairings.book --out mine.json
  clipmark scan pairing.mp4 --boxes pairing.boxes.json --out flags.json --parameters mine.json

example: clipmark scan pairing.mp4 --boxes pairing.boxes.json --out flags.json --trace trace.csv
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.errors import ClipmarkError, WrongUsage

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.parameters import MotionParameters
    from clipmark.motion.result import Box, ScanResult, Ticks


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("clip", type=Path, nargs="?", help="the film file")
    parser.add_argument("--boxes", type=Path, help="outlines as JSON (docs/schemas/boxes.schema.json)")
    parser.add_argument("--out", type=Path, required=True, help="where the flags go, as JSON; - for standard output")
    parser.add_argument("--trace", type=Path, help="also write what was measured of every frame, as CSV")
    parser.add_argument("--all", action="store_true", help="add weaker candidates, marked as not flagged")
    parser.add_argument(
        "--where", choices=("moving",), help="search only where the survey saw something move; the rest is unwatched"
    )
    parser.add_argument("--parameters", default="", help="a version in models/pulls, or a parameters file")
    parser.add_argument("--fit", type=Path, metavar="BOOK", help="fit the scorer from the called flags of a book")
    parser.add_argument("--json", action="store_true", help="print the flags on standard output as well")


def run(arguments: argparse.Namespace) -> int:
    if arguments.fit:
        return _fit(arguments.fit, arguments.out, arguments.parameters)
    if arguments.clip is None or arguments.boxes is None:
        raise WrongUsage("A film and --boxes are needed. See clipmark scan --help.")
    return _scan(arguments)


class NameTaken(ClipmarkError):
    def __init__(self, name: str):
        super().__init__(
            f"There are parameters called “{name}” already, and flags may say that they came from them. "
            "Choose another name with --out."
        )


def _fit(book_path: Path, out: Path, parameters: str) -> int:
    from clipmark.book.store import Book
    from clipmark.motion.fit import refit
    from clipmark.motion.parameters import load, write
    from clipmark.motion.validation import load_validation
    from clipmark.report.exports.scan_file import called_flags
    from clipmark.resources import resource

    old = load(parameters)
    if out.exists() or (resource("models/pulls") / f"{out.stem}.json").exists() or out.stem == old.version:
        raise NameTaken(out.stem)
    with Book.open(book_path, read_only=True) as book:
        features, pulled = called_flags([book.session(row.id) for row in book.sessions()])
    new = refit(old, features, pulled, out.stem, load_validation())
    write(new.parameters, out)
    was, now = new.validation_before, new.validation_after
    print(
        f"{len(pulled)} called flags, {sum(pulled)} of them pulls: log loss {new.before:.3f} before, "
        f"{new.after:.3f} after."
    )
    print(
        f"Validation films: {was.found} of {was.pulls} pulls and {was.false} false flags before, {now.found} and "
        f"{now.false} after; log loss {was.loss:.3f} before, {now.loss:.3f} after."
    )
    print(new.said)
    print(f"Written to {out}; use it with --parameters {out}")
    return 0


def _scan(arguments: argparse.Namespace) -> int:
    import csv

    from clipmark.atomic_files import atomic_file
    from clipmark.cli.terminal import Bar
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.parameters import load
    from clipmark.motion.result import Ticks
    from clipmark.motion.scan import film_width, scan
    from clipmark.motion.whole_frames import on_whole_frames
    from clipmark.report.exports.scan_file import read_boxes, scan_document, trace_rows

    clip = open_clip(arguments.clip, Bar("reading the index"))
    boxes = read_boxes(arguments.boxes, clip)
    parameters = load(arguments.parameters)
    film = GreyFilm(clip, film_width(clip.width, clip.height, boxes))
    boxes = on_whole_frames(film, boxes)
    ticks = Ticks(clip.index.pts, int(clip.index.end_pts))
    result = _where_it_moves(clip, film, boxes, parameters, ticks) if arguments.where else None
    if result is None:
        result = scan(film, boxes, parameters, Bar("following"), ticks)
    text = json.dumps(scan_document(clip, result, arguments.all), indent=1, ensure_ascii=False) + "\n"
    if arguments.trace:
        header, rows = trace_rows(clip, result)
        with atomic_file(arguments.trace, newline="") as file:
            table = csv.writer(file)
            table.writerow(header)
            table.writerows(rows)
    if str(arguments.out) != "-":
        with atomic_file(arguments.out) as file:
            file.write(text)
    if arguments.json or str(arguments.out) == "-":
        sys.stdout.write(text)
    else:
        _tell(clip, result)
    return 0


def _where_it_moves(
    clip: Clip, film: GreyFilm, boxes: Sequence[Box], parameters: MotionParameters, ticks: Ticks
) -> ScanResult | None:
    """The pass over the stretches in which the survey saw something move; None where the survey cannot tell."""
    from clipmark.cli.terminal import Bar
    from clipmark.motion.scan import scan
    from clipmark.motion.survey.searched import Searched, told_what_was_searched
    from clipmark.report.kept_surveys import whole_survey

    survey = whole_survey(clip, Bar("looking where anything moves"))
    if not survey.tells:
        print("What moves in this film cannot be told beforehand; all of it is searched.", file=sys.stderr)
        return None
    part = Searched(film, survey.moving, [box.frame for box in boxes])
    return told_what_was_searched(scan(part, boxes, parameters, Bar("following"), ticks), part.inside)


def _tell(clip: Clip, result: ScanResult) -> None:
    from clipmark.motion.views_told import found_told, smallest_told
    from clipmark.timebase import clock

    index, seconds = clip.index, clip.index.seconds().tolist()
    found = [flag for flag in result.flags if flag.flagged]
    print(f"{len(found)} flag{'' if len(found) == 1 else 's'}, {result.frames_per_s:.0f} frames/s")
    for flag in found:
        onset = (flag.onset_pts - int(index.pts[0])) * index.time_base
        print(f"  {clock(onset)}  score {flag.score:.2f}  {flag.because}")
    for said in (*found_told(result.outlines, seconds), *smallest_told(result.sensitivity, seconds)):
        print(f"  {said}")
    for span in result.unwatched:
        end = seconds[span.end] if span.end < len(seconds) else seconds[-1]
        print(f"  not watched {clock(float(seconds[span.start]))} to {clock(float(end))}: {span.why}")
