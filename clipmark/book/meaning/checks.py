"""What the book does not take, in words: each check is one rule about one value, before it is stored."""

from __future__ import annotations

import datetime
import re
from fractions import Fraction
from typing import Any, TypeVar

from clipmark import json_values
from clipmark.book import model
from clipmark.book.errors import CannotKeep

T = TypeVar("T")
PARTS = ("abdomen", "carapace", "male")
SOURCES = ("drawn", "pressed", "found")
PALPS = ("", "left", "right")
KEPT = ("", "with her", "by hand")
_PARTIAL_DATE = re.compile(r"\d{4}(-(0[1-9]|1[0-2]))?", re.ASCII)
_TIME_OF_DAY = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]")


def check(value: Any) -> None:
    """Raise CannotKeep, with a sentence, if the book does not take the value."""
    rule = _RULES.get(type(value))
    if rule is not None:
        rule(value)


def from_plain(type_: type[T], item: Any, where: str) -> T:
    """A value of the book as `json_values.to_plain` wrote it, and one that the book takes.

    Raises:
        NotAsExpected: it does not fit, or the book does not take it; with its place `where`.
    """
    return json_values.from_plain(type_, item, where, check)


def check_date(text: str, partial: bool = False) -> None:
    """ISO day (`2026-03-01`) or empty; with `partial` also a year or a month."""
    if not text or (partial and _PARTIAL_DATE.fullmatch(text)):
        return
    try:
        proper = datetime.date.fromisoformat(text).isoformat() == text
    except ValueError:
        proper = False
    if not proper:
        raise CannotKeep(f"“{text}” is no date. Write it as 2026-03-01.")


def check_time_of_day(text: str) -> None:
    """A time of day (`21:10`) or empty."""
    if text and not _TIME_OF_DAY.fullmatch(text):
        raise CannotKeep(f"“{text}” is no time of day. Write it as 21:10, from 00:00 to 23:59.")


def _animal(animal: model.Animal) -> None:
    if not animal.name.strip():
        raise CannotKeep("An animal needs a name.")
    check_date(animal.born, partial=True)


def _life_event(event: model.LifeEvent) -> None:
    if not event.kind.strip():
        raise CannotKeep("An event in an animal's life needs a kind, such as moult or fed.")
    check_date(event.date)


def _loan(loan: model.Loan) -> None:
    check_date(loan.start)
    check_date(loan.end)
    check_date(loan.returned)
    if loan.start and loan.end and loan.end < loan.start:
        raise CannotKeep(f"A loan cannot end ({loan.end}) before it starts ({loan.start}).")
    if loan.start and loan.returned and loan.returned < loan.start:
        raise CannotKeep(f"An animal cannot be given back ({loan.returned}) before the loan starts ({loan.start}).")


def _species_note(note: model.SpeciesNote) -> None:
    if not note.species.strip():
        raise CannotKeep("A note on a species needs the name of the species or genus.")
    if not note.what.strip():
        raise CannotKeep("A note on a species needs to say what it is about.")
    if note.low is None and note.high is None and not note.note.strip():
        raise CannotKeep("A note on a species needs a range or words.")
    if any(end is not None and not 0 <= end <= 1e5 for end in (note.low, note.high)):
        raise CannotKeep("The ends of a range lie between 0 and 100,000.")
    if note.low is not None and note.high is not None and note.high < note.low:
        raise CannotKeep(f"A range cannot end ({note.high:g}) below its beginning ({note.low:g}).")


def _session(session: model.Session) -> None:
    check_date(session.date)
    check_time_of_day(session.time_of_day)
    if session.female_id is not None and session.female_id == session.male_id:
        raise CannotKeep("The female and the male of a session cannot be the same animal.")
    if session.humidity_pct is not None and not 0 <= session.humidity_pct <= 100:
        raise CannotKeep(f"Humidity is between 0 and 100 %, not {session.humidity_pct}.")


def _clip(clip: model.ClipRecord) -> None:
    if not clip.path:
        raise CannotKeep("A clip needs the path of its film.")
    if not FINEST <= clip.time_base <= COARSEST:
        raise CannotKeep(f"A clip's time base lies between 1/10^12 of a second and one hour, not {clip.time_base} s.")
    if abs(clip.offset) > LONGEST_S or max(abs(clip.first_pts), abs(clip.end_pts)) * clip.time_base > LONGEST_S:
        raise CannotKeep("The times of a clip are larger than those of any film.")
    if clip.end_pts < clip.first_pts or clip.frames < 0 or clip.size < 0 or clip.width < 0 or clip.height < 0:
        raise CannotKeep(f"The facts of the clip “{clip.path}” contradict each other.")


def _span(thing: model.ShotRecord | model.SpanRecord | model.Reviewed) -> None:
    if thing.end_pts < thing.start_pts:
        raise CannotKeep("A stretch of film cannot end before it starts.")


def _shot(shot: model.ShotRecord) -> None:
    _span(shot)
    if shot.planted < 0 or (shot.smallest_pull is not None and not 0 < shot.smallest_pull <= 10):
        raise CannotKeep("The smallest pull found in a shot lies between 0 and 10 abdomen lengths.")


def _region(region: model.RegionRecord) -> None:
    if region.source not in SOURCES:
        raise CannotKeep(f"A followed region was drawn, pressed or found, not “{region.source}”.")
    if max(abs(region.x), abs(region.y), abs(region.w), abs(region.h), abs(region.length)) > 1e6:
        raise CannotKeep("A followed region lies within a million pixels of the picture.")
    if not 0 <= region.confidence <= 1:
        raise CannotKeep(f"The confidence of a region is between 0 and 1, not {region.confidence}.")


def _outline(outline: model.Outline) -> None:
    if (outline.press_x is None) != (outline.press_y is None):
        raise CannotKeep("A press needs both its places, across and down. Press again.")
    if max(abs(outline.press_x or 0.0), abs(outline.press_y or 0.0)) > 1e6:
        raise CannotKeep("A press lies within a million pixels of the picture. Press again.")
    if not (outline.w > 0 and outline.h > 0):
        raise CannotKeep("An outline needs a width and a height above zero. Draw it again.")
    if max(abs(outline.x), abs(outline.y), outline.w, outline.h) > 1e6:
        raise CannotKeep("An outline lies within a million pixels of the picture. Draw it again.")
    if outline.part not in PARTS:
        raise CannotKeep(f"An outline is of abdomen, carapace or male, not of “{outline.part}”.")


def _mark(mark: model.Mark) -> None:
    if not mark.act.strip():
        raise CannotKeep("A mark needs an act.")
    if mark.end_pts is not None and mark.end_pts < mark.start_pts:
        raise CannotKeep("An act cannot end before it begins. Step to a later frame, or undo its beginning.")
    if mark.end_pts is not None and not mark.lasting:
        raise CannotKeep("A momentary act has no end.")


def _flag(flag: model.FlagRecord) -> None:
    if flag.full_pts < flag.onset_pts or (flag.release_pts is not None and flag.release_pts < flag.onset_pts):
        raise CannotKeep("A pull cannot be complete or let go before it begins.")
    if flag.score is not None and not 0 <= flag.score <= 1:
        raise CannotKeep(f"A flag's score is between 0 and 1, not {flag.score}.")


def _call(call: model.Call) -> None:
    if call.palp not in PALPS:
        raise CannotKeep(f"The palp of a call is left, right or not told, not “{call.palp}”.")


def _outcome(outcome: model.Outcome) -> None:
    if not outcome.kind.strip():
        raise CannotKeep("An outcome needs a kind, such as laid or moulted.")
    check_date(outcome.date)
    for stage, number in outcome.counts:
        if not isinstance(number, int) or number < 0:
            raise CannotKeep(f"The count of “{stage}” must be a whole number of 0 or more, not {number}.")
    if outcome.sac < 1:
        raise CannotKeep(f"Sacs are counted from 1, not from {outcome.sac}.")
    if outcome.kept not in KEPT:
        raise CannotKeep(f"A sac is kept with her or by hand, not “{outcome.kept}”.")
    if outcome.humidity_pct is not None and not 0 <= outcome.humidity_pct <= 100:
        raise CannotKeep(f"Humidity is between 0 and 100 %, not {outcome.humidity_pct}.")


def _reminder(reminder: model.Reminder) -> None:
    if not reminder.date:
        raise CannotKeep("A reminder needs a date.")
    check_date(reminder.date)


# Time bases of film lie between nanoseconds and a second. Own choice, with room to spare: beyond, a number of
# seconds comes out as zero or as endless.
FINEST, COARSEST, LONGEST_S = Fraction(1, 10**12), Fraction(3_600), 10**18

_RULES: dict[type, Any] = {
    model.Animal: _animal,
    model.LifeEvent: _life_event,
    model.Loan: _loan,
    model.SpeciesNote: _species_note,
    model.Session: _session,
    model.ClipRecord: _clip,
    model.ShotRecord: _shot,
    model.SpanRecord: _span,
    model.RegionRecord: _region,
    model.Outline: _outline,
    model.Mark: _mark,
    model.FlagRecord: _flag,
    model.Call: _call,
    model.Reviewed: _span,
    model.Outcome: _outcome,
    model.Reminder: _reminder,
}
