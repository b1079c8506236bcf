"""The record book: what is in it, whether it is sound, its backups, its film, and its way in and out.

The book is that of --book FILE, else of the variable CLIPMARK_BOOK, else the one in your data folder.

example: clipmark book list
         clipmark book list "Grammostola 2026" --json
         clipmark book show 3
         clipmark book backup
         clipmark book restore 12
         clipmark book relink /media/films
         clipmark book outcomes Grammostola
         clipmark book export whole-book.json
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

from clipmark import settings
from clipmark.cli import enter, kinds
from clipmark.cli.listing import counted, one_line, print_json, table
from clipmark.errors import WrongUsage
from clipmark.json_values import to_plain
from clipmark.timebase import clock

SORTS: dict[str, Callable[[Any], Any]] = {
    "date": lambda row: (row.date, row.id),
    "title": lambda row: (row.title.casefold(), row.id),
    "species": lambda row: (row.species.casefold(), row.date, row.id),
    "confirmed": lambda row: (row.confirmed, row.date, row.id),
}


def configure(parser: argparse.ArgumentParser) -> None:
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument("--book", type=Path, metavar="FILE", help="the book; else CLIPMARK_BOOK, else your own")
    shared.add_argument("--json", action="store_true", help="print JSON for machines")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="WHAT")

    def verb(name: str, does: Callable[[argparse.Namespace], int | None], line: str) -> argparse.ArgumentParser:
        one = verbs.add_parser(name, parents=[shared], help=line, description=f"{line[:1].upper()}{line[1:]}.")
        one.set_defaults(does=does)
        return one

    one = verb("list", _list, "sessions, newest first, or animals")
    one.add_argument("text", nargs="?", default="", help="only those in which all these words occur")
    one.add_argument("--animals", action="store_true", help="list animals instead of sessions")
    one.add_argument("--sex", choices=["female", "male", "unknown"], help="only animals of that sex")
    one.add_argument("--sort", choices=sorted(SORTS), default="", help="another order than newest first")
    one = verb("show", _show, "everything about one session, or with --animal about one animal")
    one.add_argument("which", help="number or title of the session; number or name of the animal")
    one.add_argument("--animal", action="store_true", help="show an animal: life, pairings, loans")
    one = verb("check", _check, "whether the book is sound, its film there and its backup good")
    one.add_argument("--no-film", action="store_true", help="leave the film files out")
    one = verb("backup", _backup, "copy the book now, or list the copies")
    one.add_argument("--to", type=Path, metavar="FILE", help="a place of your own for the copy")
    one.add_argument("--list", action="store_true", dest="listing", help="list the backups instead")
    one = verb("restore", _restore, "put a backup in the book's place; what the book held is kept as a backup")
    one.add_argument("which", nargs="?", default="", help="number of the backup or a book file; else the newest")
    one = verb("salvage", _salvage, "save what can be read of a damaged book into a new one")
    one.add_argument("to", type=Path, help="the new book")
    one = verb("relink", _relink, "find moved or renamed film again by its content")
    one.add_argument("folders", nargs="+", type=Path, help="where to look, with the folders inside")
    one.add_argument("--dry-run", action="store_true", help="say what would be found, change nothing")
    one = verb("merge", _merge, "make several entries of one animal into one")
    one.add_argument("keep", help="number or name of the entry that stays")
    one.add_argument("others", nargs="+", help="numbers or names of the entries that go into it")
    one = verb("export", _export, "the whole book as one JSON file, or as a folder of CSV tables")
    one.add_argument("to", type=Path, help="a file for JSON, or with --csv a folder")
    one.add_argument("--csv", action="store_true", help="CSV tables with a Frictionless data package beside them")
    one.add_argument("--no-traces", action="store_true", help="leave the motion passes' traces out of the JSON")
    one = verb("import", _import, "bring in a book that was exported as JSON; what is there already stays")
    one.add_argument("file", type=Path, help="the JSON file")
    one = verb("outcomes", _outcomes, "what came of the pairings, against what film had shown")
    one.add_argument("text", nargs="?", default="", help="only sessions in which all these words occur")
    one.add_argument(
        "--asked", type=_day, metavar="DATE", help="the day of asking, such as 2026-12-01 (default: today)"
    )
    one.add_argument(
        "--plots", type=Path, metavar="DIR", help="also draw them there as SVG: waiting, cycles and calendar, pulls"
    )
    enter.configure(verb, _open, _find_animal)
    kinds.configure(verb, _open, _find_animal)
    verb("undo", _undo, "take back the latest change of the book")
    verb("redo", _redo, "do again what was taken back last")


def run(arguments: argparse.Namespace) -> int | None:
    return arguments.does(arguments)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no date; write it as 2026-12-01") from None


def _path(arguments: argparse.Namespace) -> Path:
    return arguments.book or settings.default_book()


def _open(arguments: argparse.Namespace, write: bool = False) -> Any:
    from clipmark.book.errors import NoBook
    from clipmark.book.store import Book

    path = _path(arguments)
    if write and not path.exists():
        raise NoBook(path)
    return Book.open(path, read_only=not write)


# what the verbs do --------------------------------------------------------------------------------------------


def _outcomes(arguments: argparse.Namespace) -> None:
    from clipmark.cli import outcomes
    from clipmark.cli.listing import without_collecting

    with _open(arguments) as book, without_collecting():
        outcomes.show(book, arguments.text, arguments.json, arguments.asked, arguments.plots)


def _list(arguments: argparse.Namespace) -> None:
    from clipmark.book.model import Sex

    with _open(arguments) as book:
        if arguments.animals or arguments.sex:
            animals = book.animals(Sex(arguments.sex) if arguments.sex else None, arguments.text)
            if arguments.json:
                return print_json({"animals": animals})
            table(
                ("no.", "name", "sex", "species", "owner"),
                (
                    (one.id, one_line(one.name), one.sex, one_line(one.species), one_line(one.owner))
                    for one in animals
                ),
            )
            return None
        rows = list(book.sessions(arguments.text))
    if arguments.sort:
        rows.sort(key=SORTS[arguments.sort], reverse=arguments.sort in ("date", "confirmed"))
    if arguments.json:
        return print_json({"book": _path(arguments), "sessions": rows})
    table(
        ("no.", "date", "title", "female", "male", "species", "clips", "marks", "pulls", "called", "confirmed",
         "outcome"),
        (
            (row.id, row.date, one_line(row.title), one_line(row.female, 20), one_line(row.male, 20),
             one_line(row.species, 30), row.clips, row.marks, row.flags, row.called, row.confirmed,
             one_line(row.outcome, 20))
            for row in rows
        ),
    )  # fmt: skip
    return None


def _show(arguments: argparse.Namespace) -> None:
    from clipmark.book.meaning.calls import counting_calls
    from clipmark.reading.advice.contradictions import doubts

    with _open(arguments) as book:
        if arguments.animal:
            return _show_animal(arguments, book)
        record = book.session(book.find_session(arguments.which))
        her = book.life(record.female.id) if record.female is not None else ()
        his = book.life(record.male.id) if record.male is not None else ()
    if arguments.json:
        return print_json(record)
    session = record.session
    print(f"{session.id}  {one_line(session.title, 100)}  {session.date}".rstrip())
    for word, animal in (("female", record.female), ("male", record.male)):
        if animal is not None:
            print(f"  {word:<9} {one_line(animal.name)}  {one_line(animal.species)}".rstrip())
    for clip in record.clips:
        length = clip.on_clock(clip.end_pts) - clip.offset
        print(f"  film      {clip.path}  at {clock(clip.offset)}, {clock(length)} long, {clip.frames} frames")
    labels = {act.code: act.label for act in record.acts}
    events: list[tuple[Fraction, str]] = []
    for mark in record.marks:
        clip = record.clip(mark.clip_id)
        until = (
            f" to {clock(clip.on_clock(mark.end_pts))}"
            if mark.end_pts is not None
            else " (open)"
            if mark.open
            else ""
        )
        note = f"  “{one_line(mark.note, 60)}”" if mark.note else ""
        events.append((clip.on_clock(mark.start_pts), f"{one_line(labels[mark.act])}{until}{note}"))
    calls = counting_calls(record)
    for flag in record.flags:
        call = calls.get(flag.id)
        if flag.flagged or call:
            said = f"called {call.decision} by {one_line(call.reviewer)}" if call else "not called"
            score = f", score {flag.score:.2f}" if flag.score is not None else f", seen by {one_line(flag.by)}"
            events.append((record.clip(flag.clip_id).on_clock(flag.onset_pts), f"pull: {said}{score}"))
    for at, text in sorted(events, key=lambda event: event[0]):
        print(f"  {clock(at):>11}  {text}")
    for outcome in record.outcomes:
        counts = ", ".join(f"{number} {stage}" for stage, number in outcome.counts)
        print(f"  outcome   {outcome.date} {one_line(outcome.kind)}  {counts}".rstrip())
    for text in doubts(record, her, his):
        print(f"  doubt     {one_line(text, 200)}")
    return None


def _show_animal(arguments: argparse.Namespace, book: Any) -> None:
    animal = _find_animal(book, arguments.which)
    history = {
        "animal": animal, "life": book.life(animal.id), "sessions": book.sessions_of(animal.id),
        "loans": book.loans(animal.id),
    }  # fmt: skip
    if arguments.json:
        return print_json(history)
    print(f"{animal.id}  {one_line(animal.name)}  {animal.sex}  {one_line(animal.species)}".rstrip())
    for word in ("born", "origin", "owner", "note"):
        if getattr(animal, word):
            print(f"  {word:<9} {one_line(getattr(animal, word), 100)}")
    for event in history["life"]:
        print(f"  {event.date:<11} {one_line(event.kind)}  {one_line(event.note, 80)}".rstrip())
    for session in history["sessions"]:
        print(f"  {session.date:<11} session {session.id}  {one_line(session.title, 80)}".rstrip())
    for loan in history["loans"]:
        back = f"  given back {loan.returned}" if loan.returned else ""
        print(f"  {loan.start:<11} loan {loan.id} from {one_line(loan.owner)} to {one_line(loan.borrower)} until "
              f"{loan.end or 'open'}  {one_line(loan.share)}{back}".rstrip())  # fmt: skip
    return None


def _find_animal(book: Any, asked: str) -> Any:
    from clipmark.book.errors import NoSuchThing

    animals = book.animals()
    fits = [one for one in animals if asked.isdecimal() and one.id == int(asked)]
    fits = fits or [one for one in animals if one.name.casefold() == asked.casefold()]
    if not fits:
        raise NoSuchThing("animal called", f"“{asked}”")
    if len(fits) > 1:
        numbers = ", ".join(str(one.id) for one in fits)
        raise WrongUsage(f"Several animals are called “{asked}” (numbers {numbers}). Give the number.")
    return fits[0]


def _check(arguments: argparse.Namespace) -> int:
    from clipmark.book.care.health import examine
    from clipmark.cli.terminal import Bar

    found = examine(_path(arguments), not arguments.no_film, progress=Bar("checking"))
    if arguments.json:
        print_json({"book": _path(arguments), "sound": found.sound, **to_plain(found)})
        return 0 if found.sound else 1
    print(f"{_path(arguments)} (book version {found.version})")
    print("  " + ", ".join(counted(table, number) for table, number in found.counts.items() if number))
    for line in (*found.film, *found.backups):
        print(f"  note: {line}")
    if found.sound:
        print("  The book is sound.")
        return 0
    for line in found.troubles:
        print(f"  wrong: {line}")
    print("The book is damaged: restore a backup, or salvage it. See “clipmark book --help”.", file=sys.stderr)
    return 1


def _backup(arguments: argparse.Namespace) -> None:
    from clipmark.book.file.backup import backup, backups

    path = _path(arguments)
    if arguments.listing:
        known = backups(path)
        if arguments.json:
            return print_json({"backups": known})
        table(
            ("no.", "made (UTC)", "why", "MiB", "file"),
            ((one.number, one.readable, one.reason, f"{one.size / 2**20:.1f}", one.path) for one in known),
        )
        return None
    made = backup(path, to=arguments.to)
    if arguments.json:
        return print_json({"backup": made})
    print(f"The book was copied to {made}")
    return None


def _restore(arguments: argparse.Namespace) -> None:
    from clipmark.book.file.backup import find_backup, restore

    path = _path(arguments)
    named = Path(arguments.which)
    source = named if arguments.which and named.is_file() else find_backup(path, arguments.which).path
    kept = restore(path, source)
    if arguments.json:
        return print_json({"book": path, "restored": source, "kept": kept})
    print(f"{path} is as it was in {source}.")
    if kept is not None:
        print(f"What it held before lies in {kept}.")
    return None


def _salvage(arguments: argparse.Namespace) -> None:
    from clipmark.book.care.salvage import salvage

    said = salvage(_path(arguments), arguments.to)
    if arguments.json:
        return print_json({"book": arguments.to, "saved": said.saved, "dropped": said.dropped, "notes": said.notes})
    saved = ", ".join(counted(name, number) for name, number in said.saved.items() if number)
    print(f"Saved into {arguments.to}: {saved}.")
    for name, number in said.dropped.items():
        print(f"  not saved: {counted(name, number)} (found, but what they belong to was lost, or they are damaged)")
    for note in said.notes:
        print(f"  note: {note}")
    return None


def _relink(arguments: argparse.Namespace) -> int:
    from clipmark.book.care.relink import search
    from clipmark.cli.terminal import Bar

    with _open(arguments, write=not arguments.dry_run) as book:
        clips = book.clips()
        found = search(clips, arguments.folders, Bar("looking"))
        if found.found and not arguments.dry_run:
            with book.together(f"find {len(found.found)} films again"):
                for clip, place in found.found:
                    book.relink_clip(clip.id, place)
    if arguments.json:
        print_json({
            "found": [{"clip": clip.id, "was": clip.path, "is": place} for clip, place in found.found],
            "missing": [clip.path for clip in found.missing], "changed": [clip.path for clip in found.changed],
        })  # fmt: skip
    else:
        for clip, place in found.found:
            print(f"found    {clip.path}\n      at {place}")
        for clip in found.missing:
            print(f"missing  {clip.path}")
        for clip in found.changed:
            print(f"changed  {clip.path}")
        if not (found.found or found.missing or found.changed):
            print(f"All film of the book is in its place ({len(clips)} clips).")
    if found.missing or found.changed:
        print("Not all film was found. Name further folders.", file=sys.stderr)
        return 1
    return 0


def _merge(arguments: argparse.Namespace) -> None:
    with _open(arguments, write=True) as book:
        kept = _find_animal(book, arguments.keep)
        others = [_find_animal(book, one).id for one in arguments.others]
        if all(one == kept.id for one in others):
            raise WrongUsage("An animal cannot be merged with itself. Give the numbers of two entries.")
        merged = book.merge_animals(kept.id, others)
    if arguments.json:
        return print_json(merged)
    print(f"{merged.id}  {one_line(merged.name)} took in {len(others)}. “clipmark book undo” takes it back.")
    return None


def _export(arguments: argparse.Namespace) -> None:
    from clipmark.book.exchange.book_json import write_document
    from clipmark.book.exchange.csv_folder import write_folder
    from clipmark.cli.terminal import Bar
    from clipmark.report.exports.csv_folder import told_by_book

    with _open(arguments) as book:
        if arguments.csv:
            made = write_folder(book, arguments.to, told_by_book(book))
        else:
            write_document(book, arguments.to, not arguments.no_traces, Bar("writing"))
            made = [arguments.to]
    if arguments.json:
        return print_json({"files": made})
    print(f"The book was written to {arguments.to}" + (f" ({len(made)} files)" if arguments.csv else ""))
    return None


def _import(arguments: argparse.Namespace) -> None:
    from clipmark.book.exchange.bring_in import bring_in
    from clipmark.book.exchange.read_in import read_document
    from clipmark.book.store import Book
    from clipmark.cli.terminal import Bar

    read = read_document(arguments.file, Bar("reading"))  # before a book is made for it
    with Book.open(_path(arguments)) as book:
        said = bring_in(book, read, f"import {arguments.file.name}", Bar("bringing in"))
    if arguments.json:
        return print_json({"added": said.added, "known": said.known})
    for word, counts in (("brought in", said.added), ("there already", said.known)):
        if counts:
            print(f"{word}: " + ", ".join(f"{number} {name.replace('_', ' ')}" for name, number in counts.items()))
    if said.added:
        print("“clipmark book undo” takes it back.")
    return None


def _undo(arguments: argparse.Namespace) -> None:
    with _open(arguments, write=True) as book:
        label = book.undo()
    _said(arguments, "undone", label, "Taken back", "There is nothing to take back")


def _redo(arguments: argparse.Namespace) -> None:
    with _open(arguments, write=True) as book:
        label = book.redo()
    _said(arguments, "redone", label, "Done again", "There is nothing to do again")


def _said(arguments: argparse.Namespace, name: str, label: str | None, done: str, nothing: str) -> None:
    if arguments.json:
        return print_json({name: label})
    print(f"{done}: {one_line(label, 100)}." if label is not None else f"{nothing}.")
    return None
