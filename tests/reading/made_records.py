"""Builds session records by hand: a session of invented animals, marks in seconds, flags with calls."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from clipmark.book.meaning.acts import BUILT_IN, built_in
from clipmark.book.model import (
    Actor,
    Animal,
    Call,
    ClipRecord,
    Decision,
    FlagRecord,
    Mark,
    Outcome,
    PassRecord,
    Reviewed,
    Session,
    SessionRecord,
    Sex,
    SpanRecord,
)

MS = Fraction(1, 1000)


def ticks(seconds: float) -> int:
    """Seconds as the clip's milliseconds."""
    return round(seconds * 1000)


class Made:
    """Collects a session; every call returns the id it gave. Times are seconds of the clip."""

    def __init__(
        self,
        length: float = 600,
        reviewer: str = "Ada",
        session_id: int = 1,
        species: str = "Grammostola inventata",
        date: str = "2026-03-01",
        female_id: int = 1,
    ):
        self.session = Session(session_id, "First evening", female_id, 2, date=date, reviewer=reviewer)
        self.female = Animal(female_id, "Morgana", Sex.FEMALE, species)
        self.male = Animal(2, "Pellinor", Sex.MALE, species)
        self.clips: list[ClipRecord] = []
        self.marks: list[Mark] = []
        self.flags: list[FlagRecord] = []
        self.older: list[FlagRecord] = []
        self.calls: list[Call] = []
        self.passes: list[PassRecord] = []
        self.spans: list[SpanRecord] = []
        self.outcomes: list[Outcome] = []
        self.reviewed: list[Reviewed] = []
        if length:
            self.clip(length)

    def clip(self, length: float, offset: float | Fraction = 0, first_pts: int = 0, camera: str = "") -> int:
        number = len(self.clips) + 1
        self.clips.append(
            ClipRecord(
                number,
                self.session.id,
                f"film{number}.mp4",
                1,
                f"f{number}",
                Fraction(offset),
                MS,
                first_pts,
                first_pts + ticks(length),
                max(1, round(length * 25)),
                640,
                360,
                camera,
            )
        )
        return number

    def mark(
        self,
        act: str,
        start: float,
        end: float | None = None,
        clip: int = 1,
        by: str = "Ada",
        actor: Actor | None = None,
        note: str = "",
    ) -> int:
        known = built_in(act)
        assert known is not None, act
        first = self.clips[clip - 1].first_pts
        number = len(self.marks) + 1
        self.marks.append(
            Mark(
                number,
                clip,
                act,
                actor or known.actor,
                first + ticks(start),
                None if end is None else first + ticks(end),
                known.lasting,
                by,
                note,
            )
        )
        return number

    def flag(
        self,
        onset: float,
        full: float | None = None,
        release: float | None = None,
        clip: int = 1,
        call: Decision | None = None,
        by: str = "Ada",
        palp: str = "",
        flagged: bool = True,
        parameters: str = "pulls-1",
        score: float = 0.8,
    ) -> int:
        number = len(self.flags) + len(self.older) + 1
        self.flags.append(
            FlagRecord(
                number,
                clip,
                clip,
                ticks(onset),
                ticks(onset + 0.2 if full is None else full),
                None if release is None else ticks(release),
                score,
                0.2,
                4.0,
                None,
                "pulled",
                flagged=flagged,
                parameters=parameters,
            )
        )
        if call is not None:
            self.call(number, call, by, palp)
        return number

    def call(self, flag: int, decision: Decision, by: str = "Ada", palp: str = "", cause: str = "") -> int:
        number = len(self.calls) + 1
        self.calls.append(Call(number, flag, by, decision, palp=palp, cause=cause, made_at="2026-03-02T10:00:00Z"))
        return number

    def watched(self, start: float, end: float, clip: int = 1, why: str = "") -> None:
        if clip not in {p.id for p in self.passes}:
            self.passes.append(PassRecord(clip, clip, "pulls-1", "2026-03-02T09:00:00Z", 200.0))
        self.spans.append(SpanRecord(clip, ticks(start), ticks(end), why))

    def watched_in_full(self, start: float, end: float, clip: int = 1, by: str = "Ada") -> None:
        self.reviewed.append(Reviewed(len(self.reviewed) + 1, clip, by, ticks(start), ticks(end)))

    def outcome(self, kind: str, date: str, **counts: int) -> None:
        number = len(self.outcomes) + 1
        self.outcomes.append(Outcome(number, self.session.id, kind, date, tuple(counts.items())))

    def record(self) -> SessionRecord:
        clips = {c.id: c for c in self.clips}
        return SessionRecord(
            session=self.session,
            female=self.female,
            male=self.male,
            clips=tuple(self.clips),
            shots=(),
            outlines=(),
            acts=BUILT_IN,
            marks=tuple(sorted(self.marks, key=lambda m: (clips[m.clip_id].on_clock(m.start_pts), m.id))),
            passes=tuple(self.passes),
            flags=tuple(self.flags),
            older_flags=tuple(self.older),
            spans=tuple(self.spans),
            calls=tuple(self.calls),
            outcomes=tuple(self.outcomes),
            reminders=(),
            reviewed=tuple(self.reviewed),
        )


def of_species(record: SessionRecord, species: str) -> SessionRecord:
    assert record.female is not None
    return replace(record, female=replace(record.female, species=species))
