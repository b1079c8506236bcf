"""Bouts of rhythm heard in the sound, as the roll shows them: a bracket beside the sound, with the rate along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication, QLineF, QPointF
from PySide6.QtGui import QPainter, QPen

from clipmark.motion.rhythm import Bout
from clipmark.timebase import clock
from clipmark.window.widgets.roll_geometry import Columns, View
from clipmark.window.widgets.roll_look import Look


@dataclass(frozen=True, slots=True)
class HeardBout:
    """A bout on the session clock (seconds) in words: when, how fast and regular, and what must be said of it."""

    start: float
    end: float
    span: str
    rate: str
    regularity: str
    strikes: str
    note: str

    @property
    def figures(self) -> str:
        return ", ".join(part for part in (self.rate, self.regularity, self.note) if part)

    @property
    def told(self) -> str:
        return _tr("Rhythm heard: {0}, {1}, {2}").format(self.span, self.figures, self.strikes)


def placed(bout: Bout, offset: float) -> HeardBout:
    """A clip's bout on the session clock."""
    start, end = bout.start_s + offset, bout.end_s + offset
    return HeardBout(
        start=start,
        end=end,
        span=_tr("{0} to {1}").format(clock(start, 1), clock(end, 1)),
        rate=_tr("not resolvable") if bout.rate_hz is None else f"{bout.rate_hz:.1f} Hz",
        regularity=_tr("regularity {0}").format(f"{bout.regularity:.2f}"),
        strikes=_tr("{0} strikes").format(bout.strikes),
        note=bout.note,
    )


def bout_at(bouts: Sequence[HeardBout], across: Columns, x: float, seconds: float) -> HeardBout | None:
    """The bout under a point of the sound's column or its brackets."""
    if not across.sound_left <= x <= across.his_left:
        return None
    return next((bout for bout in bouts if bout.start <= seconds <= bout.end), None)


def paint_bouts(painter: QPainter, bouts: Sequence[HeardBout], view: View, across: Columns, look: Look) -> None:
    """A bracket for each bout on view with its rate beside it; along it where the roll is narrow."""
    if across.his_left - across.sound_right < look.em:
        return
    x = bracket_x(across)
    free_from = view.header
    for bout in bouts:
        if bout.end < view.top or bout.start > view.bottom:
            continue
        top, bottom = view.y(bout.start), view.y(bout.end)
        painter.setPen(QPen(look.ink, 1.2))
        painter.drawLines([QLineF(x, top, x, bottom), QLineF(x - 3, top, x, top), QLineF(x - 3, bottom, x, bottom)])
        top, bottom = max(top, view.header), min(bottom, float(view.height))
        middle = (top + bottom) / 2
        text = bout.rate + (" *" if bout.note else "")
        wide = look.metrics.horizontalAdvance(text)
        if across.his_left - x >= wide + 6:
            if middle - look.em / 2 >= free_from:
                painter.drawText(QPointF(x + 5, middle - look.em / 2 + look.metrics.ascent()), text)
                free_from = middle + look.em / 2
        elif bottom - top >= wide + 4:
            painter.save()
            painter.translate(QPointF(x + look.metrics.ascent() + 2, middle + wide / 2))
            painter.rotate(-90)
            painter.drawText(QPointF(0, 0), text)
            painter.restore()


def bracket_x(across: Columns) -> float:
    """Where the brackets' backs stand."""
    return across.sound_right + 0.6 * across.em


def _tr(text: str) -> str:
    return QCoreApplication.translate("RollBouts", text)
