"""Which shot of the book a tick lies in."""

from __future__ import annotations

from collections.abc import Iterable

from clipmark.book.model import ClipRecord, ShotRecord


def shot_at(shots: Iterable[ShotRecord], clip: ClipRecord, pts: int) -> tuple[int, int]:
    """Ticks [start, end) of the shot round a tick; the whole clip where its cuts are not known yet."""
    for shot in shots:
        if shot.clip_id == clip.id and shot.start_pts <= pts < shot.end_pts:
            return shot.start_pts, shot.end_pts
    return clip.first_pts, clip.end_pts
