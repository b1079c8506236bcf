"""How the roll is drawn. Work is bounded by the pixels on view, not by the number of marks: what is out of view is
cut off by bisect, what falls on a pixel already taken is left out, equal shapes are drawn in one call, and laid-out
writing is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QCoreApplication, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QPainter,
    QPen,
    QPolygonF,
)

from clipmark.motion.result import Floats
from clipmark.report.pictures.colours import VERMILION
from clipmark.review.roll_geometry import Columns, View, ruler_places, ruler_step
from clipmark.review.roll_model import Curve, Lane, RollItem, RollModel, Side
from clipmark.timebase import clock
from clipmark.window.roll.bouts import HeardBout, paint_bouts
from clipmark.window.roll.hollow import HollowBar, paint_hollow
from clipmark.window.roll.look import Look, draw_call
from clipmark.window.roll.moving import MovingCurve, paint_moving


@dataclass
class Scene:
    """What one drawing of the roll needs."""

    model: RollModel
    view: View
    across: Columns
    look: Look
    place: float | None = None
    selected: tuple[str, int] | None = None
    sounds: tuple[Curve, ...] = ()
    bouts: tuple[HeardBout, ...] = ()
    moving: tuple[MovingCurve, ...] = ()
    hollow: tuple[HollowBar, ...] = ()
    taps: Floats = field(default_factory=lambda: np.empty(0))
    frames: Floats = field(default_factory=lambda: np.empty(0))
    dragged: tuple[RollItem, float, float] | None = None
    pull_full: float = 1.0


def paint(painter: QPainter, scene: Scene) -> None:
    """Draw all that stays while the film plays: everything but the selection and the film's place."""
    look, across, view = scene.look, scene.across, scene.view
    painter.fillRect(QRectF(0, 0, across.width, view.height), look.paper)
    painter.setFont(look.font)
    painter.setClipRect(QRectF(0, view.header, across.width, view.height - view.header))
    _clips(painter, scene)
    _ruler(painter, scene)
    _hatches(painter, scene)
    _sound(painter, scene)
    paint_moving(painter, scene.moving, view, look)
    for curve in scene.model.pulls:
        _trace(painter, scene, curve)
    painter.setPen(QPen(look.ink, 1.4))
    painter.drawLine(QLineF(across.line, view.header, across.line, view.height))
    for side in (Side.HIM, Side.HER, Side.LINE):
        _lane(painter, scene, side, scene.model.lanes[side])
    paint_hollow(painter, scene.hollow, view, across, look)
    painter.setClipping(False)
    _header(painter, scene)


def paint_over(painter: QPainter, scene: Scene) -> None:
    """Draw what moves: the selection, the end that is being dragged, the film's place."""
    painter.setClipRect(QRectF(0, scene.view.header, scene.across.width, scene.view.height - scene.view.header))
    _selected(painter, scene)
    _place(painter, scene)
    painter.setClipping(False)


def _header(painter: QPainter, scene: Scene) -> None:
    look, across, top = scene.look, scene.across, scene.view.header
    painter.fillRect(QRectF(0, 0, across.width, top), look.wash)
    painter.setPen(QPen(look.faint, 1))
    painter.drawLine(QLineF(0, top, across.width, top))
    painter.setPen(look.ink)
    painter.setFont(look.bold)
    centre, right = Qt.AlignmentFlag.AlignVCenter, Qt.AlignmentFlag.AlignRight
    painter.drawText(QRectF(0, 0, across.line - 0.6 * look.em, top), centre | right, _tr("he"))
    hers = min(across.trace_right + 4, across.width - look.metrics.horizontalAdvance(_tr("she")) - 8)
    painter.drawText(QRectF(hers, 0, across.width - hers, top), centre, _tr("she"))
    painter.setFont(look.font)
    painter.setPen(look.soft)
    if look.metrics.horizontalAdvance(_tr("clock")) < across.line - 5 * look.em:
        painter.drawText(QRectF(4, 0, across.ruler, top), centre, _tr("clock"))
    wide = across.sound_right - across.sound_left
    if wide > 2 * look.em:
        room = QRectF(across.sound_left - look.em, 0, wide + 2 * look.em, top)
        painter.drawText(room, centre | Qt.AlignmentFlag.AlignHCenter, _tr("sound"))


def _tr(text: str) -> str:
    return QCoreApplication.translate("Roll", text)


def _clips(painter: QPainter, scene: Scene) -> None:
    """Grey where no clip is, and the names of clips where they begin."""
    look, view, across = scene.look, scene.view, scene.across
    reached = view.top
    for clip in sorted(scene.model.clips, key=lambda clip: clip.start):
        if clip.start > reached:
            painter.fillRect(_band(view, reached, clip.start, 0, across.width), look.wash)
        reached = max(reached, clip.end)
    if reached < view.bottom:
        painter.fillRect(_band(view, reached, view.bottom, 0, across.width), look.wash)
    if not (scene.model.clips and view.top < scene.model.start):
        painter.setPen(QPen(look.faint, 1, Qt.PenStyle.DashLine))
    for cut in scene.model.cuts[np.searchsorted(scene.model.cuts, view.top) :]:
        if cut > view.bottom:
            break
        painter.setPen(QPen(look.soft, 1, Qt.PenStyle.DashLine))
        painter.drawLine(QLineF(across.his_left, view.y(cut), across.width, view.y(cut)))


def _band(view: View, start: float, end: float, left: float, wide: float) -> QRectF:
    top = max(view.y(start), view.header)
    return QRectF(left, top, wide, max(min(view.y(end), float(view.height)) - top, 0.0))


def _ruler(painter: QPainter, scene: Scene) -> None:
    look, view, across = scene.look, scene.view, scene.across
    step = ruler_step(view.scale, 2.4 * look.em)
    places = ruler_places(step)
    minor = ruler_step(view.scale, 6.0)
    if minor < step:
        times = np.arange(np.ceil(view.top / minor), np.floor(view.bottom / minor) + 1) * minor
        painter.setPen(QPen(look.faint, 1))
        painter.drawLines([QLineF(across.ruler - 3, view.y(t), across.ruler, view.y(t)) for t in times])
    first = int(np.ceil((view.top - look.em / view.scale) / step))
    last = int(np.floor((view.bottom + look.em / view.scale) / step))
    painter.setPen(QPen(look.grid, 1))
    painter.drawLines(
        [QLineF(across.ruler, view.y(n * step), across.width, view.y(n * step)) for n in range(first, last + 1)]
    )
    painter.setPen(look.soft)
    for number in range(first, last + 1):
        text = look.text(clock(number * step, places))
        painter.drawStaticText(
            QPointF(across.ruler - 5 - text.size().width(), view.y(number * step) - look.em / 2), text
        )
    _frames(painter, scene)


def _frames(painter: QPainter, scene: Scene) -> None:
    """A tick for each frame that exists, once they lie far enough apart."""
    view, across = scene.view, scene.across
    first, last = np.searchsorted(scene.frames, [view.top, view.bottom])
    if 1 < last - first < (view.height - view.header) / 4:
        painter.setPen(QPen(scene.look.soft, 1))
        ticks = [view.y(at) for at in scene.frames[first:last]]
        painter.drawLines([QLineF(across.line - 4, y, across.line + 4, y) for y in ticks])


def _hatches(painter: QPainter, scene: Scene) -> None:
    look, view, across = scene.look, scene.view, scene.across
    reached = -np.inf
    brush = QBrush(look.soft, Qt.BrushStyle.BDiagPattern)
    for span in scene.model.hatches:
        if span.end < view.top or span.start > view.bottom or view.y(span.end) - reached < 0.7:
            continue
        box = _band(view, span.start, span.end, across.line, across.trace_right - across.line)
        reached = view.y(span.end)
        painter.fillRect(QRectF(box.left(), box.top(), box.width(), max(box.height(), 1.0)), brush)
        words = look.text(span.why, width=box.width() - 6)
        if box.height() > 1.6 * look.em and words.size().width() > 2 * look.em:
            label = QRectF(box.left() + 3, box.top() + 3, words.size().width() + 2, look.em)
            painter.fillRect(label, look.paper)
            painter.setPen(look.ink)
            painter.drawStaticText(QPointF(label.left() + 1, label.top()), words)


def _outline(scene: Scene, curve: Curve, left: float, wide: float, full: float, both: bool) -> list[QPolygonF]:
    """The curve as closed shapes from `left` rightward (or to both sides), one for each stretch that is known."""
    view = scene.view
    height = max(int(view.height - view.header), 1)
    high = curve.rows(view.top, view.bottom, height)
    known = np.isfinite(high)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
    shapes = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        reach = np.clip(high[first:last] / full, 0.0, 1.0) * wide
        rows = np.arange(first, last) + view.header
        points = [QPointF(left + r, y) for r, y in zip(reach.tolist(), rows.tolist(), strict=True)]
        back = [
            QPointF(left - r if both else left, y)
            for r, y in zip(reach[::-1].tolist(), rows[::-1].tolist(), strict=True)
        ]
        shapes.append(QPolygonF(points + back))
    return shapes


def _trace(painter: QPainter, scene: Scene, curve: Curve) -> None:
    across, look = scene.across, scene.look
    wide = across.trace_right - across.line - 4
    fill = QColor(look.trace)
    fill.setAlphaF(0.35)
    painter.setBrush(fill)
    painter.setPen(QPen(look.trace, 1.0))
    dense = scene.view.scale < 30
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not dense)
    for shape in _outline(scene, curve, across.line, wide, scene.pull_full, both=False):
        painter.drawPolygon(shape)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)


def _sound(painter: QPainter, scene: Scene) -> None:
    across, look, view = scene.across, scene.look, scene.view
    wide = across.sound_right - across.sound_left
    if wide <= 0:
        return
    middle = (across.sound_left + across.sound_right) / 2
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(look.soft)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    for curve in scene.sounds:
        for shape in _outline(scene, curve, middle, wide / 2 - 1, 1.0, both=True):
            painter.drawPolygon(shape)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    first, last = np.searchsorted(scene.taps, [view.top, view.bottom])
    rows = np.unique(np.round(view.header + (scene.taps[first:last] - view.top) * view.scale))
    painter.setPen(QPen(QColor(VERMILION), 1.6))
    painter.drawLines([QLineF(across.sound_right - 5, y, across.sound_right + 3, y) for y in rows.tolist()])
    paint_bouts(painter, scene.bouts, view, across, look)


def thinned(lane: Lane, view: View) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Positions of the items on view of which each covers a pixel that none before it covers in its column, with
    their first and last y."""
    span = lane.between(view.top - 2 / view.scale, view.bottom + 2 / view.scale)
    top = view.header + (lane.starts[span.start : span.stop] - view.top) * view.scale
    bottom = view.header + (lane.ends[span.start : span.stop] - view.top) * view.scale
    seen = bottom >= view.header - 12
    places = np.arange(span.start, span.stop)[seen]
    top, bottom = top[seen], bottom[seen]
    if len(places) > 200:
        coarse = 1.0 if len(places) < 600 else 2.0
        pixel = np.round(top / coarse).astype(np.int64) * 64 + np.minimum(lane.columns[places], 63)
        long = bottom - top > 1.5 * coarse
        _, first = np.unique(pixel, return_index=True)
        keep = np.zeros(len(places), dtype=bool)
        keep[first] = True
        keep |= long
        places, top, bottom = places[keep], top[keep], bottom[keep]
    return places, top, bottom


def _lane(painter: QPainter, scene: Scene, side: Side, lane: Lane) -> None:
    places, top, bottom = thinned(lane, scene.view)
    bar_at = [scene.across.bar_at(side, number) for number in range(int(lane.columns.max(initial=0)) + 1)]
    bars: dict[int, list[QRectF]] = {}
    ticks: dict[int, list[QLineF]] = {}
    flags = []
    for place, y0, y1 in zip(places.tolist(), top.tolist(), bottom.tolist(), strict=True):
        item = lane.items[place]
        if item.kind == "flag":
            flags.append((item, y0, y1))
        elif item.lasting:
            left, wide = bar_at[item.column]
            first = max(y0, scene.view.header - 4)
            last = min(y1, scene.view.height + 4.0)
            bars.setdefault(scene.look.bar(item), []).append(QRectF(left, first, wide, max(last - first, 1.5)))
        else:
            ticks.setdefault(scene.look.bar(item), []).append(_tick(scene, side, y0))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(QPen(scene.look.ink, 1.0) if len(places) < 400 else QPen(Qt.PenStyle.NoPen))
    for colour, boxes in bars.items():
        painter.setBrush(QColor.fromRgba(colour))
        painter.drawRects(boxes)
    for colour, lines in ticks.items():
        painter.setPen(QPen(scene.look.ink, 4.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLines(lines)
        painter.setPen(QPen(QColor.fromRgba(colour), 2.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLines(lines)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _flags(painter, scene, flags)
    _labels(painter, scene, side, lane, places, top)


def _tick(scene: Scene, side: Side, y: float) -> QLineF:
    across = scene.across
    if side is Side.HIM:
        return QLineF(across.line - 0.9 * across.em - 1.4 * across.bar, y, across.line - 0.3 * across.em, y)
    if side is Side.HER:
        return QLineF(across.trace_right - 0.6 * across.em, y, across.trace_right + 1.4 * across.bar, y)
    return QLineF(across.line - 1.1 * across.em, y, across.line + 1.1 * across.em, y)


def _flags(painter: QPainter, scene: Scene, flags: list[tuple[RollItem, float, float]]) -> None:
    across, reached, doubted = scene.across, -np.inf, -np.inf
    painter.setPen(QPen(scene.look.ink, 3.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
    painter.drawLines([QLineF(across.line, y0, across.line, y1) for _, y0, y1 in flags if y1 - y0 > 2])
    fulls = [scene.view.y(item.full) for item, y0, y1 in flags if y1 - y0 > 6]
    painter.drawLines([QLineF(across.line - 5, y, across.line + 5, y) for y in fulls])
    for item, y0, _ in flags:
        if y0 - reached < 3.0 and item.key != scene.selected:
            continue
        reached = y0
        radius = across.em * (0.3 + 0.16 * (item.score if item.score is not None else 1.0))
        draw_call(painter, scene.look, QPointF(across.line, y0), radius, item.decision, faint=item.weak)
        if item.doubted and item.decision is None and y0 - doubted > across.em:
            doubted = y0
            painter.setPen(scene.look.ink)
            mark = scene.look.text("?", bold=True)
            painter.drawStaticText(QPointF(across.line + 0.8 * across.em, y0 - across.em / 2), mark)


def _labels(painter: QPainter, scene: Scene, side: Side, lane: Lane, places: NDArray[np.int64], top: Floats) -> None:
    """Write what there is room for, from the top; the others are told by hovering, selecting or zooming in."""
    look, across, view = scene.look, scene.across, scene.view
    if side is Side.LINE:
        return _line_labels(painter, scene, lane, places, top)
    left, right = (
        (across.his_left, across.his_bars - 4) if side is Side.HIM else (across.her_bars + 4, across.width - 4)
    )
    if right - left < 2.2 * look.em or not len(places):
        return None
    painter.setPen(look.ink)
    rows = np.clip(top, view.header + look.em / 2, None)
    number = 0
    while number < len(places):
        item = lane.items[int(places[number])]
        y = float(rows[number])
        text = look.text(item.label + (" …" if item.open else ""), width=right - left)
        x = right - text.size().width() if side is Side.HIM else left
        painter.drawStaticText(QPointF(x, y - look.em / 2), text)
        number = max(int(np.searchsorted(top, y + look.em)), number + 1)
    return None


def _line_labels(painter: QPainter, scene: Scene, lane: Lane, places: NDArray[np.int64], top: Floats) -> None:
    """Momentary things on the line (contact, introduced) are written over her trace, on paper so that they read."""
    look, across = scene.look, scene.across
    room = across.trace_right - across.line - 1.4 * look.em + max(across.her_bars - across.trace_right, 0)
    reached = -np.inf
    for place, y in zip(places.tolist(), top.tolist(), strict=True):
        item = lane.items[place]
        if item.kind == "flag" or y - reached < look.em or room < 2 * look.em or y < scene.view.header:
            continue
        text = look.text(item.label, width=room)
        where = QRectF(across.line + 1.3 * look.em, y - look.em / 2, text.size().width() + 4, look.em)
        painter.fillRect(where, look.paper)
        painter.setPen(look.ink)
        painter.drawStaticText(QPointF(where.left() + 2, where.top()), text)
        reached = y


def _selected(painter: QPainter, scene: Scene) -> None:
    item = scene.model.by_key.get(scene.selected) if scene.selected else None
    look, view, across = scene.look, scene.view, scene.across
    start, end = (item.start, item.end) if item else (0.0, 0.0)
    if scene.dragged is not None:
        item, start, end = scene.dragged
    if item is None or end < view.top or start > view.bottom:
        return
    y0, y1 = view.y(start), view.y(end)
    painter.setPen(QPen(look.high, 1.2, Qt.PenStyle.DotLine))
    painter.drawLine(QLineF(across.ruler, y0, across.width, y0))
    if y1 - y0 > 2:
        painter.drawLine(QLineF(across.ruler, y1, across.width, y1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if item.kind == "flag":
        box = QRectF(across.line - 0.8 * look.em, y0 - 0.8 * look.em, 1.6 * look.em, y1 - y0 + 1.6 * look.em)
    elif item.lasting:
        left, wide = across.bar_at(item.side, item.column)
        box = QRectF(left - 3, y0 - 3, wide + 6, max(y1 - y0, 1.5) + 6)
        if scene.dragged is not None:
            painter.fillRect(box, QBrush(look.high, Qt.BrushStyle.Dense5Pattern))
    else:
        line = _tick(scene, item.side, y0)
        box = QRectF(line.x1() - 3, y0 - 5, line.dx() + 6, 10)
    painter.setPen(QPen(look.paper, 5.0))
    painter.drawRoundedRect(box, 4, 4)
    painter.setPen(QPen(look.high, 2.6))
    painter.drawRoundedRect(box, 4, 4)
    for y in (y0, y1) if item.kind == "mark" and item.lasting and not item.open else (y0,):
        painter.fillRect(QRectF(box.center().x() - 4, y - 2, 8, 4), look.high)


def _place(painter: QPainter, scene: Scene) -> None:
    """Where the film stands: a rule across the roll with its time on the ruler."""
    if scene.place is None or not scene.view.top <= scene.place <= scene.view.bottom:
        return
    look, view, across = scene.look, scene.view, scene.across
    y = view.y(scene.place)
    painter.setPen(QPen(look.ink, 1.2))
    painter.drawLine(QLineF(across.ruler - 4, y, across.width, y))
    text = look.text(clock(scene.place), bold=True)
    wide = max(text.size().width() + 8, across.ruler)
    top = min(max(y - look.em / 2, view.header), view.height - look.em - 1)
    painter.fillRect(QRectF(0, top - 1, wide, look.em + 2), look.ink)
    painter.setPen(look.paper)
    painter.setFont(look.bold)
    painter.drawStaticText(QPointF(4, top), text)
    painter.setFont(look.font)
