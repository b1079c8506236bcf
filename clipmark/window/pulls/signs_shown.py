"""Signs proposed for the pull on view: hollow ticks with their figures, beside the curve. They tick nothing."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QObject, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from clipmark.book.model import FlagRecord, Outline
from clipmark.draft.signs import figure_words, sign_words
from clipmark.draft.values import NEAR, SIGNS, SignSeen
from clipmark.media.clip import Clip
from clipmark.motion.result import Box, Trace
from clipmark.progress import Progress
from clipmark.report.kept_drafts import kept_draft
from clipmark.report.signs_seen import Pulled, signs_seen
from clipmark.window import theme
from clipmark.window.film.drafting import boxes_of
from clipmark.window.workspace import Workspace

_Key = tuple[int, tuple[Outline, ...]]  # a pull and the outlines that its signs were read with
_SAME_S = 0.05  # between a pull and the proposal of the same pull


class SignReader(QObject):
    """Reads the signs of pulls beside the window and keeps them. Signals: told(int): the id of the pull."""

    told = Signal(int)

    def __init__(self, workspace: Workspace, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace = workspace
        self._known: dict[_Key, tuple[SignSeen, ...]] = {}
        self._reading: set[_Key] = set()
        workspace.sessionChanged.connect(self._known.clear)

    def of(self, flag: FlagRecord, film: Clip) -> tuple[SignSeen, ...] | None:
        """The signs of a pull; None while they are being read, empty where nothing was followed."""
        outlines = self.workspace.outlines_of(flag.clip_id)
        key = flag.id, outlines  # with another outline more can be seen
        if key in self._known:
            return self._known[key]
        trace = self.workspace.trace(flag.clip_id)
        if trace is None or len(trace.x) != len(film.index):
            return ()
        if key not in self._reading:
            self._reading.add(key)
            boxes = boxes_of(film, outlines)
            self.workspace.tasks.run(
                self.tr("Looking for signs"),
                partial(_read, film, trace, boxes, flag),
                partial(self._take_in, key),
                lambda _: self._take_in(key, ()),
                lambda: self._reading.discard(key),
            )
        return None

    def _take_in(self, key: _Key, signs: Sequence[SignSeen]) -> None:
        self._reading.discard(key)
        self._known[key] = tuple(signs)
        self.told.emit(key[0])


def _read(
    film: Clip, trace: Trace, boxes: Sequence[Box], flag: FlagRecord, progress: Progress
) -> tuple[SignSeen, ...]:
    """For a background task. What the draft saw of him is taken where he is not outlined."""
    index = film.index
    onset, full = index.at_or_before(flag.onset_pts), index.at_or_before(flag.full_pts)
    release = None if flag.release_pts is None else index.at_or_before(flag.release_pts)
    pulled = Pulled(onset, max(full, onset), release, flag.pull)
    (seen,) = signs_seen(film, trace, boxes, [pulled], progress=progress)
    at = float(index.seconds()[onset])
    known = [p for p in kept_draft(film.fingerprint) or () if p.signs and abs(p.start_s - at) <= _SAME_S]
    drafted = known[0].signs if known else ()
    better = {one.sign: one for one in drafted if one.seen is not None}
    return tuple(better.get(one.sign, one) if one.seen is None else one for one in seen)


class SignStrip(QWidget):
    """The signs as lines: a hollow tick (seen), a hollow dash (not seen) or a question mark (cannot be seen)."""

    def __init__(self) -> None:
        super().__init__()
        self._signs: tuple[SignSeen, ...] = ()
        self._words = ""
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Signs that the program saw; they tick nothing"))
        self.setToolTip(self.accessibleName())

    def sizeHint(self) -> QSize:
        metrics, em = self.fontMetrics(), self.fontMetrics().height()
        name = max(metrics.horizontalAdvance(sign) for sign in (*SIGNS, NEAR))
        return QSize(name + metrics.horizontalAdvance(self._unseen()) + 2 * em, 7 * em)

    def show_signs(self, signs: Sequence[SignSeen], words: str = "") -> None:
        """`words`: shown where there are no signs."""
        self._signs, self._words = tuple(signs), words
        told = "\n".join(sign_words(one) for one in signs)
        self.setAccessibleDescription(told or words)
        self.setToolTip(f"{self.accessibleName()}\n{told}" if told else words)
        self.update()

    @property
    def signs(self) -> tuple[SignSeen, ...]:
        """The signs on view."""
        return self._signs

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, em = theme.current(), self.fontMetrics().height()
        if not self._signs:
            painter.setPen(QColor(look.faint))
            painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap), self._words)
            painter.end()
            return
        high = self.height() / (len(self._signs) + 1)
        painter.setPen(QColor(look.faint))
        painter.drawText(QRectF(0, 0, self.width(), high), self._middle, self.tr("seen by the program"))
        for number, one in enumerate(self._signs, start=1):
            self._line(painter, one, QRectF(0, number * high, self.width(), high), em, look)
        painter.end()

    def _unseen(self) -> str:
        return self.tr("cannot be seen")

    _middle = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)

    def _line(self, painter: QPainter, one: SignSeen, room: QRectF, em: int, look: theme.Theme) -> None:
        colour = QColor(look.faint if one.seen is None else look.text)
        if one.sign != NEAR or (one.seen is None and not figure_words(one)):
            _tick(painter, one.seen, QPointF(room.left() + 0.5 * em, room.center().y()), 0.36 * em, colour)
        painter.setPen(colour)
        figure = figure_words(one) or (self._unseen() if one.seen is None else "")
        wide = self.fontMetrics().horizontalAdvance(figure)
        left = room.left() + 1.2 * em
        name = self.fontMetrics().elidedText(
            one.sign, Qt.TextElideMode.ElideRight, max(int(room.width() - 1.6 * em - wide), 0)
        )
        painter.drawText(QRectF(left, room.top(), room.width() - 1.2 * em, room.height()), self._middle, name)
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(QRectF(left, room.top(), room.width() - 1.2 * em - 2, room.height()), right, figure)


def _tick(painter: QPainter, seen: bool | None, at: QPointF, size: float, colour: QColor) -> None:
    """Hollow, so that nobody takes it for a tick of the keeper's."""
    painter.setPen(QPen(colour, 1.2))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    x, y = at.x(), at.y()
    if seen is None:
        box = QRectF(x - size, y - 1.4 * size, 2 * size, 2.8 * size)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), "?")
    elif seen:
        shape = ((-1.0, 0.0), (-0.6, -0.35), (-0.2, 0.15), (0.75, -0.95), (1.1, -0.6), (-0.2, 0.9))
        painter.drawPolygon(QPolygonF([QPointF(x + size * a, y + size * b) for a, b in shape]))
    else:
        painter.drawRect(QRectF(x - 0.9 * size, y - 0.22 * size, 1.8 * size, 0.44 * size))
