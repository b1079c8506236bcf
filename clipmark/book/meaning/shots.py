"""Which shot of the book a tick lies in, and what the pass could see in each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from clipmark.book.model import ClipRecord, RegionRecord, SessionRecord, ShotRecord


def shot_at(shots: Iterable[ShotRecord], clip: ClipRecord, pts: int) -> tuple[int, int]:
    """Ticks [start, end) of the shot round a tick; the whole clip where its cuts are not known yet."""
    for shot in shots:
        if shot.clip_id == clip.id and shot.start_pts <= pts < shot.end_pts:
            return shot.start_pts, shot.end_pts
    return clip.first_pts, clip.end_pts


@dataclass(frozen=True, slots=True)
class View:
    """What the current pass could see in one shot.

    Attributes:
        shot: the shot.
        region: what her abdomen was taken for where following began; None where she was not followed.
        drawn: whether a person drew or confirmed an outline of her abdomen in it.
    """

    clip: ClipRecord
    shot: ShotRecord
    region: RegionRecord | None
    drawn: bool

    @property
    def to_check(self) -> bool:
        """Whether the program found her outline by itself and nobody confirmed it."""
        return self.region is not None and self.region.source == "found" and not self.drawn

    @property
    def smallest(self) -> str:
        """How small a pull would have been found, as a sentence; empty where the pass did not look."""
        if not self.shot.planted or self.region is None:
            return ""
        if self.shot.smallest_pull is None:
            return "In this view not even large pulls are surely found."
        share = round(100 * self.shot.smallest_pull)
        return f"In this view pulls of {share} % of her abdomen's length and more are found."


def views(record: SessionRecord) -> tuple[View, ...]:
    """The shots of all clips that have a current pass, clip by clip in order of time."""
    clip_of = {one.id: one.clip_id for one in record.passes if one.current}
    found = []
    for clip in record.clips:
        mine = [one for one in record.regions if clip_of.get(one.pass_id) == clip.id]
        drawn = [one.pts for one in record.outlines if one.clip_id == clip.id and one.part == "abdomen"]
        for shot in record.shots:
            if shot.clip_id == clip.id and clip.id in clip_of.values():
                inside = [one for one in mine if shot.start_pts <= one.pts < shot.end_pts]
                by_hand = any(shot.start_pts <= pts < shot.end_pts for pts in drawn)
                found.append(View(clip, shot, inside[0] if inside else None, by_hand))
    return tuple(found)


def view_at(record: SessionRecord, clip_id: int, pts: int) -> View | None:
    """The view of a clip at a tick; None without a pass."""
    at = (one for one in views(record) if one.clip.id == clip_id)
    return next((one for one in at if one.shot.start_pts <= pts < one.shot.end_pts), None)
