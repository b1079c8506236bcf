"""The motion pass over many films: all clips of a book that have outlines and no pass yet, or a folder of films.

Of a book: results go into it, one after the other. Of a folder: beside each film NAME.mp4 lies NAME.boxes.json, and
NAME.flags.json is written beside it. What is done already is left alone, so a run that was stopped goes on where it
was; films that fail are listed at the end and tried again by the next run.

example: clipmark scan-many ~/pairings.book --jobs 2
         clipmark scan-many /media/films --jobs 4 --json
         clipmark scan-many ~/pairings.book --cluster tcp://192.168.1.5:8786
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.cli.listing import print_json
from clipmark.errors import ClipmarkError, WrongUsage
from clipmark.progress import Progress

if TYPE_CHECKING:
    from clipmark.many import Outcome

BOXES, FLAGS = ".boxes.json", ".flags.json"


class NothingThere(ClipmarkError):
    def __init__(self, path: Path):
        super().__init__(f"There is neither a book nor a folder at “{path}”. Check the name.")


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", type=Path, help="a book file, or a folder with films and their boxes files")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="films at a time (1); one process each")
    parser.add_argument("--cluster", metavar="ADDRESS", help="send the work to a Dask scheduler (extra “cluster”)")
    parser.add_argument("--again", action="store_true", help="also films whose pass was made by other parameters")
    parser.add_argument("--json", action="store_true", help="print what was done as JSON")


@dataclass(frozen=True, slots=True)
class Piece:
    """One film to pass over: a clip of the book as a small record of its session, or a film with its boxes file."""

    name: str
    clip_id: int = 0
    record: Any = None
    boxes: str = ""


def run(arguments: argparse.Namespace) -> int:
    if arguments.jobs < 1:
        raise WrongUsage("--jobs takes a number of 1 or more.")
    if arguments.what.is_dir():
        done, failed, left = _folder(arguments)
    elif arguments.what.is_file():
        done, failed, left = _book(arguments)
    else:
        raise NothingThere(arguments.what)
    if arguments.json:
        print_json({"done": done, "failed": failed, "left_alone": left})
    else:
        for one in done:
            print(f"done    {one['film']}: {one['flags']} flags")
        print(f"{len(done)} films done, {left} left alone, {len(failed)} failed")
    for one in failed:
        print(f"failed  {one['film']}: {one['why']}", file=sys.stderr)
    return 1 if failed else 0


Told = tuple[list[dict[str, Any]], list[dict[str, Any]], int]


def _outcomes(arguments: argparse.Namespace, work: Any, pieces: list[Piece]) -> Iterator[Outcome]:
    from clipmark.cli.terminal import Bar
    from clipmark.many import run_all, run_on_cluster

    bar = Bar(f"{len(pieces)} films")
    if not pieces:
        return iter(())
    if arguments.cluster:
        return run_on_cluster(work, pieces, arguments.cluster, bar)
    return run_all(work, pieces, arguments.jobs, bar)


# of a book ----------------------------------------------------------------------------------------------------


def pass_of_book(piece: Piece, progress: Progress) -> Any:
    """The motion pass of a clip of a book; runs in a process of its own or on a worker, without the book."""
    from clipmark.book.film.intake import run_pass
    from clipmark.media.clip import open_clip

    kept = piece.record.clip(piece.clip_id)
    clip = open_clip(kept.path)
    result = run_pass(clip, piece.record, kept, progress, threads=1)
    return result, clip.index.pts, int(clip.index.end_pts)


def _book(arguments: argparse.Namespace) -> Told:
    from clipmark.book.store import Book
    from clipmark.motion.parameters import load

    version = load().version
    done: list[dict[str, Any]] = []
    failed: list[dict[str, Any]] = []
    with Book.open(arguments.what) as book:
        pieces = [
            Piece(clip.path, clip.id, _small(record, clip.id))
            for record in (book.session(row.id) for row in sorted(book.sessions(), key=lambda row: row.id))
            for clip in sorted(record.clips, key=lambda clip: clip.id)
            if _wants_pass(record, clip.id, version, arguments.again)
        ]
        left = len(book.clips()) - len(pieces)
        for outcome in _outcomes(arguments, pass_of_book, pieces):
            piece = pieces[outcome.place]
            if outcome.trouble:
                failed.append({"clip": piece.clip_id, "film": piece.name, "why": outcome.trouble})
                continue
            result, pts, end_pts = outcome.result
            try:
                with book.together("keep a motion pass"):  # nobody else adds one between our look and our adding
                    record = book.session(book.session_of_clip(piece.clip_id))
                    wanted = _wants_pass(record, piece.clip_id, version, arguments.again)
                    kept = book.keep_pass(piece.clip_id, result, pts, end_pts) if wanted else None
                if kept is None:
                    left += 1  # another run or a window was first
                    continue
            except ClipmarkError as error:
                failed.append({"clip": piece.clip_id, "film": piece.name, "why": str(error)})
                continue
            flags = sum(flag.flagged for flag in result.flags)
            done.append({"clip": piece.clip_id, "film": piece.name, "pass": kept.id, "flags": flags})
    return done, failed, left


def _wants_pass(record: Any, clip_id: int, version: str, again: bool) -> bool:
    outlined = any(one.clip_id == clip_id and one.part == "abdomen" for one in record.outlines)
    current = [one for one in record.passes if one.clip_id == clip_id and one.current]
    return outlined and (not current or (again and current[-1].parameters != version))


def _small(record: Any, clip_id: int) -> Any:
    """The session with this clip and its outlines only: what has to travel."""
    from dataclasses import replace

    outlines = tuple(one for one in record.outlines if one.clip_id == clip_id)
    empty: dict[str, Any] = dict.fromkeys(
        ("shots", "acts", "marks", "passes", "flags", "older_flags", "spans", "calls", "outcomes", "reminders"), ()
    )
    return replace(record, clips=(record.clip(clip_id),), outlines=outlines, reviewed=(), **empty)


# of a folder --------------------------------------------------------------------------------------------------


def pass_of_file(piece: Piece, progress: Progress) -> Any:
    """The motion pass of a film with a boxes file: the scan document, or None where an equal one lies there."""
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.parameters import load
    from clipmark.motion.scan import film_width, scan
    from clipmark.motion.whole_frames import on_whole_frames
    from clipmark.report.exports.scan_file import read_boxes, scan_document

    clip = open_clip(Path(piece.name))
    boxes = read_boxes(Path(piece.boxes), clip)
    if _is_done(Path(piece.name), clip.fingerprint, load().version):
        return None
    film = GreyFilm(clip, film_width(clip.width, clip.height, boxes), 1)
    return scan_document(clip, scan(film, on_whole_frames(film, boxes), None, progress))


def _folder(arguments: argparse.Namespace) -> Told:
    from clipmark.atomic_files import atomic_file

    pieces = list(_films(arguments.what))
    if not pieces:
        raise WrongUsage(f"“{arguments.what}” holds no film with a boxes file NAME{BOXES} beside it.")
    done: list[dict[str, Any]] = []
    failed: list[dict[str, Any]] = []
    left = 0
    for outcome in _outcomes(arguments, pass_of_file, pieces):
        piece = pieces[outcome.place]
        if outcome.trouble:
            failed.append({"film": piece.name, "why": outcome.trouble})
        elif outcome.result is None:
            left += 1
        else:
            out = Path(piece.name).with_suffix(FLAGS)
            try:
                with atomic_file(out) as file:
                    file.write(json.dumps(outcome.result, indent=1, ensure_ascii=False) + "\n")
            except ClipmarkError as error:
                failed.append({"film": piece.name, "why": str(error)})
                continue
            flags = sum(flag["flagged"] for flag in outcome.result["flags"])
            done.append({"film": piece.name, "file": out, "flags": flags})
    return done, failed, left


def _films(folder: Path) -> Iterator[Piece]:
    """Films with a boxes file of the same name beside them, by path."""
    import os

    for root, folders, names in os.walk(folder.absolute()):
        folders.sort()
        stems = {name.removesuffix(BOXES) for name in names if name.endswith(BOXES)}
        for name in sorted(names):
            path = Path(root) / name
            if path.stem in stems and not name.endswith((BOXES, FLAGS, ".json")):
                yield Piece(str(path), boxes=str(path.with_suffix(BOXES)))


def _is_done(film: Path, fingerprint: str, version: str) -> bool:
    try:
        document = json.loads(film.with_suffix(FLAGS).read_text(encoding="utf-8"))
        return bool(document["clip"]["fingerprint"] == fingerprint and document["parameters"] == version)
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return False
