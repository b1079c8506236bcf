"""The roll's surface: the session as a strip of paper on which time runs down, his acts left of the line, hers right.

The widget is told what to show and reports what the keeper wants; it changes nothing itself.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, QSize, Qt, Signal
from PySide6.QtGui import (
    QAccessible,
    QAccessibleEvent,
    QContextMenuEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea, QToolTip, QWidget

from clipmark.motion.result import Floats
from clipmark.review.moving_lanes import MovingLane, curve_of
from clipmark.review.roll_geometry import Columns, Hit, View, columns, hit
from clipmark.review.roll_model import EMPTY, Curve, RollItem, RollModel, exact_seconds, snapped
from clipmark.timebase import clock
from clipmark.window.roll.bouts import HeardBout, bout_at
from clipmark.window.roll.hollow import HollowBar, bar_under
from clipmark.window.roll.hollow_mouse import HollowMouse
from clipmark.window.roll.look import Look
from clipmark.window.roll.moving import MovingCurve, moving_told, moving_width
from clipmark.window.roll.paint import Scene, paint, paint_over
from clipmark.window.roll.told import told

_TOLD_BOUTS = 5  # in the roll's description; the reading beside it lists them all
MOST_PER_SECOND = 2_400.0  # pixels: a frame of 60 a second is then 40 pixels high


class Roll(QAbstractScrollArea):
    """The log roll as a widget.

    Signals:
        placeWanted(Fraction): the keeper pointed at a time on the session clock.
        selected(str, int): "mark" or "flag" and its id; ("", 0) when nothing is selected any more.
        activated(str, int): the keeper wants to see it on the film (Enter, double click).
        endDragged(int, str, Fraction): of a mark its "start" or "end", moved to this session time.
        menuWanted(str, int, QPoint): the menu of an item was asked for, at a global position.
    """

    placeWanted = Signal(object)
    selected = Signal(str, int)
    activated = Signal(str, int)
    endDragged = Signal(int, str, object)
    menuWanted = Signal(str, int, QPoint)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._model: RollModel = EMPTY
        self._view = View(0.0, 100.0, 100)
        self._look: Look | None = None
        self._across: Columns | None = None
        self._place: float | None = None
        self._key: tuple[str, int] | None = None
        self._sounds: tuple[Curve, ...] = ()
        self._taps: Floats = np.empty(0)
        self._bouts: tuple[HeardBout, ...] = ()
        self._moving: tuple[MovingCurve, ...] = ()
        self._hollow: tuple[HollowBar, ...] = ()
        self.hollow_mouse = HollowMouse(self)
        self._frames: Floats = np.empty(0)
        self._drag: tuple[Hit, float] | None = None
        self._panned: QPointF | None = None
        self._fitted = True
        self._kept: tuple[tuple[View, Columns, float], QPixmap] | None = None
        self._pull_full = 0.15
        self.follow = True
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.setAccessibleName(self.tr("Log roll"))
        self._describe()

    # what it is told

    def set_model(self, model: RollModel) -> None:
        """Show another state of the session; place and selection stay where they can."""
        tops = [float(np.nanpercentile(c.values, 99.8)) for c in model.pulls if np.isfinite(c.values).any()]
        self._pull_full = max([0.15, *tops])
        was_empty = self._model is EMPTY or (self._model.start, self._model.end) != (model.start, model.end)
        self._model = model
        self._across = None
        if self._key not in model.by_key:
            self._key = None
        if self._fitted and was_empty:
            self.show_whole()
        self._forget()
        self._changed_view()
        self._describe()

    def set_place(self, seconds: Fraction | float) -> None:
        """Where the film stands; the roll follows when that leaves the view."""
        self._place = float(seconds)
        if self.follow and self._drag is None and self._panned is None:
            self._bring(self._place)
        self.viewport().update()

    def set_sound(self, sounds: tuple[Curve, ...], taps: Floats, bouts: tuple[HeardBout, ...] = ()) -> None:
        """Levels 0..1 over session seconds, one curve a clip, the onsets of taps, and bouts of regular ones."""
        self._sounds, self._taps, self._bouts, self._across = sounds, np.sort(taps), bouts, None
        self._forget()
        self._describe()

    def set_moving(self, lanes: tuple[MovingLane, ...]) -> None:
        """How much moves in each clip; drawn beside the ruler."""
        self._moving = tuple(MovingCurve(Curve(*curve_of(one)), one.rough, one.notes) for one in lanes)
        self._across = None
        self._forget()
        self._describe()

    def set_hollow(self, bars: tuple[HollowBar, ...]) -> None:
        """Proposals of the draft, drawn hollow beside the marks."""
        self._hollow = bars
        self._forget()

    @property
    def hollow(self) -> tuple[HollowBar, ...]:
        """The proposals on the roll."""
        return self._hollow

    def hollow_at(self, at: QPointF) -> tuple[int, str] | None:
        """Number of the proposal at a point and the end that is taken hold of there; a mark or pull comes first."""
        if at.y() < self._header() or self._hit(at) is not None:
            return None
        return bar_under(self._hollow, self._view, self._columns(), at)

    def seconds_at(self, y: float) -> float:
        """Session seconds at a height, on a frame that exists."""
        return snapped(self._frames, self._view.at(y))

    def set_frames(self, times: Floats) -> None:
        """Session times of the frames that exist (of the clip on view): ends that are dragged land on them."""
        if self._frames is not times:
            self._frames = times
            self._forget()

    def select(self, kind: str, id: int) -> None:
        """Select without reporting it; unknown items clear the selection."""
        key = (kind, id)
        self._key = key if key in self._model.by_key else None
        if self._key is not None:
            self._bring(self._model.by_key[self._key].start)
        self._describe()
        self.viewport().update()

    @property
    def model(self) -> RollModel:
        return self._model

    @property
    def view(self) -> View:
        return self._view

    @property
    def selection(self) -> RollItem | None:
        return self._model.by_key.get(self._key) if self._key else None

    @property
    def empty(self) -> bool:
        return not self._model.clips

    # zoom and scroll

    def show_whole(self) -> None:
        """The whole session from top to bottom."""
        self._fitted = True
        self._view = View(self._model.start, self._least(), self._height(), self._header())
        self._changed_view()

    def show_span(self, start: float, end: float) -> None:
        """Zoom so that a stretch fills most of the roll."""
        self._fitted = False
        room = max(self._height() - self._header(), 1.0)
        wanted = room / max((end - start) * 1.4, 1e-3)
        scale = min(max(wanted, self._least()), MOST_PER_SECOND)
        top = (start + end) / 2 - room / scale / 2
        self._view = View(top, scale, self._height(), self._header())
        self._changed_view()

    def zoom(self, factor: float, y: float | None = None) -> None:
        """Closer (above 1) or further, about a y of the surface or else the film's place or the middle."""
        if y is None:
            at = self._view.y(self._place) if self._place is not None else -1.0
            y = at if self._header() <= at <= self._height() else (self._height() + self._header()) / 2
        self._view = self._view.zoomed(factor, y, self._least(), MOST_PER_SECOND)
        self._fitted = self._view.scale <= self._least() * 1.0001
        self._changed_view()

    def _least(self) -> float:
        room = max(self._height() - self._header() - 0.8 * self.fontMetrics().height(), 1.0)
        return min(room / (self._model.end - self._model.start), MOST_PER_SECOND)

    def _height(self) -> int:
        return max(self.viewport().height(), 1)

    def _header(self) -> float:
        return 1.6 * self.fontMetrics().height()

    def _changed_view(self) -> None:
        """Keep the view inside the session and the scroll bar in step with it."""
        view = self._view
        room = (self._height() - self._header()) / view.scale
        whole = self._model.end - self._model.start
        slack = 0.4 * self.fontMetrics().height() / view.scale
        top = min(
            max(view.top, self._model.start - slack), max(self._model.end - room + slack, self._model.start - slack)
        )
        self._view = View(top, view.scale, self._height(), self._header())
        bar = self.verticalScrollBar()
        bar.blockSignals(True)
        bar.setRange(0, max(int((whole - room + 2 * slack) * view.scale), 0))
        bar.setPageStep(int(room * view.scale))
        bar.setSingleStep(3 * self.fontMetrics().height())
        bar.setValue(int((top - self._model.start + slack) * view.scale))
        bar.blockSignals(False)
        self.viewport().update()

    def _scrolled(self, value: int) -> None:
        slack = 0.4 * self.fontMetrics().height() / self._view.scale
        top = self._model.start - slack + value / self._view.scale
        self._view = View(top, self._view.scale, self._height(), self._header())
        self.viewport().update()

    def _bring(self, seconds: float) -> None:
        margin = 2 * self.fontMetrics().height()
        if not self._header() + margin <= self._view.y(seconds) <= self._height() - margin:
            room = (self._height() - self._header()) / self._view.scale
            self._view = View(seconds - room / 3, self._view.scale, self._height(), self._header())
            self._changed_view()

    # drawing

    def _columns(self) -> Columns:
        if self._across is None or self._across.width != self.viewport().width():
            metrics = self.fontMetrics()
            widest = clock(max(self._model.end, 1.0), 2 if self._model.end < 3_600 else 1)
            ruler = metrics.horizontalAdvance(widest) + 8 + (moving_width(metrics.height()) if self._moving else 0.0)
            wide, sound, bouts = self.viewport().width(), bool(self._sounds), bool(self._bouts)
            self._across = columns(self._model, wide, metrics.height(), ruler, sound, bouts)
        return self._across

    def _scene(self) -> Scene:
        if self._look is None:
            self._look = Look(self.font(), self.palette())
        dragged = None
        if self._drag is not None:
            under, at = self._drag
            start, end = (at, under.item.end) if under.end == "start" else (under.item.start, at)
            if not under.item.lasting:
                start = end = at
            dragged = (under.item, start, end)
        return Scene(
            model=self._model, view=self._view, across=self._columns(), look=self._look, place=self._place,
            selected=self._key, sounds=self._sounds, bouts=self._bouts, moving=self._moving, taps=self._taps,
            hollow=self._hollow,
            frames=self._frames, dragged=dragged, pull_full=self._pull_full,
        )  # fmt: skip

    def _layer(self, scene: Scene) -> QPixmap:
        """What stays while the film plays, drawn once for each view."""
        ratio = self.devicePixelRatioF()
        key = (scene.view, scene.across, ratio)
        if self._kept is None or self._kept[0] != key:
            layer = QPixmap(self.viewport().size() * ratio)
            layer.setDevicePixelRatio(ratio)
            painter = QPainter(layer)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint(painter, scene)
            painter.end()
            self._kept = (key, layer)
        return self._kept[1]

    def _forget(self) -> None:
        self._kept = None
        self.viewport().update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self.viewport())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        scene = self._scene()
        painter.drawPixmap(0, 0, self._layer(scene))
        paint_over(painter, scene)
        if self.empty:
            painter.setPen(self._scene().look.ink)
            room = self.viewport().rect().adjusted(12, int(self._header()) + 12, -12, -12)
            painter.drawText(
                room,
                int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap),
                self.tr("Open film on the Pair page. What happens on it is then written here, from top to bottom."),
            )
        if self.hasFocus():
            painter.setPen(self._scene().look.high)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.viewport().rect().adjusted(0, 0, -1, -1))
        painter.end()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.PaletteChange, QEvent.Type.StyleChange):
            self._look, self._across, self._kept = None, None, None
            self._changed_view()
        super().changeEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._across = None
        if self._fitted:
            self.show_whole()
        else:
            self._changed_view()

    def sizeHint(self) -> QSize:
        em = self.fontMetrics().height()
        return QSize(24 * em, 30 * em)

    def minimumSizeHint(self) -> QSize:
        em = self.fontMetrics().height()
        return QSize(11 * em, 10 * em)

    # pointer

    def _hit(self, at: QPointF) -> Hit | None:
        if at.y() < self._header():
            return None
        return hit(self._model, self._view, self._columns(), at.x(), at.y())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panned = event.position()
            return
        if event.button() != Qt.MouseButton.LeftButton or self.empty:
            return
        under = self._hit(event.position())
        if under is None:
            self._choose(None)
            if event.position().y() >= self._header():
                self._want(event.position().y())
            return
        self._choose(under.item.key)
        if under.end:
            self._drag = (under, under.item.start if under.end == "start" else under.item.end)
            self._pressed = event.position()
        else:
            self.placeWanted.emit(exact_seconds(under.item.start))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._panned is not None:
            moved = event.position().y() - self._panned.y()
            self._panned = event.position()
            self.verticalScrollBar().setValue(self.verticalScrollBar().value() - round(moved))
            return
        if self._drag is not None:
            under, _ = self._drag
            at = snapped(self._frames, self._view.at(event.position().y()))
            if under.item.lasting:
                at = min(at, under.item.end) if under.end == "start" else max(at, under.item.start)
            self._drag = (under, at)
            QToolTip.showText(event.globalPosition().toPoint(), clock(at), self)
            self.viewport().update()
            return
        if event.buttons() & Qt.MouseButton.LeftButton and not self.empty:
            self._want(event.position().y())
            return
        under_now = self._hit(event.position())
        shape = Qt.CursorShape.SizeVerCursor if under_now and under_now.end else Qt.CursorShape.ArrowCursor
        self.viewport().setCursor(shape)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panned = None
        elif self._drag is not None:
            (under, at), self._drag = self._drag, None
            if abs(event.position().y() - self._pressed.y()) >= 2:
                self.endDragged.emit(under.item.id, under.end, exact_seconds(at))
            else:
                self.placeWanted.emit(exact_seconds(under.item.start if under.end == "start" else under.item.end))
            self.viewport().update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        under = self._hit(event.position())
        if under is not None:
            self._drag = None
            self.activated.emit(*under.item.key)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """The wheel runs along the roll; with Ctrl it zooms about the pointer."""
        turned = event.angleDelta().y()
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom(1.0018**turned, event.position().y())
        else:
            pixels = event.pixelDelta().y() or turned
            self.verticalScrollBar().setValue(self.verticalScrollBar().value() - pixels)
        event.accept()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        under = self._hit(QPointF(event.pos())) if event.reason() == QContextMenuEvent.Reason.Mouse else None
        item = under.item if under else self.selection
        if item is not None:
            self._choose(item.key)
            self.menuWanted.emit(*item.key, event.globalPos())

    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            at = QPointF(event.pos())
            under = self._hit(at)
            QToolTip.showText(event.globalPos(), told(under.item) if under else self._hatch_told(at), self)
            return True
        return super().viewportEvent(event)

    def _hatch_told(self, at: QPointF) -> str:
        seconds = self._view.at(at.y())
        across = self._columns()
        if self._moving and at.x() <= moving_width(self.fontMetrics().height()):
            return moving_told(self._moving, seconds)
        bout = bout_at(self._bouts, across, at.x(), seconds)
        if bout is not None:
            return bout.told
        if not across.line <= at.x() <= across.trace_right:
            return ""
        found = next((span for span in self._model.hatches if span.start <= seconds < span.end), None)
        return self.tr("Not watched: {why}").format(why=found.why) if found else ""

    # keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, shift = event.key(), event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            event.ignore()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and not shift:
            self._step(+1 if key == Qt.Key.Key_Down else -1)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            bar = self.verticalScrollBar()
            bar.setValue(bar.value() + (1 if key == Qt.Key.Key_PageDown else -1) * int(0.8 * bar.pageStep()))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Minus, Qt.Key.Key_Equal):
            self.zoom(1 / 1.5 if key == Qt.Key.Key_Minus else 1.5)
        elif key == Qt.Key.Key_Asterisk:
            self.show_whole()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._key is not None:
            self.activated.emit(*self._key)
        elif key == Qt.Key.Key_Menu and self._key is not None:
            self.menuWanted.emit(*self._key, self.viewport().mapToGlobal(QPoint(8, 8)))
        else:
            event.ignore()

    def _step(self, step: int) -> None:
        at = self._place if self._place is not None else self._model.start
        item = self._model.neighbour(at, step, self._key)
        if item is not None:
            self._choose(item.key)
            self._bring(item.start)
            self.placeWanted.emit(exact_seconds(item.start))

    def _choose(self, key: tuple[str, int] | None) -> None:
        if key != self._key:
            self._key = key
            self.selected.emit(*(key or ("", 0)))
            self._describe()
        self.viewport().update()

    def _want(self, y: float) -> None:
        seconds = min(max(self._view.at(y), self._model.start), self._model.end)
        self.placeWanted.emit(exact_seconds(seconds))

    # words

    def _describe(self) -> None:
        item = self.selection
        text = told(item) if item else self.tr("Up and Down go from mark to mark, Enter shows it on the film.")
        text = ". ".join((text.rstrip("."), *(bout.told for bout in self._bouts[:_TOLD_BOUTS])))
        self.setAccessibleDescription(text)
        if QAccessible.isActive():
            QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.DescriptionChanged))
