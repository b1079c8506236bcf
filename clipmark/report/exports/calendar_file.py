"""The day of the pairing and its reminders as an iCalendar file (RFC 5545): all-day, each with a name that stays the
same when it is written again, so that a calendar updates what it has instead of taking it in twice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from clipmark import __version__
from clipmark.atomic_files import atomic_path
from clipmark.book.model import Reminder, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.reading.advice.loans import LoanEnd
from clipmark.report.text import legible, one_line

if TYPE_CHECKING:
    from icalendar.cal import Component


class NoReminders(ClipmarkError):
    def __init__(self, title: str):
        super().__init__(
            f"“{title}” has neither a date nor an open reminder with a date. "
            "Enter its date on the page Pair or a reminder on the page After, then export again."
        )


def uid(record: SessionRecord, reminder: Reminder) -> str:
    """The reminder's lasting name: the book's own; where it has none, made of the session's film and the ids."""
    known = one_line(reminder.uid, 200)
    if known and known.isascii() and known.isprintable():
        return known
    film = record.clips[0].fingerprint if record.clips else ""
    return f"{uuid5(NAMESPACE_URL, f'clipmark:{film}:{record.session.id}:{reminder.id}:{reminder.uid!r}')}@clipmark"


def session_uid(record: SessionRecord) -> str:
    """The lasting name of the pairing's own day, made of the session's film and its id."""
    film = record.clips[0].fingerprint if record.clips else ""
    return f"{uuid5(NAMESPACE_URL, f'clipmark:{film}:{record.session.id}:day')}@clipmark"


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def pair_name(record: SessionRecord) -> str:
    """`Ember × Ash`, or the session's title where an animal is not named."""
    if record.female and record.male and record.female.name and record.male.name:
        return f"{one_line(record.female.name, 60)} × {one_line(record.male.name, 60)}"
    return one_line(record.session.title, 120) or f"Session {record.session.id}"


def loan_uid(end: LoanEnd) -> str:
    """The lasting name of the end of a loan, made of what never changes about it."""
    loan = end.loan
    return f"{uuid5(NAMESPACE_URL, f'clipmark:loan:{loan.id}:{loan.animal_id}:{loan.owner}:{loan.start}')}@clipmark"


def calendar(record: SessionRecord, now: datetime | None = None, loans: Sequence[LoanEnd] = ()) -> bytes:
    """The day of a session, its open reminders and the ends of running loans as one calendar.

    Raises:
        NoReminders: there is nothing to write.
    """
    import icalendar

    whole = icalendar.Calendar()
    whole.add("prodid", f"-//clipmark//{__version__}//EN")
    whole.add("version", "2.0")
    stamp = now or datetime.now(UTC).replace(microsecond=0)
    dated = [(day, r) for r in record.reminders if not r.done and (day := _day(r.date)) is not None]
    held = _day(record.session.date)
    if not dated and held is None and not loans:
        raise NoReminders(one_line(record.session.title, 120))
    if held is not None:
        whole.add_component(_all_day(session_uid(record), stamp, held, f"{pair_name(record)}: pairing", ""))
    for day, reminder in sorted(dated, key=lambda d: (d[0], d[1].id)):
        summary = f"{pair_name(record)}: {one_line(reminder.text, 200)}"
        whole.add_component(_all_day(uid(record, reminder), stamp, day, summary, reminder.text))
    for end in loans:
        text = f"{end.text} {end.loan.terms}".strip()
        whole.add_component(_all_day(loan_uid(end), stamp, end.on, f"Loan of {one_line(end.animal, 60)} ends", text))
    return bytes(whole.to_ical())


def _all_day(name: str, stamp: datetime, day: date, summary: str, text: str) -> Component:
    import icalendar

    event = icalendar.Event()
    event.add("uid", name)
    event.add("dtstamp", stamp)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("summary", summary)
    if text:
        event.add("description", legible(text).replace("\r\n", "\n").replace("\r", "\n"))
    event.add("transp", "TRANSPARENT")
    return event


def write_calendar(record: SessionRecord, path: Path, loans: Sequence[LoanEnd] = ()) -> Path:
    """`calendar` as a file, whole or not at all."""
    content = calendar(record, loans=loans)
    with atomic_path(path) as fresh:
        fresh.write_bytes(content)
    return path
