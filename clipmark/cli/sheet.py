"""The session's sheet: one HTML file that opens offline and prints on A4, or a PDF where the name ends so.

A film that is missing takes only its stills with it; the sheet is written all the same and says so.

example: clipmark sheet 1 -o ember-and-ash.html
         clipmark sheet "Ember and Ash" --book pairings.book
         clipmark sheet 1 --reviewer Ada -o by-ada.html
         clipmark sheet 1 --proof -o proof.html
"""

from __future__ import annotations

import argparse
from pathlib import Path

from clipmark.cli.terminal import Bar
from clipmark.errors import WrongUsage


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("session", metavar="SESSION", help="number or title of the session (see clipmark book list)")
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="FILE.html",
        help="where to write it (default: its title, in this folder)",
    )
    parser.add_argument(
        "--proof", action="store_true", help="a single page instead: proof of pairing, to sign for a breeding loan"
    )
    parser.add_argument(
        "--reviewer", metavar="NAME", default="", help="whose marks and calls (default: the session's own reviewer)"
    )
    parser.add_argument("--book", type=Path, metavar="BOOK", help="the record book (default: the one of the window)")


def run(arguments: argparse.Namespace) -> int:
    from clipmark.book.store import Book
    from clipmark.report.sheets.pdf import write_sheet_pdf
    from clipmark.report.sheets.proof import write_proof
    from clipmark.report.sheets.sheet import write_sheet
    from clipmark.report.text import file_stem

    with Book.open(arguments.book, read_only=True) as book:
        session_id = book.find_session(arguments.session)
        kind = "-proof" if arguments.proof else ""
        out = arguments.output or Path(f"{file_stem(book.session(session_id).session.title)}{kind}.html")
        if arguments.proof and out.suffix.lower() == ".pdf":
            raise WrongUsage("The proof of pairing is written as HTML; print it to PDF from your browser.")
        if arguments.proof:
            write_proof(book, session_id, out, Bar("proof"))
        elif out.suffix.lower() == ".pdf":
            write_sheet_pdf(book, session_id, out, Bar("sheet"), arguments.reviewer)
        else:
            write_sheet(book, session_id, out, Bar("sheet"), arguments.reviewer)
    print(out)
    return 0
