"""One session as tables, for other programs, as chapters, reminders, cuts and stills; several at once.

example: clipmark export 1 --csv tables --json session.json
         clipmark export "Ember and Ash" --clips cuts --burn-clock --slow 8
         clipmark export 1 --vtt pairing.vtt --ics reminders.ics
"""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from clipmark.cli.terminal import Bar
from clipmark.errors import WrongUsage

WAYS = {
    "csv": ("DIR", "tables as CSV, with their schema"),
    "json": ("FILE", "the session as JSON: exact ticks, readable times"),
    "vtt": ("FILE", "chapters as WebVTT, for a player"),
    "captions": ("FILE", "marks and calls as WebVTT captions"),
    "ffmetadata": ("FILE", "chapters as ffmpeg metadata"),
    "ics": ("FILE", "the day of the pairing, open reminders and ends of loans for a calendar"),
    "clips": ("DIR", "a slow-motion MP4 of each pull"),
    "stills": ("DIR", "PNG stills of each pull: before, full pull, after"),
}


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("session", metavar="SESSION", help="number or title of the session (see clipmark book list)")
    for name, (place, help_text) in WAYS.items():
        parser.add_argument(f"--{name}", type=Path, metavar=place, help=help_text)
    parser.add_argument(
        "--burn-clock", action="store_true", help="with --clips: write clock and frame in the picture"
    )
    parser.add_argument("--slow", type=int, metavar="N", default=4, help="with --clips: so many times slower (4)")
    parser.add_argument("--book", type=Path, metavar="BOOK", help="the record book (default: the one of the window)")


def run(arguments: argparse.Namespace) -> int:
    from clipmark.book.store import Book
    from clipmark.reading.advice.loans import loan_ends
    from clipmark.report.exports import writers as exports
    from clipmark.report.exports.tables import around

    wanted = {name: place for name in WAYS if (place := getattr(arguments, name)) is not None}
    if not wanted:
        raise WrongUsage(f"Say what to write: {', '.join(f'--{name}' for name in WAYS)}. See clipmark export --help.")
    if not 1 <= arguments.slow <= 100:
        raise WrongUsage("--slow takes a whole number from 1 (as filmed) to 100.")
    if arguments.burn_clock and arguments.clips is None:
        raise WrongUsage("--burn-clock goes with --clips.")
    with Book.open(arguments.book, read_only=True) as book:
        record = book.session(book.find_session(arguments.session))
        about = around(book, record)
        animals = [animal for animal in (record.female, record.male) if animal is not None]
        loans = [loan for animal in animals for loan in book.loans(animal.id)]
    for name, place in wanted.items():
        if name == "clips":
            written = exports.to_clips(record, place, arguments.slow, arguments.burn_clock, Bar("clips"))
        elif name == "stills":
            written = exports.to_stills(record, place, Bar("stills"))
        elif name == "ics":
            written = exports.to_ics(record, place, loan_ends(loans, animals, date.today()))
        elif name == "csv":
            written = exports.to_csv(record, place, about)
        elif name == "json":
            written = exports.to_json(record, place, about)
        else:
            written = exports.PLAIN[name](record, place)
        for path in written:
            print(path)
    return 0
