"""The whole job on the sample session: index, shots, motion pass, flags, sheet.

Prints what was found and where the sheet lies, and opens the window where there is a screen. Everything is written
into one folder (clipmark-demo in the current one unless --to names another): the film, a book of its own and the
sheet. Your own book is not touched.

example: clipmark demo
         clipmark demo --to /tmp/look --no-window
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark import machine
from clipmark.cli.terminal import Bar
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.book.model import ClipRecord, FlagRecord, SessionRecord


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--to", type=Path, default=Path("clipmark-demo"), metavar="DIR", help="folder to write into")
    parser.add_argument("--no-window", action="store_true", help="print and write only")


def run(arguments: argparse.Namespace) -> int:
    from clipmark.book.film import intake
    from clipmark.book.film.sample import add_sample, sample_film
    from clipmark.book.store import Book
    from clipmark.media.clip import open_clip
    from clipmark.report.sheets.sheet import write_sheet

    started = time.monotonic()
    folder: Path = arguments.to.absolute()
    film = sample_film(folder)
    clip = open_clip(film)
    print(f"film   {film.name}: {len(clip.index)} frames, {clock(clip.index.end_seconds(), 1)}")
    with Book.open(folder / "demo.book") as book:
        session_id = add_sample(book, film)
        record = book.session(session_id)
        row = record.clips[0]
        result = intake.run_pass(clip, record, row, Bar("motion pass"))
        print(f"shots  {len(result.shots)}, motion pass at {result.frames_per_s:.0f} frames/s")
        book.add_pass(row.id, result)
        record = book.session(session_id)
        for line in _found(record, row):
            print(line)
        sheet = write_sheet(book, session_id, folder / "sheet.html", Bar("sheet"))
    print(f"sheet  {sheet}")
    print(f"book   {folder / 'demo.book'}")
    print(f"done in {time.monotonic() - started:.0f} s")
    if arguments.no_window:
        return 0
    if not machine.has_screen():
        print(
            "There is no screen here, so the window stays closed. Open the sheet in a browser; "
            "clipmark --help lists what to try next."
        )
        return 0
    from clipmark.cli import _open_window

    return _open_window(["--book", str(folder / "demo.book")])


def _found(record: SessionRecord, row: ClipRecord) -> list[str]:
    flags = [flag for flag in record.flags if flag.flagged]
    lines = [f"flags  {len(flags)} candidate insertions, yours to call:"]
    lines += [f"       {_flag(flag, row)}" for flag in flags]
    unwatched = [span for span in record.spans if span.why]
    for span in unwatched:
        start, end = row.on_clock(span.start_pts), row.on_clock(span.end_pts)
        lines.append(f"       not watched {clock(start, 2)} to {clock(end, 2)}: {span.why}")
    if not unwatched:
        lines.append("       the abdomen was watched from the first frame to the last")
    return lines


def _flag(flag: FlagRecord, row: ClipRecord) -> str:
    doubts = f" — doubtful: {', '.join(flag.doubts)}" if flag.doubts else ""
    score = "" if flag.score is None else f"  score {flag.score:.2f}"
    return f"{clock(row.on_clock(flag.onset_pts), 2)}{score}  {flag.because}{doubts}"
