"""Stills from a session's film: exactly the wanted frame, whole or cut round her abdomen, with its outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from clipmark.book.meaning.shots import shot_at
from clipmark.book.model import ClipRecord, Outline, SessionRecord
from clipmark.motion.result import outline_at
from clipmark.report.pictures.traces import ClipTrace

if TYPE_CHECKING:
    from clipmark.media.frames.reader import Reader

Corners = tuple[tuple[float, float], ...]
AROUND = 3.4  # a cut is so many outline lengths wide: her whole body and his palps stand in it (proposal)
LEAST = 160  # pixels: smaller cuts show no surroundings


@dataclass(frozen=True, slots=True)
class Region:
    """Part of a picture, displayed pixels."""

    x: int
    y: int
    w: int
    h: int


@dataclass(frozen=True, slots=True)
class Still:
    """One frame as a picture file.

    Attributes:
        frame: its position in the film, from 0; `pts` its tick.
        data: JPEG or PNG bytes, `width` × `height` pixels.
        outline: corners of the followed abdomen in pixels of this picture; empty where it was not followed.
    """

    frame: int
    pts: int
    data: bytes
    width: int
    height: int
    outline: Corners = ()


def encoded(picture: NDArray[np.uint8], kind: str = "jpeg") -> bytes:
    """An RGB picture (h, w, 3) as a JPEG or PNG file."""
    import cv2

    settings = [cv2.IMWRITE_JPEG_QUALITY, 82, cv2.IMWRITE_JPEG_OPTIMIZE, 1] if kind == "jpeg" else []
    fine, data = cv2.imencode(".jpg" if kind == "jpeg" else ".png", picture[:, :, ::-1], settings)
    if not fine:
        raise RuntimeError(f"a picture of shape {picture.shape} could not be encoded")
    return bytes(data.tobytes())


def still(
    reader: Reader, frame: int, width: int, region: Region | None = None, outline: Corners = (), kind: str = "jpeg"
) -> Still:
    """Exactly this frame, or a region of it, at most `width` pixels wide.

    Args:
        outline: corners in pixels of the whole displayed picture.
    Raises:
        FrameLost: the frame does not come out of the film.
    """
    import cv2

    picture = reader.frame(frame)
    rgb: Any = picture.rgb()
    part = region or Region(0, 0, picture.width, picture.height)
    rgb = rgb[part.y : part.y + part.h, part.x : part.x + part.w]
    aspect = float(reader.clip.pixel_aspect)
    shown = min(width, max(1, round(part.w * aspect)))
    high = max(1, round(shown * part.h / (part.w * aspect)))
    if (shown, high) != (part.w, part.h):
        rgb = cv2.resize(rgb, (shown, high), interpolation=cv2.INTER_AREA if shown < part.w else cv2.INTER_CUBIC)
    corners = tuple(((x - part.x) * shown / part.w, (y - part.y) * high / part.h) for x, y in outline)
    return Still(frame, picture.pts, encoded(rgb, kind), shown, high, corners)


def followed_at(trace: ClipTrace, outlines: Sequence[Outline], frame: int) -> Corners:
    """Where the pass saw the abdomen on a frame: the keeper's box, moved, turned and scaled as it was followed."""
    drawn = [o for o in outlines if o.clip_id == trace.clip_id and o.part == "abdomen"]
    if not drawn or not 0 <= frame < len(trace.pts):
        return ()
    box = min(drawn, key=lambda o: (o.pts > trace.pts[frame], abs(o.pts - int(trace.pts[frame]))))
    return outline_at(trace.trace, frame, box.w, box.h)


def drawn_in_shot(record: SessionRecord, clip: ClipRecord, pts: int) -> Corners:
    """Where the keeper drew her abdomen in the shot of a tick, a good deal wider, for where she was not followed:
    she may have moved since. Empty where nothing is drawn in that shot."""
    start, end = shot_at(record.shots, clip, pts)
    drawn = [o for o in record.outlines if o.clip_id == clip.id and o.part == "abdomen" and start <= o.pts < end]
    if not drawn:
        return ()
    box = min(drawn, key=lambda o: abs(o.pts - pts))
    left, top = box.x - 0.3 * box.w, box.y - 0.3 * box.h
    right, foot = box.x + 1.3 * box.w, box.y + 1.3 * box.h
    return (left, top), (right, top), (right, foot), (left, foot)


def region_round(corners: Sequence[Corners], width: int, height: int) -> Region | None:
    """A 4:3 part of a picture of `width` × `height` that holds all outlines with their surroundings; None without,
    and where one lies beyond all reason, as in a damaged book."""
    points = [p for c in corners for p in c]
    if not points or max(abs(value) for point in points for value in point) > 1e9:
        return None
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    size = max(
        max(max(p[0] for p in c) - min(p[0] for p in c), max(p[1] for p in c) - min(p[1] for p in c))
        for c in corners
        if c
    )
    wide = max(AROUND * size, max(xs) - min(xs) + size, (max(ys) - min(ys) + size) * 4 / 3, LEAST)
    w = min(round(wide), width)
    h = min(round(w * 3 / 4), height)
    x = min(max(round((min(xs) + max(xs)) / 2 - w / 2), 0), width - w)
    y = min(max(round((min(ys) + max(ys)) / 2 - h / 2), 0), height - h)
    return Region(x, y, w, h)
