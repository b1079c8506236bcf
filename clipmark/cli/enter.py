"""What a keeper enters by command as in the window: animals, dates of their lives, loans, sessions, what came of
them, what was watched in full; and taking them out again. Each is one step that `clipmark book undo` takes back."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from clipmark.cli.listing import one_line, print_json
from clipmark.errors import WrongUsage

if TYPE_CHECKING:
    from clipmark.book.store import Book

Verb = Callable[[str, Callable[[argparse.Namespace], int | None], str], argparse.ArgumentParser]
Opened = Callable[[argparse.Namespace, bool], Any]
FindAnimal = Callable[[Any, str], Any]


def configure(verb: Verb, opened: Opened, find_animal: FindAnimal) -> None:
    """Add the verbs to `clipmark book`."""

    def does(work: Callable[[argparse.Namespace, Book, FindAnimal], Any]) -> Callable[[argparse.Namespace], None]:
        def run(arguments: argparse.Namespace) -> None:
            with opened(arguments, True) as book:
                said = work(arguments, book, find_animal)
            _told(arguments, said)

        return run

    one = verb("animal", does(_animal), "enter an animal")
    one.add_argument("name")
    one.add_argument("--sex", choices=["female", "male", "unknown"], default="unknown")
    for name, words in (("species", "such as “Grammostola rosea”"), ("owner", "whose it is"),
                        ("origin", "captive-bred, wild-caught, permit, source"), ("born", "year, month or day"),
                        ("note", "a note")):  # fmt: skip
        one.add_argument(f"--{name}", default="", help=words)
    one = verb("session", does(_session), "enter a pairing")
    one.add_argument("title")
    one.add_argument("--female", default="", help="number or name of the animal")
    one.add_argument("--male", default="", help="number or name of the animal")
    one.add_argument("--date", default="", help="day of the pairing, such as 2026-03-01")
    one.add_argument("--time", default="", help="time of day at which it began, such as 21:10")
    one.add_argument("--note", default="", help="a note")
    one = verb("life", does(_life), "note something dated in an animal's life: a moult, a meal, a sperm web, cooling")
    one.add_argument("animal", help="number or name of the animal")
    one.add_argument(
        "kind", nargs="?", help="moult, matured, fed, sperm web, cooling began, cooling ended, died, sold"
    )
    one.add_argument("date", nargs="?", default="", help="the day, such as 2026-03-01")
    one.add_argument("--note", default="", help="a note, such as how cool")
    one.add_argument("--remove", action="store_true", help="take the entry of that kind and day out again")
    one = verb("loan", does(_loan), "note a breeding loan, its end, or that the animal was given back")
    one.add_argument("animal", help="number or name of the animal")
    for name, words in (("owner", "who lends"), ("borrower", "who borrows"), ("start", "first day"),
                        ("end", "last day that was agreed"), ("terms", "what was agreed"),
                        ("share", "share of the young"), ("returned", "day on which it was given back")):  # fmt: skip
        one.add_argument(f"--{name}", default=None, help=words)
    one.add_argument("--number", type=int, help="change the loan of that number (see “book show --animal”)")
    one.add_argument("--remove", action="store_true", help="take the loan of that number out")
    one = verb("outcome", does(_outcome), "note what came of a pairing")
    one.add_argument("session", help="number or title of the session")
    one.add_argument("kind", help="laid, pulled, eggs, eggs with legs, larvae, nymphs, infertile, eaten, moulted, "
                     "lost, none yet")  # fmt: skip
    one.add_argument("date", nargs="?", default="", help="the day, such as 2026-05-02")
    one.add_argument("--count", action="append", default=[], metavar="STAGE=N", help="such as nymphs=120; repeatable")
    one.add_argument("--sac", type=int, default=1, help="which sac of the pairing (1 where not said)")
    one.add_argument("--temperature", type=float, help="of the sac, °C")
    one.add_argument("--humidity", type=float, help="of the sac, %%")
    one.add_argument("--kept", choices=["with her", "by hand"], default="", help="who incubates it")
    one.add_argument("--note", default="", help="a note")
    one.add_argument("--remove", action="store_true", help="take the entry of that kind, day and sac out again")
    verb("due", lambda arguments: _due(arguments, opened), "reminders not done and loans that end, by date")
    one = verb("watched", does(_watched), "note a stretch of film that a reviewer watched in full")
    one.add_argument("session", help="number or title of the session")
    one.add_argument("--reviewer", default="", help="who watched it; else the session's reviewer")
    one.add_argument("--clip", type=int, default=1, help="which film of the session, from 1")
    one.add_argument(
        "--from", dest="start", default="", help="session clock, such as 0:12; else the film's beginning"
    )
    one.add_argument("--to", dest="end", default="", help="session clock; else the film's end")
    one.add_argument("--remove", action="store_true", help="take all stretches of that reviewer on that film out")
    one = verb("remove", does(_remove), "take a session or an animal out of the book; film files stay")
    one.add_argument("which", help="number or title of the session; number or name of the animal")
    one.add_argument("--animal", action="store_true", help="an animal instead of a session")


def _due(arguments: argparse.Namespace, opened: Opened) -> None:
    from datetime import date

    from clipmark.cli.listing import table
    from clipmark.reading.advice.loans import loan_ends

    with opened(arguments, False) as book:
        due = book.reminders(done=False)
        titles = {row.id: row.title for row in book.sessions()}
        ends = loan_ends(book.loans(), book.animals(), date.today())
    if arguments.json:
        return print_json({"reminders": due, "loans": ends})
    lines = [(r.date, f"{r.session_id} {one_line(titles.get(r.session_id, ''))}", one_line(r.text, 80)) for r in due]
    lines += [(str(end.on), f"loan {end.loan.id}", one_line(end.text, 80)) for end in ends]
    table(("date", "session", "what"), sorted(lines))


def _told(arguments: argparse.Namespace, said: tuple[str, Any]) -> None:
    if arguments.json:
        print_json(said[1])
    else:
        print(f"{said[0]} “clipmark book undo” takes it back.")


def _animal(arguments: argparse.Namespace, book: Book, _: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.model import Animal, Sex

    a = arguments
    added = book.add_animal(Animal(0, a.name, Sex(a.sex), a.species, a.born, a.origin, a.owner, a.note))
    return f"Animal {added.id}, {one_line(added.name)}, is in the book.", added


def _session(arguments: argparse.Namespace, book: Book, find: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.model import Session

    female = find(book, arguments.female).id if arguments.female else None
    male = find(book, arguments.male).id if arguments.male else None
    a = arguments
    added = book.add_session(Session(0, a.title, female, male, a.date, note=a.note, time_of_day=a.time))
    return f"Session {added.id}, {one_line(added.title)}, is in the book.", added


def _life(arguments: argparse.Namespace, book: Book, find: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.errors import NoSuchThing
    from clipmark.book.model import LifeEvent

    animal = find(book, arguments.animal)
    if not arguments.kind:
        raise WrongUsage("Say what happened and when, such as: clipmark book life Umbra moult 2026-02-10")
    if arguments.remove:
        fits = [e for e in book.life(animal.id) if e.kind == arguments.kind and e.date == arguments.date]
        if not fits:
            raise NoSuchThing("event", f"“{arguments.kind} {arguments.date}” of {one_line(animal.name)}")
        book.remove_life_event(fits[-1].id)
        return f"Taken out: {arguments.kind} {arguments.date} of {one_line(animal.name)}.", fits[-1]
    added = book.add_life_event(LifeEvent(0, animal.id, arguments.kind, arguments.date, arguments.note))
    return f"Noted: {one_line(animal.name)}, {added.kind} {added.date}.", added


def _loan(arguments: argparse.Namespace, book: Book, find: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.errors import NoSuchThing
    from clipmark.book.model import Loan

    animal = find(book, arguments.animal)
    fields = ("owner", "borrower", "start", "end", "terms", "share", "returned")
    given = {name: getattr(arguments, name) for name in fields if getattr(arguments, name) is not None}
    loans = book.loans(animal.id)
    number = arguments.number
    if number is None and (arguments.remove or set(given) == {"returned"}) and len(loans) == 1:
        number = loans[0].id  # the only one is meant
    if number is None:
        if arguments.remove or not given or set(given) == {"returned"}:
            raise WrongUsage("Say which loan with --number (see “clipmark book show --animal”), or give owner,"
                             " borrower and days.")  # fmt: skip
        loan = Loan(0, animal.id, given.pop("owner", animal.owner), given.pop("borrower", ""),
                    given.pop("start", ""), **given)  # fmt: skip
        added = book.add_loan(loan)
        return f"Noted: loan {added.id} of {one_line(animal.name)}.", added
    known = next((one for one in loans if one.id == number), None)
    if known is None:
        raise NoSuchThing("loan of that animal", number)
    if arguments.remove:
        book.remove_loan(known.id)
        return f"Taken out: loan {known.id} of {one_line(animal.name)}.", known
    changed = book.change_loan(replace(known, **given))
    return f"Changed: loan {changed.id} of {one_line(animal.name)}.", changed


def _outcome(arguments: argparse.Namespace, book: Book, _: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.errors import NoSuchThing
    from clipmark.book.model import Outcome

    session = book.find_session(arguments.session)
    a = arguments
    if a.remove:
        fits = [o for o in book.session(session).outcomes if (o.kind, o.date, o.sac) == (a.kind, a.date, a.sac)]
        if not fits:
            raise NoSuchThing("outcome", f"“{a.kind} {a.date}”")
        book.remove_outcome(fits[-1].id)
        return f"Taken out: {a.kind} {a.date}.", fits[-1]
    made = Outcome(0, session, a.kind, a.date, tuple(_counted(text) for text in a.count), a.note, a.sac,
                   a.temperature, a.humidity, a.kept)  # fmt: skip
    added = book.add_outcome(made)
    return f"Noted: {added.kind} {added.date}.", added


def _counted(text: str) -> tuple[str, int]:
    stage, _, number = text.partition("=")
    if not stage.strip() or not number.strip().isdecimal():
        raise WrongUsage(f"“{text}” is no count. Write it as nymphs=120.")
    return stage.strip(), int(number)


def _watched(arguments: argparse.Namespace, book: Book, _: FindAnimal) -> tuple[str, Any]:
    from clipmark.book.model import Reviewed
    from clipmark.timebase import clock, parse_clock

    record = book.session(book.find_session(arguments.session))
    if not 1 <= arguments.clip <= len(record.clips):
        raise WrongUsage(f"This session has {len(record.clips)} films; --clip counts them from 1.")
    clip = record.clips[arguments.clip - 1]
    reviewer = arguments.reviewer or record.session.reviewer
    if not reviewer.strip():
        raise WrongUsage("Say who watched it with --reviewer.")
    if arguments.remove:
        mine = [one for one in record.reviewed if one.clip_id == clip.id and one.reviewer == reviewer]
        with book.together(f"remove what {reviewer} watched in full"):
            for one in mine:
                book.remove_reviewed(one.id)
        return f"Taken out: {len(mine)} stretches.", mine
    start = clip.pts_at(parse_clock(arguments.start)) if arguments.start else clip.first_pts
    end = clip.pts_at(parse_clock(arguments.end)) if arguments.end else clip.end_pts
    start, end = max(start, clip.first_pts), min(end, clip.end_pts)
    if end <= start:
        raise WrongUsage("That stretch does not lie on this film.")
    added = book.add_reviewed(Reviewed(0, clip.id, reviewer, start, end))
    said = f"{clock(clip.on_clock(start), 1)} to {clock(clip.on_clock(end), 1)}"
    return f"Noted: {one_line(reviewer)} watched {said} in full.", added


def _remove(arguments: argparse.Namespace, book: Book, find: FindAnimal) -> tuple[str, Any]:
    if arguments.animal:
        animal = find(book, arguments.which)
        book.remove_animal(animal.id)
        return f"Taken out: the animal {one_line(animal.name)} with its dates and loans.", animal
    session = book.session(book.find_session(arguments.which)).session
    book.remove_session(session.id)
    return f"Taken out: the session {one_line(session.title)} with its marks and calls. Film files stay.", session
