"""Keeping what a motion pass found: ticks instead of frames, and calls carried over from older passes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from clipmark.book.errors import CannotKeep
from clipmark.book.forms import rows
from clipmark.book.model import FlagRecord, PassRecord, RegionRecord, ShotRecord, SpanRecord
from clipmark.book.steps import journal
from clipmark.book.steps.carry_calls import carry_calls, judged
from clipmark.book.steps.edits import Edits

if TYPE_CHECKING:
    from clipmark.motion.result import Flag, ScanResult, Shot, UsedOutline


class Passes(Edits):
    """The part of a Book that takes in motion passes."""

    def keep_pass(self, clip_id: int, result: ScanResult) -> PassRecord:
        """As `add_pass`, except that a pass that the book has already as the clip's current one, to the last number
        of its trace, is not kept twice: a program may have been killed between keeping it and saying so."""
        from clipmark.book.forms.traces import packed

        frames, columns, data = packed(result.trace)
        there = (
            "clip_id = ? AND current AND parameters = ? AND EXISTS (SELECT 1 FROM trace WHERE pass_id = pass.id"
            " AND frames = ? AND columns = ? AND data = ?)"
        )
        with self.step("keep a motion pass"):
            known = self.rows_of(rows.PASS, there, (clip_id, result.parameters, frames, columns, data))
            return known[-1] if known else self.add_pass(clip_id, result)

    def add_pass(self, clip_id: int, result: ScanResult) -> PassRecord:
        """Keep a motion pass of a clip as its current one, in one step of undo.

        The older pass stays in the book with its flags and calls. Each reviewer's latest call on one of its flags
        is carried over to the new flag of the same pull (`Call.carried_from`); so are calls on a keeper's own flag,
        which then stands with the older flags (`FlagRecord.proposed_as`), so that no pull counts twice. A pull that
        was called confirmed, probable or attempt and that the new pass does not propose stays in view as the
        reviewer's own flag.

        Raises:
            CannotKeep: the pass does not fit the clip's frames.
        """
        from clipmark.book.forms.traces import packed

        clip = self._one(rows.CLIP, clip_id)
        frames, columns, data = packed(result.trace)
        ticks = _Ticks(result)
        if frames != len(ticks):
            raise CannotKeep(f"The motion pass covers {frames} frames, the film has {len(ticks)}. Run it again.")
        with self.step("keep a motion pass") as writer:
            older = judged(self, clip_id)
            for (row_id,) in self._db.execute("SELECT id FROM pass WHERE clip_id = ? AND current", (clip_id,)):
                writer.update("pass", row_id, {"current": 0})
            record = PassRecord(0, clip_id, result.parameters, journal.now(), float(result.frames_per_s))
            record = replace(record, id=writer.insert("pass", rows.encode(record)))
            self._db.execute("INSERT INTO trace VALUES (?, ?, ?, ?)", (record.id, frames, columns, data))
            for span in (*result.watched, *result.unwatched):
                kept = SpanRecord(record.id, ticks.at(span.start), ticks.at(span.end), span.why, span.cause)
                writer.insert("span", rows.encode(kept))
            self.set_shots(
                clip_id,
                [_shot_record(one, clip_id, result, ticks) for one in result.shots],
            )
            for outline in result.outlines:
                writer.insert("region", rows.encode(_region_record(outline, record, ticks)))
            flags = [_flag_record(flag, clip_id, record, ticks) for flag in result.flags]
            flags = [replace(flag, id=writer.insert("flag", rows.encode(flag))) for flag in flags]
            carry_calls(writer, older, [flag for flag in flags if flag.flagged], clip.time_base)
        return record


class _Ticks:
    """The ticks of a pass, asked with the sentence that a keeper gets where it does not fit the film."""

    def __init__(self, result: ScanResult):
        self._ticks = result.ticks
        self._first = int(self._ticks.pts[0]) if len(self._ticks.pts) else 0

    def __len__(self) -> int:
        return len(self._ticks.pts)

    def at(self, frame: int) -> int:
        """Tick of a frame of the pass."""
        try:
            return self._ticks.at(frame)
        except IndexError as error:
            names = f"The motion pass names frame {frame} of a film of {len(self)}."
            raise CannotKeep(f"{names} Run it again.") from error

    def inside(self, tick: int) -> int:
        """The same tick, if the film has it."""
        if not self._first <= tick <= self._ticks.end_pts:
            raise CannotKeep(f"The motion pass names tick {tick}, which the film does not have. Run it again.")
        return int(tick)


def _shot_record(shot: Shot, clip_id: int, result: ScanResult, ticks: _Ticks) -> ShotRecord:
    told = next((one for one in result.sensitivity if one.start == shot.start and one.planted), None)
    return ShotRecord(
        0, clip_id, ticks.at(shot.start), ticks.at(shot.end), shot.begins, told.planted if told else 0,
        _number(told.smallest) if told else None,
    )  # fmt: skip


def _region_record(outline: UsedOutline, record: PassRecord, ticks: _Ticks) -> RegionRecord:
    return RegionRecord(
        id=0,
        pass_id=record.id,
        pts=ticks.at(outline.frame),
        source=outline.source,
        fitted=bool(outline.fitted),
        x=float(outline.x),
        y=float(outline.y),
        w=float(outline.w),
        h=float(outline.h),
        length=float(outline.length),
        angle_deg=_number(outline.angle_deg),
        confidence=float(min(max(outline.confidence, 0.0), 1.0)),
    )


def _flag_record(flag: Flag, clip_id: int, record: PassRecord, ticks: _Ticks) -> FlagRecord:
    return FlagRecord(
        id=0,
        clip_id=clip_id,
        pass_id=record.id,
        onset_pts=ticks.inside(flag.onset_pts),
        full_pts=ticks.inside(flag.full_pts),
        release_pts=None if flag.release_pts is None else ticks.inside(flag.release_pts),
        score=_number(flag.score),
        pull=_number(flag.pull),
        tilt_deg=_number(flag.tilt_deg),
        direction_deg=_number(flag.direction_deg),
        because=flag.because,
        doubts=tuple(flag.doubts),
        flagged=bool(flag.flagged),
        features=tuple((name, float(value)) for name, value in flag.features.items() if _number(value) is not None),
        parameters=record.parameters,
    )


def _number(value: float | None) -> float | None:
    """A plain float; None for what is not finite, which no table takes."""
    import math

    return float(value) if value is not None and math.isfinite(value) else None
