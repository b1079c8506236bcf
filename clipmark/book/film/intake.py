"""From a film file to what the book keeps of it, and from the book's outlines to a motion pass. No store in here:
everything may run on any thread, and the one writer keeps the result."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Progress
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.index.frame_index import FrameIndex
    from clipmark.motion.film import Film
    from clipmark.motion.parameters import MotionParameters
    from clipmark.motion.result import Box, ScanResult, Ticks

    Shown = Mapping[tuple[float | None, float | None], tuple[float, float, float, float]]  # press to accepted box


class NothingOutlined(ClipmarkError):
    def __init__(self, path: str):
        super().__init__(
            f"Nothing is outlined in “{Path(path).name}”. Draw the outline of her abdomen on a frame of each shot."
        )
        self.path = path


class FilmChanged(ClipmarkError):
    def __init__(self, path: str):
        super().__init__(
            f"“{Path(path).name}” is not the film that the book knows: its content changed. "
            "Bring the old file back, or add this one as a new clip."
        )
        self.path = path


def clip_record(clip: Clip, session_id: int, offset: Fraction = Fraction(0), camera: str = "") -> ClipRecord:
    """What the book keeps of an opened film; `offset` is its first frame's place on the session clock, seconds."""
    index = clip.index
    return ClipRecord(
        id=0,
        session_id=session_id,
        path=str(clip.path.absolute()),
        size=clip.size_bytes,
        fingerprint=clip.fingerprint,
        offset=Fraction(offset),
        time_base=index.time_base,
        first_pts=int(index.pts[0]),
        end_pts=int(index.end_pts),
        frames=len(index),
        width=clip.width,
        height=clip.height,
        camera=camera,
    )


def same_film(clip: Clip, record: ClipRecord) -> bool:
    """Whether an opened film is the one that the book knows (its fingerprint and its frames)."""
    return clip.fingerprint == record.fingerprint and len(clip.index) == record.frames


def boxes_for(record: SessionRecord, clip: ClipRecord, index: FrameIndex) -> list[Box]:
    """The outlines of a clip as boxes and presses on its frames, in order of time; an outline between two frames
    stands on the frame that was on the screen."""
    from clipmark.motion.result import Box

    mine = sorted((one for one in record.outlines if one.clip_id == clip.id), key=lambda one: (one.pts, one.id))
    return [
        Box(index.at_or_before(one.pts), one.press_x, one.press_y, 0.0, 0.0)
        if one.press_x is not None and one.press_y is not None
        else Box(index.at_or_before(one.pts), one.x, one.y, one.w, one.h, one.part)
        for one in mine
    ]


def run_pass(
    clip: Clip,
    record: SessionRecord,
    clip_record: ClipRecord,
    progress: Progress = SILENT,
    parameters: MotionParameters | None = None,
    threads: int = 0,
    along: Callable[[Film, list[Box]], Film] | None = None,
    say: Callable[[str], None] | None = None,
    span: tuple[int, int] | None = None,
) -> ScanResult:
    """Run the motion pass over a clip with its outlines of the book; keep the result with `Book.add_pass`.

    Args:
        threads: of the decoder; 0 for as many as it likes.
        say: is told of outlines on frames that do not decode, each taken to the nearest that does.
        span: frames [start, stop) to look at alone; the frames of the result are then counted from `start`.
        along: takes the film and gives one that hands the same pictures through, to look at them meanwhile.
    Raises:
        FilmChanged: the file is another film than the book knows. NothingOutlined: there is no abdomen to follow.
        Cancelled: through `progress`.
    """
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.part_of_film import PartOfFilm
    from clipmark.motion.result import Ticks
    from clipmark.motion.scan import film_width
    from clipmark.motion.whole_frames import on_whole_frames

    if not same_film(clip, clip_record):
        raise FilmChanged(clip_record.path)
    boxes = boxes_for(record, clip_record, clip.index)
    if not any(box.part == "abdomen" for box in boxes):
        raise NothingOutlined(clip_record.path)
    film: Film = GreyFilm(clip, film_width(clip.width, clip.height, boxes), threads)
    whole = on_whole_frames(film, boxes)
    for drawn, used in zip(boxes, whole, strict=True):
        if say is not None and drawn.frame != used.frame:
            at, there = (clock(clip_record.offset + clip.index.exact_seconds(b.frame)) for b in (drawn, used))
            say(f"The outline at {at} lies on a frame that does not decode; the one at {there} was taken.")
    if span is not None:
        part = PartOfFilm(film, *span)
        film, whole = part, part.boxes(whole)
        if not any(box.part == "abdomen" for box in whole):
            raise NothingOutlined(clip_record.path)
    ticks = Ticks(clip.index.pts[slice(*span)] if span else clip.index.pts, int(clip.index.end_pts))
    shown = {(one.press_x, one.press_y): (one.x, one.y, one.w, one.h) for one in record.outlines if one.pressed}
    return _scan(along(film, whole) if along else film, whole, shown, parameters, progress, ticks, say)


def _scan(
    film: Film, boxes: list[Box], shown: Shown, parameters: MotionParameters | None, progress: Progress, ticks: Ticks,
    say: Callable[[str], None] | None,
) -> ScanResult:  # fmt: skip
    """The pass; from a press of which the whole shot tells no region it goes on from the one that the keeper saw and
    accepted."""
    from clipmark.motion.region import NothingThere
    from clipmark.motion.scan import scan

    try:
        return scan(film, boxes, parameters, progress, ticks)
    except NothingThere as error:
        accepted = shown.get((error.x, error.y))
        if accepted is None:
            raise
        x, y, w, h = accepted
        there = (error.x, error.y)
        boxes = [replace(b, x=x, y=y, w=w, h=h) if b.pressed and (b.x, b.y) == there else b for b in boxes]
        if say is not None:
            said = "The shot does not tell more of her abdomen than the frame that you pressed on; "
            say(said + "the region that you accepted there was followed.")
        return _scan(film, boxes, shown, parameters, progress, ticks, say)
