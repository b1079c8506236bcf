"""The motion pass over many films: all clips of a book that have outlines and no pass yet, or a folder of films.

Of a book: results go into it, one after the other. Of a folder: beside each film NAME.mp4 lies NAME.boxes.json, and
NAME.flags.json is written beside it. What is done already is left alone, so a run that was stopped goes on where it
was; films that fail are listed at the end and tried again by the next run.

example: clipmark scan-many ~/pairings.book --jobs 2
         clipmark scan-many /media/films --jobs 4 --json
         clipmark scan-many ~/pairings.book --cluster tls://192.168.1.5:8786 \\
             --tls-ca-file cert.pem --tls-cert cert.pem --tls-key key.pem
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
    from clipmark.book.model import SessionRecord
    from clipmark.book.store import Book
    from clipmark.many import Outcome
    from clipmark.motion.result import ScanResult
    from clipmark.review.pass_files import Job

BOXES, FLAGS = ".boxes.json", ".flags.json"


class NothingThere(ClipmarkError):
    def __init__(self, path: Path):
        super().__init__(f"There is neither a book nor a folder at “{path}”. Check the name.")


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", type=Path, help="a book file, or a folder with films and their boxes files")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="films at a time (1); one process each")
    parser.add_argument("--cluster", metavar="ADDRESS", help="send the work to a Dask scheduler (extra “cluster”)")
    parser.add_argument("--tls-ca-file", default="", metavar="FILE", help="whom to trust in the cluster")
    parser.add_argument("--tls-cert", default="", metavar="FILE", help="the certificate of this machine")
    parser.add_argument("--tls-key", default="", metavar="FILE", help="the key of this machine")
    parser.add_argument("--again", action="store_true", help="also films whose pass was made by other parameters")
    parser.add_argument("--json", action="store_true", help="print what was done as JSON")


@dataclass(frozen=True, slots=True)
class Piece:
    """One film to pass over; `text` is what its process or its worker is told."""

    name: str
    text: str
    clip_id: int = 0


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
    from clipmark.many import Tls, run_all, run_on_cluster

    bar = Bar(f"{len(pieces)} films")
    if not pieces:
        return iter(())
    texts = [piece.text for piece in pieces]
    if arguments.cluster:
        tls = Tls(arguments.tls_ca_file, arguments.tls_cert, arguments.tls_key)
        return run_on_cluster(work, texts, arguments.cluster, bar, tls)
    return run_all(work, texts, arguments.jobs, bar)


# of a book ----------------------------------------------------------------------------------------------------


def _book(arguments: argparse.Namespace) -> Told:
    from clipmark.book.store import Book
    from clipmark.motion.parameters import load
    from clipmark.review import many_passes

    with Book.open(arguments.what) as book:
        keeping = _Keeping(book, load().version, arguments.again)
        keeping.left_over()
        pieces = keeping.pieces()
        left = len(book.clips()) - len(pieces) - len(keeping.done)
        work = many_passes.computed if arguments.cluster else many_passes.computed_and_left
        for outcome in _outcomes(arguments, work, pieces):
            keeping.outcome(pieces[outcome.place], outcome)
        keeping.last_try()
        return keeping.done, keeping.failed, left + keeping.overtaken


class _Keeping:
    """Passes on their way into a book: a finished one is a file until the book has it."""

    def __init__(self, book: Book, version: str, again: bool):
        self._book, self._version, self._again = book, version, again
        self._waiting: list[tuple[Piece, Path, Job]] = []
        self.done: list[dict[str, Any]] = []
        self.failed: list[dict[str, Any]] = []
        self.overtaken = 0  # clips that got their pass from another run or a window

    def left_over(self) -> None:
        """Take in what an earlier run or a closed window had finished."""
        from clipmark.review.taking_in import left_over

        for folder, job in left_over(self._book.path):
            self._take_in(Piece(job.title, "", job.clip_id), folder, job)

    def pieces(self) -> list[Piece]:
        """The clips that want a pass, by number."""
        from clipmark.review.many_passes import piece

        return [
            Piece(clip.path, piece(self._book.path, record, clip.id), clip.id)
            for record in (self._book.session(row.id) for row in sorted(self._book.sessions(), key=lambda r: r.id))
            for clip in sorted(record.clips, key=lambda clip: clip.id)
            if _wants_pass(record, clip.id, self._version, self._again)
        ]

    def outcome(self, piece: Piece, outcome: Outcome) -> None:
        """Keep what came of a piece."""
        from clipmark.review.pass_files import read_job

        if outcome.trouble:
            self._fail(piece, outcome.trouble)
        elif isinstance(outcome.result, str):
            folder = Path(outcome.result)
            job = read_job(folder)
            if job is not None:
                self._take_in(piece, folder, job)
            else:
                self.overtaken += 1  # another process took it in already
        else:
            self._take_in_data(piece, outcome.result)

    def last_try(self) -> None:
        """Offer once more what the book could not take; what it does not take now waits for the next start."""
        for piece, folder, job in self._waiting:
            self._take_in(piece, folder, job, last=True)

    def _take_in(self, piece: Piece, folder: Path, job: Job, last: bool = False) -> None:
        from clipmark.review.taking_in import take_in

        taken = take_in(self._book, folder, job)
        if taken is None:
            self.overtaken += 1
        elif not taken.over and not last:
            self._waiting.append((piece, folder, job))
        elif not taken.over:
            self._fail(piece, f"{taken.trouble} The finished pass is kept and comes into the book at the next start.")
        elif taken.trouble is not None:
            self._fail(piece, str(taken.trouble))
        elif taken.kept is None or taken.result is None:
            self.overtaken += 1
        else:
            self._did(piece, taken.kept.id, taken.result)

    def _take_in_data(self, piece: Piece, data: bytes) -> None:
        """Keep a pass that comes from another machine, or for which the disk had no room: a file as well if the book
        does not take it."""
        from clipmark.review.many_passes import found_in
        from clipmark.review.pass_files import Job
        from clipmark.review.taking_in import FOR_A_WHILE, leave

        result = found_in(data)
        try:
            with self._book.together("keep a motion pass"):  # nobody else adds one between our look and our adding
                record = self._book.session(self._book.session_of_clip(piece.clip_id))
                wanted = _wants_pass(record, piece.clip_id, self._version, self._again)
                kept = self._book.keep_pass(piece.clip_id, result) if wanted else None
        except FOR_A_WHILE as error:
            job = Job(**json.loads(piece.text)["job"])
            try:
                self._waiting.append((piece, leave(job, result), job))
            except OSError:
                self._fail(piece, f"{error} There is no room to keep the finished pass either.")
            return
        except ClipmarkError as error:
            return self._fail(piece, str(error))
        if kept is None:
            self.overtaken += 1
        else:
            self._did(piece, kept.id, result)

    def _did(self, piece: Piece, number: int, result: ScanResult) -> None:
        flags = sum(flag.flagged for flag in result.flags)
        self.done.append({"clip": piece.clip_id, "film": piece.name, "pass": number, "flags": flags})

    def _fail(self, piece: Piece, why: str) -> None:
        self.failed.append({"clip": piece.clip_id, "film": piece.name, "why": why})


def _wants_pass(record: SessionRecord, clip_id: int, version: str, again: bool) -> bool:
    outlined = any(one.clip_id == clip_id and one.part == "abdomen" for one in record.outlines)
    current = [one for one in record.passes if one.clip_id == clip_id and one.current]
    return outlined and (not current or (again and current[-1].parameters != version))


# of a folder --------------------------------------------------------------------------------------------------


def pass_of_file(text: str, progress: Progress) -> str:
    """The motion pass of a film with a boxes file: the scan document as JSON, empty where an equal one lies there."""
    from clipmark.media.clip import open_clip
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.parameters import load
    from clipmark.motion.result import Ticks
    from clipmark.motion.scan import film_width, scan
    from clipmark.motion.whole_frames import on_whole_frames
    from clipmark.report.exports.scan_file import read_boxes, scan_document

    path = Path(json.loads(text)["film"])
    clip = open_clip(path)
    boxes = read_boxes(path.with_suffix(BOXES), clip)
    if _is_done(path, clip.fingerprint, load().version):
        return ""
    film = GreyFilm(clip, film_width(clip.width, clip.height, boxes), 1)
    ticks = Ticks(clip.index.pts, int(clip.index.end_pts))
    return json.dumps(scan_document(clip, scan(film, on_whole_frames(film, boxes), None, progress, ticks)))


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
        elif not outcome.result:
            left += 1
        else:
            out = Path(piece.name).with_suffix(FLAGS)
            try:
                document = json.loads(outcome.result)
                with atomic_file(out) as file:
                    file.write(json.dumps(document, indent=1, ensure_ascii=False) + "\n")
            except ClipmarkError as error:
                failed.append({"film": piece.name, "why": str(error)})
                continue
            flags = sum(flag["flagged"] for flag in document["flags"])
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
                yield Piece(str(path), json.dumps({"film": str(path)}))


def _is_done(film: Path, fingerprint: str, version: str) -> bool:
    try:
        document = json.loads(film.with_suffix(FLAGS).read_text(encoding="utf-8"))
        return bool(document["clip"]["fingerprint"] == fingerprint and document["parameters"] == version)
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return False
