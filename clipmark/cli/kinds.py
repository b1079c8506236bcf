"""What is known of a kind, and what the book's own marks and calls say: signs that went with sacs, a male's rhythm,
and how sure the order of acts and the answers are."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from clipmark.cli.enter import FindAnimal, Opened, Verb
from clipmark.cli.listing import one_line, print_json
from clipmark.errors import WrongUsage


def configure(verb: Verb, opened: Opened, find_animal: FindAnimal) -> None:
    """Add the verbs to `clipmark book`."""
    one = verb("known", lambda a: _known(a, opened), "what is known of a species, and notes of your own on it")
    one.add_argument("species", help="species or genus")
    one.add_argument("--note", metavar="WHAT", default="", help="add a note: note, “weak pull”, “plain pull”, "
                     "“fixed sac”, or a figure such as pairing_to_sac")  # fmt: skip
    one.add_argument("--low", type=float, help="with --note: low end of a range")
    one.add_argument("--high", type=float, help="with --note: high end of a range")
    one.add_argument("--unit", default="days", help="with --note: days, weeks, months, young")
    one.add_argument("--words", default="", help="with --note: in your words")
    one.add_argument("--remove", type=int, metavar="N", help="take note number N out")
    verb("signs", lambda a: _signs(a, opened), "which signs of your calls went with sacs, by species")
    one = verb("rhythm", lambda a: _rhythm(a, opened, find_animal), "a male's drumming over his sessions")
    one.add_argument("male", nargs="?", default="", help="number or name; all males where it is left out")
    one.add_argument("--listen", action="store_true", help="listen to films that were not listened to yet")
    one = verb("sure", lambda a: _sure(a, opened), "how sure the answers and the order of acts are")
    one.add_argument("text", nargs="?", default="", help="only sessions in which all these words occur")


def _known(arguments: argparse.Namespace, opened: Opened) -> None:
    from clipmark.book.model import SpeciesNote
    from clipmark.reading.advice.glance import glance

    changing = bool(arguments.note) or arguments.remove is not None
    with opened(arguments, changing) as book:
        if arguments.note:
            a = arguments
            ranged = a.low is not None or a.high is not None
            words = a.words or (f"{a.note[:1].upper()}{a.note[1:]}." if not ranged and " " in a.note else "")
            book.add_species_note(SpeciesNote(0, a.species, a.note, a.low, a.high, a.unit if ranged else "", words))
        if arguments.remove is not None:
            book.remove_species_note(arguments.remove)
        own = book.species_notes()
    seen = glance(arguments.species, own)
    if arguments.json:
        return print_json({"species": arguments.species, "headline": seen.headline, "known": seen.known,
                           "watch": seen.watch, "not_conclude": seen.not_conclude, "signs": seen.expected,
                           "sections": seen.everything.sections, "own": own})  # fmt: skip
    print(seen.headline)
    blocks = (("Watch for", seen.watch), ("Do not conclude", seen.not_conclude),
              ("Signs to look for", seen.expected.lines))  # fmt: skip
    for title, lines in (
        *((s.title, [(x.text, x.cited) for x in s.statements]) for s in seen.everything.sections),
        *blocks,
    ):
        print(f"\n{title}")
        for text, source in lines:
            print(f"  {text}  {source}".rstrip())
    for note in own:
        ends = [f"{end:g}" for end in (note.low, note.high) if end is not None]
        said = f"{note.what} {' to '.join(ends)} {note.unit} {one_line(note.note, 100)}"
        print(f"\nyour note {note.id}: {one_line(note.species)}, {' '.join(said.split())}")


def _records(book: Any, text: str = "") -> list[Any]:
    return list(book.records([row.id for row in book.sessions(text)]))


def _signs(arguments: argparse.Namespace, opened: Opened) -> None:
    from clipmark.reading.cycles.sign_outcomes import sign_outcomes

    with opened(arguments, False) as book:
        records = _records(book)
        females = {r.female.id for r in records if r.female is not None}
        found = sign_outcomes(records, {female: book.life(female) for female in females})
    if arguments.json:
        return print_json({"species": found})
    for one in found:
        print(f"{one.species or 'without a species'}: {one.note}")
        for sign in one.signs:
            print(f"  {sign.text}")
    if not found:
        print("No settled cycle has calls with stated signs yet.")


def _rhythm(arguments: argparse.Namespace, opened: Opened, find_animal: FindAnimal) -> None:
    from clipmark.cli.terminal import Bar
    from clipmark.reading import roles
    from clipmark.reading.cycles.his_rhythm import beside, male_rhythms
    from clipmark.report.films.beats import beats
    from clipmark.report.films.opened import Films

    with opened(arguments, False) as book:
        wanted = find_animal(book, arguments.male).id if arguments.male else None
        records = _records(book)
    with Films() as films:
        found = {
            r.session.id: beats(r, films if arguments.listen else None, Bar("listening"))
            for r in records if any(mark.act in roles.DRUMMING for mark in r.marks)
        }  # fmt: skip
    males = male_rhythms(records, found)
    shown = [m for m in males if wanted in (None, m.animal_id)]
    if wanted is not None and not shown:
        raise WrongUsage("That animal is the male of no session.")
    if arguments.json:
        return print_json({"males": [{**asdict(m), "text": m.text, "beside": beside(m, males)} for m in shown]})
    if not shown:
        print("No session has a male yet.")
    for male in shown:
        print(f"{one_line(male.name)}: {male.text}")
        for session in male.sessions:
            if session.bouts:
                often = f", {session.per_minute:.1f} a minute" if session.per_minute is not None else ""
                print(f"  {session.on or session.title}: {len(session.bouts)} bouts{often}; {session.trend}")
        print(f"  {beside(male, males)}")


def _sure(arguments: argparse.Namespace, opened: Opened) -> None:
    from clipmark.reading.figure import plural
    from clipmark.reading.session.how_sure import how_sure
    from clipmark.reading.session.observed import watchable

    with opened(arguments, False) as book:
        records = _records(book, arguments.text)
    labels = {act.code: act.label for record in records for act in record.acts}
    rows = how_sure([watchable(record) for record in records], labels)
    if arguments.json:
        return print_json({"sessions": len(records), "tests": rows})
    print(plural(len(records), "session"))
    for row in rows:
        print(f"\n{row.question}\n  {row.found}\n  {row.assumes}")
