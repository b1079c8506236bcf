"""A pass of the book as the motion pass gave it, so that one shot of it can be computed anew and put in its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from clipmark.book.model import ClipRecord, FlagRecord, PassRecord, SessionRecord

if TYPE_CHECKING:
    from clipmark.media.index.frame_index import FrameIndex
    from clipmark.motion.result import Flag, ScanResult, Trace


def kept_pass(record: SessionRecord, clip: ClipRecord, trace: Trace, index: FrameIndex) -> ScanResult | None:
    """The current pass of a clip; None where it has none, or where it does not fit the film's frames.

    Args:
        trace: of that pass.
    """
    from clipmark.motion.result import FrameSpan, ScanResult, Sensitivity, Shot, Ticks, UsedOutline, in_ticks

    made = current_pass(record, clip.id)
    if made is None or len(trace.x) != len(index):
        return None
    ticks = Ticks(index.pts, int(index.end_pts))

    def frame(pts: int) -> int:
        return len(index) if pts >= index.end_pts else index.at_or_before(pts)

    mine = [one for one in record.spans if one.pass_id == made.id]
    spans = [FrameSpan(frame(one.start_pts), frame(one.end_pts), one.why, one.cause) for one in mine]
    shots = [one for one in record.shots if one.clip_id == clip.id]
    told = [one for one in shots if one.planted]
    result = ScanResult(
        shots=tuple(Shot(frame(one.start_pts), frame(one.end_pts), one.begins) for one in shots),
        trace=trace,
        flags=tuple(_flag(one, index) for one in record.flags if one.pass_id == made.id),
        watched=tuple(one for one in spans if not one.why),
        unwatched=tuple(one for one in spans if one.why),
        parameters=made.parameters,
        frames_per_s=made.frames_per_s,
        outlines=tuple(
            UsedOutline(
                frame(one.pts), one.source, one.fitted, one.x, one.y, one.w, one.h, one.length, one.angle_deg,
                one.confidence,
            )
            for one in record.regions if one.pass_id == made.id
        ),
        sensitivity=tuple(Sensitivity(frame(one.start_pts), one.planted, one.smallest_pull) for one in told),
    )  # fmt: skip
    return in_ticks(result, ticks)


def current_pass(record: SessionRecord, clip_id: int) -> PassRecord | None:
    """The pass of a clip whose flags are in view."""
    return next((one for one in record.passes if one.clip_id == clip_id and one.current), None)


def _flag(flag: FlagRecord, index: FrameIndex) -> Flag:
    from clipmark.motion.result import Flag

    return Flag(
        onset=index.at_or_before(flag.onset_pts),
        full=index.at_or_before(flag.full_pts),
        release=None if flag.release_pts is None else index.at_or_before(flag.release_pts),
        score=flag.score or 0.0,
        pull=flag.pull or 0.0,
        tilt_deg=flag.tilt_deg or 0.0,
        direction_deg=flag.direction_deg,
        because=flag.because,
        doubts=flag.doubts,
        flagged=flag.flagged,
        features=dict(flag.features),
    )
