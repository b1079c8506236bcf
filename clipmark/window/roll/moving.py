"""How much moves, drawn along the left edge of the roll: full where pictures were looked at, pale from packets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QCoreApplication, QLineF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen

from clipmark.review.roll_geometry import View
from clipmark.review.roll_model import Curve
from clipmark.timebase import clock
from clipmark.window.roll.look import Look

_COLOUR = "#009e73"  # Okabe and Ito's bluish green
_LEAST = 0.25  # of the width, for anything that moves at all


@dataclass(frozen=True, slots=True, eq=False)
class MovingCurve:
    """How much moves, 0..1, over session seconds; `rough`: packet sizes only; `notes` for the keeper."""

    curve: Curve
    rough: bool
    notes: tuple[str, ...] = ()


def moving_width(em: float) -> float:
    """Pixels that the lane takes."""
    return round(1.1 * em)


def paint_moving(painter: QPainter, lanes: tuple[MovingCurve, ...], view: View, look: Look) -> None:
    """A bar for each row of pixels in which something moves, the longer the more of the picture moves."""
    if not lanes:
        return
    wide = moving_width(look.em) - 3
    top = round(view.header)
    height = max(int(view.height - view.header), 1)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(QPen(look.grid, 1))
    painter.drawLine(QLineF(wide + 1, top, wide + 1, view.height))
    for one in lanes:
        rows = one.curve.rows(view.top, view.bottom, height)
        moves = np.isfinite(rows) & (rows > 0.011)
        reach = np.where(moves, wide * (_LEAST + (1 - _LEAST) * np.sqrt(np.clip(rows / 0.2, 0, 1))), 0)
        colour = QColor(_COLOUR)
        if one.rough:
            colour.setAlphaF(0.4)
        painter.setPen(QPen(colour, 1))
        at = np.flatnonzero(moves)
        painter.drawLines([QLineF(1, top + y, 1 + float(reach[y]), top + y) for y in at.tolist()])
        unknown = np.flatnonzero(~np.isfinite(rows) & _inside(one.curve, view, height))
        if len(unknown):
            painter.fillRect(
                QRectF(1, top + float(unknown[0]), wide, float(unknown[-1] - unknown[0] + 1)),
                _hatched(look),
            )
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)


def _hatched(look: Look) -> QBrush:
    return QBrush(look.faint, Qt.BrushStyle.BDiagPattern)


def _inside(curve: Curve, view: View, height: int) -> NDArray[np.bool_]:
    """Rows that lie within the film of a curve."""
    if not len(curve.times):
        return np.zeros(height, bool)
    at = view.top + (np.arange(height) + 0.5) / height * (view.bottom - view.top)
    return (at >= curve.times[0]) & (at <= curve.times[-1])


def moving_told(lanes: tuple[MovingCurve, ...], seconds: float) -> str:
    """What the lane says at a time, in words."""
    for one in lanes:
        times, values = one.curve.times, one.curve.values
        if not len(times) or not times[0] - 0.01 <= seconds <= times[-1] + 0.01:
            continue
        value = float(values[min(int(np.searchsorted(times, seconds)), len(values) - 1)])
        rests = _tr("packet sizes only, rough") if one.rough else _tr("decoded pictures")
        if not np.isfinite(value):
            said = _tr("Cannot be told from {0}.").format(rests)
        elif value > 0.011:
            said = _tr("Something moves here ({0}).").format(rests)
        else:
            said = _tr("Nothing moves here ({0}).").format(rests)
        return " ".join((clock(seconds, 0), said, *one.notes))
    return ""


def _tr(text: str) -> str:
    return QCoreApplication.translate("Roll", text)
