"""Keeping what a motion pass found: ticks instead of frames, and calls carried over from older passes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from clipmark.book.errors import CannotKeep
from clipmark.book.forms import rows
from clipmark.book.model import FlagRecord, PassRecord, ShotRecord, SpanRecord
from clipmark.book.steps import journal
from clipmark.book.steps.carry_calls import carry_calls, judged
from clipmark.book.steps.edits import Edits

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from clipmark.motion.result import Flag, ScanResult


class Passes(Edits):
    """The part of a Book that takes in motion passes."""

    def keep_pass(self, clip_id: int, result: ScanResult, pts: NDArray[np.int64], end_pts: int) -> PassRecord:
        """As `add_pass`, except that a pass that the book has already as the clip's current one, to the last number
        of its trace, is not kept twice: a program may have been killed between keeping it and saying so."""
        from clipmark.book.forms.traces import packed

        frames, columns, data = packed(result.trace)
        there = (
            "clip_id = ? AND current AND parameters = ? AND EXISTS (SELECT 1 FROM trace WHERE pass_id = pass.id"
            " AND frames = ? AND columns = ? AND data = ?)"
        )
        with self._step("keep a motion pass"):
            known = self._rows(rows.PASS, there, (clip_id, result.parameters, frames, columns, data))
            return known[-1] if known else self.add_pass(clip_id, result, pts, end_pts)

    def add_pass(self, clip_id: int, result: ScanResult, pts: NDArray[np.int64], end_pts: int) -> PassRecord:
        """Keep a motion pass of a clip as its current one, in one step of undo.

        The older pass stays in the book with its flags and calls. Each reviewer's latest call on one of its flags
        is carried over to the new flag of the same pull (`Call.carried_from`); so are calls on a keeper's own flag,
        which then stands with the older flags (`FlagRecord.proposed_as`), so that no pull counts twice. A pull that
        was called confirmed, probable or attempt and that the new pass does not propose stays in view as the
        reviewer's own flag.

        Args:
            pts: ticks of the clip's frames, shape (n,), as the pass counted them.
            end_pts: first tick after the last frame.
        Raises:
            CannotKeep: the pass does not fit the clip's frames.
        """
        from clipmark.book.forms.traces import packed

        clip = self._one(rows.CLIP, clip_id)
        ticks = _Ticks([int(tick) for tick in pts], int(end_pts))
        frames, columns, data = packed(result.trace)
        if frames != len(ticks.pts):
            raise CannotKeep(f"The motion pass covers {frames} frames, the film has {len(ticks.pts)}. Run it again.")
        with self._step("keep a motion pass") as writer:
            older = judged(self, clip_id)
            for (row_id,) in self._db.execute("SELECT id FROM pass WHERE clip_id = ? AND current", (clip_id,)):
                writer.update("pass", row_id, {"current": 0})
            record = PassRecord(0, clip_id, result.parameters, journal.now(), float(result.frames_per_s))
            record = replace(record, id=writer.insert("pass", rows.encode(record)))
            self._db.execute("INSERT INTO trace VALUES (?, ?, ?, ?)", (record.id, frames, columns, data))
            for span in (*result.watched, *result.unwatched):
                kept = SpanRecord(record.id, ticks.at(span.start), ticks.at(span.end), span.why)
                writer.insert("span", rows.encode(kept))
            self.set_shots(
                clip_id,
                [ShotRecord(0, clip_id, ticks.at(one.start), ticks.at(one.end), one.begins) for one in result.shots],
            )
            flags = [_flag_record(flag, clip_id, record, ticks) for flag in result.flags]
            flags = [replace(flag, id=writer.insert("flag", rows.encode(flag))) for flag in flags]
            carry_calls(writer, older, [flag for flag in flags if flag.flagged], clip.time_base)
        return record


class _Ticks:
    """Frames of a pass as ticks; the end of the last frame is `end_pts`."""

    def __init__(self, pts: list[int], end_pts: int):
        self.pts, self.end_pts = pts, end_pts

    def at(self, frame: int) -> int:
        if not 0 <= frame <= len(self.pts):
            raise CannotKeep(f"The motion pass names frame {frame} of a film of {len(self.pts)}. Run it again.")
        return self.pts[frame] if frame < len(self.pts) else self.end_pts


def _flag_record(flag: Flag, clip_id: int, record: PassRecord, ticks: _Ticks) -> FlagRecord:
    return FlagRecord(
        id=0,
        clip_id=clip_id,
        pass_id=record.id,
        onset_pts=ticks.at(flag.onset),
        full_pts=ticks.at(flag.full),
        release_pts=None if flag.release is None else ticks.at(flag.release),
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
