"""What happened, told in a paragraph: only what was marked, called or measured, and what could not be seen."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from clipmark.book.model import Animal, SessionRecord
from clipmark.reading.figure import joined, plural, seconds_text
from clipmark.reading.session.ending import EndKind
from clipmark.reading.session.measures import Reading
from clipmark.report.text import isolated, one_line
from clipmark.timebase import clock

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


_UNITS = re.compile(r"(\d) (s|ms|min|%)(?!\w)")  # a number and its unit stay on one line


def day(text: str) -> str:
    """`1 March 2026`; a text that is no date stays as it is."""
    try:
        at = date.fromisoformat(text)
    except ValueError:
        return one_line(text, 40)
    return f"{at.day} {MONTHS[at.month - 1]} {at.year}"


def named(animal: Animal | None, otherwise: str) -> str:
    """The animal's name on one line, or the other words where it has none."""
    return isolated(one_line(animal.name, 60)) if animal and animal.name.strip() else otherwise


def verdict(reading: Reading) -> str:
    """The one line that matters: `1 confirmed of 3 judgeable, 0 not visible`, and what is still open."""
    found = reading.insertions
    if not found.candidates:
        return "No candidate insertion"
    parts = [f"{found.confirmed} confirmed of {found.judgeable} judgeable, {found.not_visible} not visible"]
    if found.uncalled:
        parts.append(f"{found.uncalled} not called yet")
    return " · ".join(parts)


def story(record: SessionRecord, reading: Reading) -> tuple[str, ...]:
    """A sentence each, in the order in which it happened."""
    return tuple(
        _UNITS.sub("\\1\u00a0\\2", sentence)
        for part in (_meeting, _courtship, _insertions, _end, _watched)
        for sentence in part(record, reading)
    )


def _meeting(record: SessionRecord, reading: Reading) -> Iterable[str]:
    her, him = named(record.female, "the female"), named(record.male, "the male")
    when = f" on {day(record.session.date)}" if record.session.date else ""
    yield f"{_capital(him)} was put to {her}{when}."
    observed = reading.observed
    if observed.introduced:
        yield f"The introduction is at {clock(observed.start, 1)}; all delays run from there."


def _courtship(record: SessionRecord, reading: Reading) -> Iterable[str]:
    told = {
        "drumming": "he first drummed {0} later", "answer": "she first answered after {0}",
        "contact": "they first touched after {0}", "clasp": "he had her in the clasp after {0}",
    }  # fmt: skip
    seen, unseen = [], []
    for key, words in told.items():
        figure = reading.figure(f"latency.{key}")
        if figure.value is None:
            unseen.append(
                {"drumming": "drumming", "answer": "answer of hers", "contact": "contact", "clasp": "clasp"}[key]
            )
        else:
            seen.append((figure.value, words.format(seconds_text(figure.value))))  # type: ignore[arg-type]
    if seen:
        yield f"{_capital(joined(words for _, words in sorted(seen, key=lambda s: s[0])))}."
    if unseen:
        yield f"No {joined(unseen, 'or')} {'is' if len(unseen) == 1 else 'are'} marked."
    held = reading.figure("time.clasped")
    if held.value:
        yield f"The clasp lasted {held.text}."


def _insertions(record: SessionRecord, reading: Reading) -> Iterable[str]:
    found = reading.insertions
    if not found.candidates:
        yield "No pull was flagged and no insertion was marked."
        return
    yield (
        f"Of {plural(len(found.candidates), 'candidate insertion')} {found.judgeable} could be judged: "
        f"{found.confirmed} confirmed, {found.probable} probable, {plural(found.attempts, 'attempt')}."
    )
    rest = (
        (found.not_visible, "not visible"),
        (found.other, "something else"),
        (found.uncalled, "not called yet"),
        (len(found.contradicted), "contradicted: marked as an insertion and called something else"),
    )
    if any(number for number, _ in rest):
        parts = [f"{number} {'was' if number == 1 else 'were'} {words}" for number, words in rest if number]
        yield f"{joined(parts)}."
    inserted = reading.figure("time.inserted")
    if inserted.value:
        yield f"Confirmed and probable ones together took {inserted.text} from pull to release."


def _end(record: SessionRecord, reading: Reading) -> Iterable[str]:
    kind, sentence = reading.ending.kind, reading.ending.sentence
    if kind is EndKind.KILLED:
        yield sentence
    elif kind is EndKind.CALM:
        yield sentence.replace("Calm:", "It ended calmly:", 1)
    elif kind is EndKind.OPEN:
        yield sentence.replace("Not told:", "How it ended is not told:", 1)
    else:
        yield f"In the end {sentence[:1].lower()}{sentence[1:]}"


def _watched(record: SessionRecord, reading: Reading) -> Iterable[str]:
    figure = reading.figure("time.watched")
    if not reading.observed.scanned:
        yield "No motion pass was made, so no pull was looked for."
    elif figure.value is not None and figure.value < 1:
        yield (
            f"The motion pass could follow her in {figure.text} of the observed time; silence elsewhere proves "
            "nothing."
        )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
