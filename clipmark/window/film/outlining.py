"""Outlines on the film: what is drawn over the picture, where a new box begins, which shots still lack one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF

from clipmark.book.meaning.shots import shot_at
from clipmark.book.model import ClipRecord, Outline, RegionRecord, SessionRecord, ShotRecord
from clipmark.motion.result import Box, Cause, Trace, outline_at
from clipmark.progress import Progress
from clipmark.window.shared.shapes import Shape
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.motion.proposals import Proposal

TRAIL_S = 2.0


def seen_alone(record: SessionRecord, shot: ShotRecord) -> int:
    """The first tick at which a shot's view is seen alone: after the frames that are blended with the one before."""
    passes = {made.id for made in record.passes if made.clip_id == shot.clip_id and made.current}
    blended = (
        span.end_pts
        for span in record.spans
        if span.pass_id in passes and span.start_pts == shot.start_pts and span.cause == Cause.BLENDED
    )
    alone = next(blended, shot.start_pts)
    return alone if alone < shot.end_pts else shot.start_pts


def without_outline(workspace: Workspace, clip: ClipRecord) -> tuple[tuple[int, int], ...]:
    """The shots of a clip, as ticks [start, end), in which no abdomen is outlined or was found by the pass; from
    where they are seen alone."""
    record = workspace.record
    shots = [s for s in (record.shots if record else ()) if s.clip_id == clip.id]
    spans = [(seen_alone(record, s), s.end_pts) for s in shots if record] or [(clip.first_pts, clip.end_pts)]
    drawn = [o.pts for o in workspace.outlines_of(clip.id) if o.part == "abdomen"]
    made = workspace.pass_of(clip.id)
    drawn += [one.pts for one in (record.regions if record and made else ()) if made and one.pass_id == made.id]
    return tuple(span for span in spans if not any(span[0] <= pts < span[1] for pts in drawn))


class Outlining:
    def __init__(self, workspace: Workspace):
        self.workspace = workspace

    def here(self, clip: ClipRecord, pts: int, part: str) -> Outline | None:
        """The outline of a part on exactly this frame."""
        drawn = self.workspace.outlines_of(clip.id)
        return next((o for o in drawn if o.pts == pts and o.part == part), None)

    def latest(self, clip: ClipRecord, pts: int, part: str, same_shot: bool = True) -> Outline | None:
        """The outline of a part drawn last at or before a tick, else the first after it, in its shot or anywhere."""
        record = self.workspace.record
        start, end = shot_at(record.shots if record else (), clip, pts)
        fit = [o for o in self.workspace.outlines_of(clip.id) if o.part == part]
        if same_shot:
            fit = [o for o in fit if start <= o.pts < end]
        before = [o for o in fit if o.pts <= pts]
        if before:
            return max(before, key=lambda o: o.pts)
        return min(fit, key=lambda o: o.pts, default=None)

    def proposal(self, clip: ClipRecord, pts: int, number: int, part: str) -> QRectF | None:
        """Where a new box begins: the outline of this frame, the followed one, else the one drawn last."""
        own = self.here(clip, pts, part)
        if own is not None:
            return QRectF(own.x, own.y, own.w, own.h)
        base = self.latest(clip, pts, part)
        trace = self.workspace.trace(clip.id) if part == "abdomen" else None
        if base is not None and trace is not None:
            corners = outline_at(trace, number, base.w, base.h)
            if corners:
                xs, ys = [x for x, _ in corners], [y for _, y in corners]
                return QRectF(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
        base = base or self.latest(clip, pts, part, same_shot=False)
        return QRectF(base.x, base.y, base.w, base.h) if base is not None else None

    def model(self, clip: ClipRecord, pts: int) -> Outline | None:
        """The abdomen's outline of another shot that hers may look like here: the one drawn last before; None where
        this shot has an outline of its own, or the whole clip has none."""
        if self.latest(clip, pts, "abdomen") is not None:
            return None
        return self.latest(clip, pts, "abdomen", same_shot=False)

    def keep(
        self, clip: ClipRecord, pts: int, part: str, rect: QRectF, press: tuple[float, float] | None = None
    ) -> None:
        """Put the drawn box into the book, on this frame; `press`: the box was told from a press there, and taken."""
        x, y, w, h = (round(v, 2) for v in (rect.x(), rect.y(), rect.width(), rect.height()))
        own = self.here(clip, pts, part)
        book = self.workspace.book
        press_x, press_y = (None, None) if press is None else (round(press[0], 2), round(press[1], 2))
        if own is not None:
            changed = replace(own, x=x, y=y, w=w, h=h, press_x=press_x, press_y=press_y)
            self.workspace.edit(book.change_outline, changed)
        else:
            self.workspace.edit(book.add_outline, Outline(0, clip.id, pts, x, y, w, h, part, press_x, press_y))

    def remove(self, clip: ClipRecord, pts: int) -> bool:
        """Take off every outline of this frame; False where there is none."""
        own = [o for o in self.workspace.outlines_of(clip.id) if o.pts == pts]
        for outline in own:
            self.workspace.edit(self.workspace.book.remove_outline, outline.id)
        return bool(own)

    def shapes(self, clip: ClipRecord, pts: int, number: int) -> tuple[Shape, ...]:
        """What is drawn over the picture on a frame: its outlines, the followed abdomen, its trail."""
        found: list[Shape] = []
        trace = self.workspace.trace(clip.id)
        for part in ("abdomen", "carapace", "male"):
            outline = self.latest(clip, pts, part)
            if outline is not None and (outline.pts == pts or trace is None):
                found.append(Shape(part, _corners(outline)))
        base = self._followed_region(clip, pts) or self.latest(clip, pts, "abdomen")
        if trace is not None and base is not None:
            followed = outline_at(trace, number, base.w, base.h)
            if followed:
                found.append(Shape("followed", followed))
            trail = self._trail(trace, clip, pts, number)
            if len(trail) > 1:
                found.append(Shape("trail", trail, closed=False))
        return tuple(found)

    def _followed_region(self, clip: ClipRecord, pts: int) -> RegionRecord | None:
        """What the pass takes her abdomen for at a tick: it may be larger or smaller than what was drawn."""
        record, made = self.workspace.record, self.workspace.pass_of(clip.id)
        if record is None or made is None:
            return None
        start, end = shot_at(record.shots, clip, pts)
        mine = [one for one in record.regions if one.pass_id == made.id and start <= one.pts < end]
        before = [one for one in mine if one.pts <= pts]
        return before[-1] if before else mine[0] if mine else None

    def _trail(self, trace: Trace, clip: ClipRecord, pts: int, number: int) -> tuple[tuple[float, float], ...]:
        film, record = self.workspace.film(clip.id), self.workspace.record
        if film is None or number >= len(trace.x):
            return ()
        start, _ = shot_at(record.shots if record else (), clip, pts)
        since = max(pts - int(TRAIL_S / clip.time_base), start)
        first = int(np.searchsorted(film.index.pts, since))
        x, y = trace.x[first : number + 1], trace.y[first : number + 1]
        seen = np.isfinite(x) & np.isfinite(y)
        return tuple(zip(x[seen].tolist(), y[seen].tolist(), strict=True))


def look_for_her(film: Clip, model: Outline, number: int, progress: Progress) -> Proposal | None:
    """Where the abdomen of another shot's outline probably lies on a frame; for a background task.

    Raises:
        ClipUnreadable: the film cannot be read any more. Cancelled: through `progress`.
    """
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.proposals import propose

    grey = GreyFilm(film)
    pictures: list[NDArray[np.uint8]] = []
    for frame in (film.index.at_or_before(model.pts), number):
        progress.advance(len(pictures), 2)
        pictures += [picture for _, picture in grey.frames(frame, frame + 1)]
    if len(pictures) < 2:
        return None
    box = Box(0, model.x, model.y, model.w, model.h)
    return propose(pictures[0], box, pictures[1], number, film.width / pictures[0].shape[1])


def _corners(outline: Outline) -> tuple[tuple[float, float], ...]:
    x, y, w, h = outline.x, outline.y, outline.w, outline.h
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
