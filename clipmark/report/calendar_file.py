"""Reminders as an iCalendar file (RFC 5545): all-day, each with a name that stays the same when it is written again,
so that a calendar updates what it has instead of taking it in twice."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from clipmark import __version__
from clipmark.book.model import Reminder, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.report.text import legible, one_line
from clipmark.whole import whole_path


class NoReminders(ClipmarkError):
    def __init__(self, title: str):
        super().__init__(f"“{title}” has no open reminder with a date. Add one on the page After, then export again.")


def uid(record: SessionRecord, reminder: Reminder) -> str:
    """The reminder's lasting name: the book's own; where it has none, made of the session's film and the ids."""
    known = one_line(reminder.uid, 200)
    if known and known.isascii() and known.isprintable():
        return known
    film = record.clips[0].fingerprint if record.clips else ""
    return f"{uuid5(NAMESPACE_URL, f'clipmark:{film}:{record.session.id}:{reminder.id}:{reminder.uid!r}')}@clipmark"


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


def calendar(record: SessionRecord, now: datetime | None = None) -> bytes:
    """The open reminders of a session as one calendar.

    Raises:
        NoReminders: there is nothing to write.
    """
    import icalendar

    whole = icalendar.Calendar()
    whole.add("prodid", f"-//clipmark//{__version__}//EN")
    whole.add("version", "2.0")
    stamp = now or datetime.now(UTC).replace(microsecond=0)
    dated = [(day, r) for r in record.reminders if not r.done and (day := _day(r.date)) is not None]
    if not dated:
        raise NoReminders(one_line(record.session.title, 120))
    for day, reminder in sorted(dated, key=lambda d: (d[0], d[1].id)):
        event = icalendar.Event()
        event.add("uid", uid(record, reminder))
        event.add("dtstamp", stamp)
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))
        event.add("summary", f"{pair_name(record)}: {one_line(reminder.text, 200)}")
        event.add("description", legible(reminder.text).replace("\r\n", "\n").replace("\r", "\n"))
        event.add("transp", "TRANSPARENT")
        whole.add_component(event)
    return bytes(whole.to_ical())


def write_calendar(record: SessionRecord, path: Path) -> Path:
    """`calendar` as a file, whole or not at all."""
    content = calendar(record)
    with whole_path(path) as fresh:
        fresh.write_bytes(content)
    return path
