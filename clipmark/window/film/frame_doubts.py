"""What must be said of the frame on view: that its time is not the file's own, or that parts of it are filled in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication

from clipmark.book.model import ClipRecord
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.media.clip import Clip


def doubts(film: Clip, clip: ClipRecord, number: int, damaged: bool) -> tuple[str, ...]:
    """Sentences on frame `number`; `damaged`: the decoder filled in a part of it, or of a frame that it leans on."""
    found = []
    span = inexact_span(film.inexact, number)
    if span is not None:
        index = film.index
        start, last = (clock(clip.offset + index.exact_seconds(frame)) for frame in (span[0], span[1] - 1))
        found.append(_tr("The times of this file are not exact between {0} and {1}.").format(start, last))
    if damaged:
        found.append(_tr("Parts of this frame are missing in the file; the decoder filled them in."))
    return tuple(found)


def inexact_span(spans: tuple[tuple[int, int], ...], number: int) -> tuple[int, int] | None:
    """The frames [start, end) of inexact times round frame `number`; None: its own is exact. Spans may overlap."""
    here = [span for span in spans if span[0] <= number < span[1]]
    return (min(start for start, _ in here), max(end for _, end in here)) if here else None


def _tr(text: str) -> str:
    return QCoreApplication.translate("FrameDoubts", text)
