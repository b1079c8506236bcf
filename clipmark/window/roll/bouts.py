"""Bouts of rhythm as the roll shows them, with the rate along each: heard ones in a plain bracket open to the sound,
seen ones in a broken bracket open to the other side, with a word before the rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication, QLineF, QPointF
from PySide6.QtGui import QPainter, QPen

from clipmark.motion.rhythm.values import Bout
from clipmark.review.roll_geometry import Columns, View
from clipmark.timebase import clock
from clipmark.window.roll.look import Look


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
    seen: bool = False

    @property
    def figures(self) -> str:
        return ", ".join(part for part in (self.rate, self.regularity, self.note) if part)

    @property
    def told(self) -> str:
        if self.seen:
            return _tr("Rhythm seen in the picture: {0}, {1}").format(self.span, self.figures)
        return _tr("Rhythm heard: {0}, {1}, {2}").format(self.span, self.figures, self.strikes)


def placed(bout: Bout, offset: float) -> HeardBout:
    """A clip's bout on the session clock."""
    start, end = bout.start_s + offset, bout.end_s + offset
    return HeardBout(
        start=start,
        end=end,
        span=_tr("{0} to {1}").format(clock(start, 1), clock(end, 1)),
        rate=_tr("not resolvable") if bout.rate_hz is None else f"{bout.rate_hz:.1f} Hz",
        regularity=(_tr("regularity {0}") if bout.source == "picture" else _tr("vector strength {0}")).format(
            f"{bout.regularity:.2f}"
        ),
        strikes="" if bout.strikes is None else _tr("{0} strikes").format(bout.strikes),
        note=bout.note,
        seen=bout.source == "picture",
    )


def bout_at(bouts: Sequence[HeardBout], across: Columns, x: float, seconds: float) -> HeardBout | None:
    """The bout under a point of the sound's column or its brackets; where two lie there, the one whose bracket is
    nearer."""
    if not across.sound_left <= x <= across.his_left:
        return None
    here = [bout for bout in bouts if bout.start <= seconds <= bout.end]
    return min(here, key=lambda bout: abs(bracket_x(across, bout.seen) - x), default=None)


def paint_bouts(painter: QPainter, bouts: Sequence[HeardBout], view: View, across: Columns, look: Look) -> None:
    """A bracket for each bout on view with its rate beside it; along it where the roll is narrow."""
    if across.his_left - across.sound_right < look.em:
        return
    free_from = view.header
    for bout in bouts:
        if bout.end < view.top or bout.start > view.bottom:
            continue
        x, foot = bracket_x(across, bout.seen), 3.0 if bout.seen else -3.0
        top, bottom = view.y(bout.start), view.y(bout.end)
        pen = QPen(look.ink, 1.2)
        painter.setPen(pen)
        painter.drawLines([QLineF(x + foot, top, x, top), QLineF(x + foot, bottom, x, bottom)])
        if bout.seen:
            pen.setDashPattern([2.0, 2.5])
            painter.setPen(pen)
        painter.drawLine(QLineF(x, top, x, bottom))
        top, bottom = max(top, view.header), min(bottom, float(view.height))
        middle = (top + bottom) / 2
        text = (_tr("seen: {0}").format(bout.rate) if bout.seen else bout.rate) + (" *" if bout.note else "")
        wide = look.metrics.horizontalAdvance(text)
        right = bracket_x(across, True) + 5
        if across.his_left - right >= min(wide, 3.6 * look.em):
            line = max(middle - look.em / 2, free_from)
            if line == middle - look.em / 2 or line + look.em <= bottom:
                painter.drawText(QPointF(right, line + look.metrics.ascent()), text)
                free_from = line + look.em
        elif bottom - top >= wide + 4 and not bout.seen:
            painter.save()
            painter.translate(QPointF(right + look.metrics.ascent() - 3, middle + wide / 2))
            painter.rotate(-90)
            painter.drawText(QPointF(0, 0), text)
            painter.restore()


def bracket_x(across: Columns, seen: bool = False) -> float:
    """Where the brackets' backs stand: those of bouts seen a little farther from the sound."""
    return across.sound_right + (0.95 if seen else 0.6) * across.em


def _tr(text: str) -> str:
    return QCoreApplication.translate("RollBouts", text)
