"""A pairing written by hand: a small session whose every time is known, and one whose texts are as bad as can be."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.model import (
    Actor,
    Animal,
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    Mark,
    Outline,
    PassRecord,
    Reminder,
    Session,
    SessionRecord,
    Sex,
    ShotRecord,
    Sign,
    SpanRecord,
)  # fmt: skip
from clipmark.motion.result import Trace
from clipmark.report.pictures.traces import ClipTrace, placed

TICK = Fraction(1, 600)
RATE = 30  # frames a second: 20 ticks each
FIRST = 1200  # the film's own clock starts at 2 s
FRAMES = 90 * RATE

HOSTILE = (
    "<script>alert('x')</script>\"'&--> =HYPERLINK(\"http://example.invalid\") \U0001f577\u202eLTR\u202c "
    "שלום مرحبا\r\n\r\n00:00.000 --> 00:01.000\nBEGIN:VEVENT;=#\\ \x00\x07]]></title></style>"
)


def at(seconds: float) -> int:
    """Tick of the film at so many seconds from its first frame."""
    return FIRST + round(seconds * 600)


def mark(
    ident: int, act: str, actor: Actor, start: float, end: float | None = None, note: str = "", lasting=None
) -> Mark:
    lasts = end is not None if lasting is None else lasting
    return Mark(ident, 1, act, actor, at(start), None if end is None else at(end), lasts, "Mara", note)


def flag(ident: int, onset: float, full: float, release: float | None, **more) -> FlagRecord:
    values = {
        "score": 0.94, "pull": 0.31, "tilt_deg": 12.5, "direction_deg": 175.0, "doubts": (),
        "parameters": "pairing-1", "because": "Her abdomen was drawn 0.31 lengths within 0.2 s and held.",
    }  # fmt: skip
    return FlagRecord(
        id=ident, clip_id=1, pass_id=1, onset_pts=at(onset), full_pts=at(full),
        release_pts=None if release is None else at(release), **(values | more),
    )  # fmt: skip


def pairing() -> SessionRecord:
    """90 s of film: introduced at 5 s, drumming at 14 s, answer, contact at 30 s, four flags, parted at 80 s."""
    return SessionRecord(
        session=Session(
            1, "Ember and Ash, first evening", 1, 2, "2026-03-01", "spider room", 25.5, 68.0, "Mara", "Calm."
        ),
        female=Animal(1, "Ember", Sex.FEMALE, "Tliltocatl albopilosus"),
        male=Animal(2, "Ash", Sex.MALE, "Tliltocatl albopilosus"),
        clips=(
            ClipRecord(
                1, 1, "/films/ember-ash.mp4", 1_234_567, "abc", Fraction(0), TICK, FIRST, at(90), FRAMES, 640, 360
            ),
        ),
        shots=(ShotRecord(1, 1, at(0), at(62), "film"), ShotRecord(2, 1, at(62), at(90), "cut")),
        outlines=(Outline(1, 1, at(0), 300, 150, 90, 60), Outline(2, 1, at(62), 280, 150, 90, 60)),
        acts=BUILT_IN,
        marks=(
            mark(1, "introduced", Actor.KEEPER, 5),
            mark(2, "searching", Actor.HIM, 8, 13.5),
            mark(3, "drumming", Actor.HIM, 14, 18.2, "strong, on her silk"),
            mark(4, "answering", Actor.HER, 19, 22),
            mark(5, "drumming", Actor.HIM, 23, 27),
            mark(6, "contact", Actor.BOTH, 30),
            mark(7, "leg play", Actor.HIM, 30, 36),
            mark(8, "rearing", Actor.HER, 35, 66),
            mark(9, "clasp", Actor.HIM, 37, 66),
            mark(10, "insertion right", Actor.HIM, 44, 49.5),
            mark(11, "insertion left", Actor.HIM, 56, 59),
            mark(12, "out of view", Actor.NOBODY, 62, 65),
            mark(13, "release", Actor.HIM, 66),
            mark(14, "retreat", Actor.HIM, 66, 74),
            mark(15, "separated", Actor.KEEPER, 80),
        ),
        passes=(PassRecord(1, 1, "pairing-1", "2026-03-01T21:00:00Z", 240.0),),
        flags=(
            flag(1, 40, 40.2, 40.6, score=0.61, pull=0.12, tilt_deg=3.0, doubts=("he shook her at the same time",)),
            flag(2, 44, 44.2, 48.9),
            flag(3, 56, 56.15, 58.7, score=0.88, pull=0.22),
            flag(4, 70, 70.3, None, score=0.55, pull=0.4, doubts=("the camera moved at the same time",)),
            flag(5, 75, 75.2, 75.6, score=0.2, flagged=False),
        ),
        older_flags=(),
        spans=(
            SpanRecord(1, at(0), at(62)), SpanRecord(1, at(62), at(65), "a leg lies across her abdomen"),
            SpanRecord(1, at(65), at(90)),
        ),
        calls=(
            Call(1, 1, "Mara", Decision.ATTEMPT, (), "", "", "slid off", "2026-03-02T10:00:00Z"),
            Call(2, 2, "Mara", Decision.CONFIRMED, (Sign.PALPS_STILL, Sign.ABDOMEN_DRAWN), "right", "", "",
                 "2026-03-02T10:01:00Z"),
            Call(3, 3, "Mara", Decision.PROBABLE, (Sign.ABDOMEN_DRAWN,), "left", "", "", "2026-03-02T10:02:00Z"),
            Call(4, 4, "Mara", Decision.OTHER, (), "", "the camera was bumped", "", "2026-03-02T10:03:00Z"),
        ),
        outcomes=(),
        reminders=(Reminder(1, 1, "2026-04-26", "Look for a sac", False, "sac-1@clipmark"),),
    )  # fmt: skip


def trace() -> ClipTrace:
    """The pass's trace of `pairing`: still but for the pulls, nothing where a leg lay across."""
    record = pairing()
    pts = FIRST + 20 * np.arange(FRAMES, dtype=np.int64)
    seconds = np.arange(FRAMES) / RATE
    pull = 0.01 * np.sin(seconds * 9)
    for f in record.flags:
        onset, full = (f.onset_pts - FIRST) / 600, (f.full_pts - FIRST) / 600
        release = (f.release_pts - FIRST) / 600 if f.release_pts else onset + 4
        pull += (f.pull or 0) * np.interp(seconds, [onset, full, release, release + 0.3], [0, 1, 1, 0])
    pull[62 * RATE : 65 * RATE] = np.nan
    like = np.ones(FRAMES)
    values = {name: like.copy() for name in Trace.__dataclass_fields__}
    values |= {
        "pull": pull,
        "tilt": 40 * pull,
        "x": 345 - 90 * pull,
        "y": 180 * like,
        "angle": 40 * pull,
        "length": 90 * like,
    }
    return placed(record.clips[0], 1, pts, Trace(**values))


def hostile() -> SessionRecord:
    """The same pairing, every text that a keeper or a file can give as bad as can be."""
    record = pairing()
    long = HOSTILE + "x" * 10_000
    return replace(
        record,
        session=replace(record.session, title=HOSTILE, place=HOSTILE, reviewer=HOSTILE, note=long, date="2026-03-01"),
        female=replace(record.female, name=HOSTILE, species=HOSTILE, note=long, owner=HOSTILE),
        male=replace(record.male, name="=cmd|' /C calc'!A0", species="+1+1", note="@SUM(1)", owner="-2"),
        clips=(replace(record.clips[0], path=f"/films/{HOSTILE}.mp4", camera=HOSTILE),),
        acts=tuple(replace(a, label=HOSTILE if a.code == "drumming" else a.label) for a in record.acts),
        marks=tuple(replace(m, note=long if m.id == 3 else HOSTILE, reviewer=HOSTILE) for m in record.marks),
        flags=tuple(replace(f, because=HOSTILE, doubts=(HOSTILE, "a"), by=HOSTILE) for f in record.flags),
        spans=tuple(replace(s, why=s.why and HOSTILE) for s in record.spans),
        calls=tuple(replace(c, cause=HOSTILE, note=long, reviewer=HOSTILE) for c in record.calls),
        reminders=(replace(record.reminders[0], text=long, uid=HOSTILE),),
    )
