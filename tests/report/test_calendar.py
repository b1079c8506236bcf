"""Reminders land in a calendar on their day, once, however often they are exported."""

from dataclasses import replace
from datetime import UTC, date, datetime

import icalendar
import pytest

from clipmark.book.model import Loan
from clipmark.reading.advice.loans import loan_ends
from clipmark.report.exports.calendar_file import NoReminders, calendar, uid
from tests.report import by_hand

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def events(record):
    # the outside reader: the icalendar library, strict about RFC 5545's grammar
    return list(icalendar.Calendar.from_ical(calendar(record, NOW)).walk("VEVENT"))


def test_a_reminder_is_an_all_day_event_on_its_day():
    day, event = events(by_hand.pairing())

    assert date.fromisoformat(by_hand.pairing().session.date) == day.decoded("dtstart")
    assert "Ember × Ash: pairing" == str(day["summary"])
    assert date(2026, 4, 26) == event.decoded("dtstart")
    assert date(2026, 4, 27) == event.decoded("dtend")
    assert "Ember × Ash: Look for a sac" == str(event["summary"])
    assert "sac-1@clipmark" == str(event["uid"])


def test_writing_it_again_gives_the_same_name_also_where_the_book_has_none():
    record = by_hand.pairing()
    nameless = replace(record, reminders=(replace(record.reminders[0], uid=""),))
    renamed = replace(nameless, session=replace(record.session, title="another title"))

    assert uid(nameless, nameless.reminders[0]) == uid(renamed, renamed.reminders[0])
    assert uid(nameless, nameless.reminders[0]).endswith("@clipmark")


def test_hostile_texts_stay_inside_their_event():
    event = events(by_hand.hostile())[-1]

    assert "BEGIN:VEVENT;=#\\" in str(event["description"])
    assert "x" * 9_999 in str(event["description"])
    assert b"\r\nBEGIN:VEVENT;" not in calendar(by_hand.hostile(), NOW)


def test_lines_are_folded_and_end_as_the_standard_wants():
    raw = calendar(by_hand.hostile(), NOW)

    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert b"\n" not in raw.replace(b"\r\n", b"")


def test_nothing_to_remind_of_is_said_in_a_sentence():
    record = by_hand.pairing()

    done = (replace(record.reminders[0], done=True),)
    with pytest.raises(NoReminders, match="neither a date nor an open reminder"):
        calendar(replace(record, session=replace(record.session, date=""), reminders=done))


def test_the_end_of_a_running_loan_is_an_event_that_keeps_its_name_when_the_day_moves():
    record = by_hand.pairing()
    loan = Loan(3, record.male.id, "Bo", "Ada", "2026-02-01", "2026-05-01", "back fed")
    names = []
    for end in ("2026-05-01", "2026-06-01"):
        ends = loan_ends([replace(loan, end=end)], [record.male], date(2026, 3, 2))  # type: ignore[list-item]
        *_, event = icalendar.Calendar.from_ical(calendar(record, NOW, ends)).walk("VEVENT")
        assert date.fromisoformat(end) == event.decoded("dtstart")
        assert "Loan of Ash ends" == str(event["summary"])
        assert "back to Bo. back fed" in str(event["description"])
        names.append(str(event["uid"]))
    assert names[0] == names[1]


def test_an_animal_that_was_given_back_is_no_event():
    record = by_hand.pairing()
    loan = Loan(3, record.male.id, "Bo", "Ada", "2026-02-01", "2026-05-01", returned="2026-04-20")

    assert () == loan_ends([loan], [record.male], date(2026, 3, 2))  # type: ignore[list-item]
