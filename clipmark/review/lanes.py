"""Which clip a camera shows at a session time: a lane is one camera's clips in order; lanes stand side by side."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from clipmark.book.model import ClipRecord

Lane = tuple[ClipRecord, ...]


def end_of(clip: ClipRecord) -> Fraction:
    """Session time at which the clip's last frame leaves the screen."""
    return clip.on_clock(clip.end_pts)


def covers(clip: ClipRecord, place: Fraction) -> bool:
    """Whether a clip's film is there at a place, in seconds of the session clock."""
    return clip.offset <= place < end_of(clip)


def lanes(clips: Sequence[ClipRecord]) -> tuple[Lane, ...]:
    """Clips shared out so that none overlaps another in its lane; a camera's name keeps its clips together."""
    found: list[list[ClipRecord]] = []
    for clip in sorted(clips, key=lambda c: (c.offset, c.id)):
        free = [lane for lane in found if end_of(lane[-1]) <= clip.offset]
        same = [lane for lane in free if clip.camera and lane[-1].camera == clip.camera]
        other = [lane for lane in free if not (clip.camera and lane[-1].camera)]
        choice = (same or other or [None])[0]  # type: ignore[list-item]
        if choice is None:
            found.append([clip])
        else:
            choice.append(clip)
    return tuple(tuple(lane) for lane in found)


def at(lane: Lane, place: Fraction) -> ClipRecord | None:
    """The clip that runs in a lane at a session time; None where the camera was off."""
    return next((clip for clip in lane if covers(clip, place)), None)


def nearest(clips: Sequence[ClipRecord], place: Fraction) -> tuple[ClipRecord, Fraction] | None:
    """A clip and the place in it that lies closest to a session time; None where there are no clips.

    The last place of a clip is its last tick."""

    def inside(clip: ClipRecord) -> Fraction:
        return min(max(place, clip.offset), end_of(clip) - clip.time_base)

    if not clips:
        return None
    best = min(clips, key=lambda clip: abs(inside(clip) - place))
    return best, inside(best)
