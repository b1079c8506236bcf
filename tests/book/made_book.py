"""Books with known content for the tests: invented animals, one of everything that a book can hold."""

from __future__ import annotations

from dataclasses import fields
from fractions import Fraction
from pathlib import Path

import numpy as np

from clipmark.book.model import (
    Actor,
    Animal,
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    LifeEvent,
    Loan,
    Mark,
    Outcome,
    Outline,
    Reminder,
    Reviewed,
    Session,
    Sex,
    Sign,
    SpeciesNote,
)
from clipmark.book.store import Book
from clipmark.motion.result import Flag, FrameSpan, ScanResult, Sensitivity, Shot, Ticks, Trace, UsedOutline, in_ticks

FRAMES = 100
TICKS = np.arange(FRAMES, dtype=np.int64) * 40 + 7  # a film that starts late, 25 frames a second
END = 7 + FRAMES * 40
MILLISECONDS = Fraction(1, 1000)


def clip_of(
    session_id: int, offset: Fraction = Fraction(0), path: str = "/films/visit.mp4", print_: str = "a1"
) -> ClipRecord:
    return ClipRecord(0, session_id, path, 1234, print_, offset, MILLISECONDS, 7, END, FRAMES, 640, 360)


def mark_of(
    clip_id: int, act: str = "drumming", start: int = 47, end: int | None = -1, reviewer: str = "Ada"
) -> Mark:
    """A lasting mark, of one frame where no end is given; None leaves it open."""
    return Mark(0, clip_id, act, Actor.HIM, start, start + 40 if end == -1 else end, True, reviewer)


def moment_of(clip_id: int, act: str, at: int, reviewer: str = "Ada") -> Mark:
    return Mark(0, clip_id, act, Actor.HIM, at, None, False, reviewer)


def trace_of(frames: int = FRAMES, seed: int = 0) -> Trace:
    rng = np.random.default_rng(seed)
    return Trace(*(rng.normal(size=frames).astype(np.float32).astype(np.float64) for _ in fields(Trace)))


def flag_of(onset: int, score: float = 0.8, flagged: bool = True) -> Flag:
    return Flag(
        onset, onset + 4, onset + 20, score, 0.3, -4.5, 90.0, "Her abdomen was drawn in.", ("half hidden",), flagged,
        {"jump": 6.5},
    )  # fmt: skip


def result_of(*flags: Flag, parameters: str = "pulls-1", seed: int = 0) -> ScanResult:
    result = ScanResult(
        (Shot(0, 60), Shot(60, FRAMES, "cut")), trace_of(seed=seed), flags, (FrameSpan(0, 90),),
        (FrameSpan(90, FRAMES, "she is behind bark"),), parameters, 250.0,
        outlines=(UsedOutline(0, "drawn", True, 10.0, 20.0, 80.0, 60.0, 78.5, 31.0, 0.9),
                  UsedOutline(60, "found", False, 200.0, 90.0, 84.0, 60.0, 84.0, None, 0.7)),
        sensitivity=(Sensitivity(0, 30, 0.06), Sensitivity(60, 12, None)),
    )  # fmt: skip
    return in_ticks(result, Ticks(TICKS, END))


def new_session(book: Book, title: str = "First visit") -> tuple[Session, ClipRecord]:
    """A session with one clip of 100 frames."""
    session = book.add_session(Session(0, title, None, None, "2026-03-01"))
    return session, book.add_clip(clip_of(session.id))


def add_pass(book: Book, clip: ClipRecord, *onsets: int, parameters: str = "pulls-1") -> int:
    made = book.add_pass(clip.id, result_of(*(flag_of(onset) for onset in onsets), parameters=parameters))
    return made.id


def call_of(flag_id: int, decision: Decision = Decision.CONFIRMED, reviewer: str = "Ada") -> Call:
    return Call(0, flag_id, reviewer, decision, (Sign.PALPS_STILL, Sign.ABDOMEN_DRAWN), "left", "", "clear")


def full_book(path: Path) -> Book:
    """A book that holds at least one of everything; two passes, so that calls were carried over."""
    book = Book.open(path, backups=False)
    her = book.add_animal(
        Animal(0, "Umbra", Sex.FEMALE, "Grammostola pulchra", "2015", "captive-bred", "Ada", "calm")
    )
    him = book.add_animal(Animal(0, "Tarn", Sex.MALE, "Grammostola pulchra", owner="Bo"))
    book.add_life_event(LifeEvent(0, her.id, "moult", "2025-09-12", "=1+1"))
    book.add_loan(Loan(0, him.id, "Bo", "Ada", "2026-02-20", "", "return by May", "half"))
    session = book.add_session(
        Session(
            0, "First <visit>", her.id, him.id, "2026-03-01", "shelf 2", 24.5, 70.0, "Ada", 'שלום\n🕷 "quoted", -2'
        )
    )
    first = book.add_clip(clip_of(session.id))
    second = book.add_clip(clip_of(session.id, Fraction(1, 3), "/films/side.mp4", "b2"))
    book.add_outline(Outline(0, first.id, 7, 210.5, 96.0, 84.0, 60.0))
    book.add_mark(moment_of(first.id, "introduced", 7))
    book.add_mark(mark_of(first.id))
    book.add_mark(mark_of(second.id, "clasp", 87, None))
    add_pass(book, first, 10, 50)
    for flag in book.session(session.id).flags:
        book.add_call(call_of(flag.id))
    add_pass(book, first, 11, parameters="pulls-2")
    book.add_flag(FlagRecord(0, second.id, None, 207, 247, None, None, None, None, None, "seen by eye", by="Bo"))
    book.add_reviewed(Reviewed(0, first.id, "Ada", 7, END))
    book.add_outcome(Outcome(0, session.id, "laid", "2026-05-02", (("eggs", 300), ("eggs with legs", 250))))
    book.add_outcome(
        Outcome(
            0,
            session.id,
            "pulled",
            "2026-05-30",
            (),
            "second",
            2,
            temperature_c=26.5,
            humidity_pct=75,
            kept="by hand",
        )
    )
    book.add_species_note(SpeciesNote(0, "Grammostola inventata", "pairing_to_sac", 60, 90, "days", "two sacs"))
    book.add_reminder(Reminder(0, session.id, "2026-05-30", "pull the sac"))
    book.set_acts(book.acts()[:5], "short list")
    return book
