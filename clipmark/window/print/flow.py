"""Pieces of a printed page and how they follow each other from page to page: text that may break between its lines,
drawings and cards that may not. Lengths are points (1/72 inch), the PDF is A4."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QByteArray, QMarginsF, QRectF, QSizeF
from PySide6.QtGui import QFont, QPageLayout, QPageSize, QPainter, QPdfWriter, QTextDocument, QTextTable
from PySide6.QtSvg import QSvgRenderer

from clipmark.report.pictures.svg import FONT

WIDTH, HEIGHT = 595.28, 841.89
LEFT, TOP, FOOT = 42.5, 37.0, 44.0
ROOM = WIDTH - 2 * LEFT
FULL = HEIGHT - TOP - FOOT
FAMILIES = ["Source Sans 3", "Segoe UI", "Helvetica Neue", "Arial", "Liberation Sans", "DejaVu Sans", "Noto Sans"]

Draw = Callable[[QPainter, float, float], None]


@dataclass(frozen=True, slots=True)
class Solid:
    """Something drawn whole: `draw(painter, x, y)` with its upper left corner there."""

    height: float
    draw: Draw


class Text:
    """Rich text (Qt's HTML subset) over a width; it may be cut between lines, also through a table.

    Args:
        size: of the font, points. The text's own sizes are given in px, which are points here.
    """

    def __init__(self, html: str, width: float = ROOM, size: float = 9.0):
        font = QFont(FAMILIES)
        font.setPixelSize(round(size * 4))
        self.zoom = 4.0  # laid out four times as large: line breaks then are those of the paper, not of a coarse grid
        document = QTextDocument()
        document.setDefaultFont(font)
        document.setDocumentMargin(0)
        document.setUseDesignMetrics(True)
        document.setHtml(html)
        document.setTextWidth(width * self.zoom)
        self.document = document
        self.width = width
        self.height = document.size().height() / self.zoom

    def solid(self, start: float = 0.0, end: float | None = None) -> Solid:
        """The text (or what of it lies between two heights) as one piece."""
        end = self.height if end is None else end

        def draw(painter: QPainter, x: float, y: float) -> None:
            painter.save()
            painter.translate(x, y - start)
            painter.setClipRect(QRectF(-1, start, self.width + 2, end - start + 0.5))
            painter.scale(1 / self.zoom, 1 / self.zoom)
            self.document.drawContents(painter)
            painter.restore()

        return Solid(end - start, draw)

    def last_break(self, start: float, room: float) -> float:
        """The lowest place at or above `start + room` at which no line and no row of a table is cut, midway to what
        comes next; `start` where there is none."""
        pieces = self._lines() + [row for row in self._rows() if row[1] - row[0] < FULL / 2]
        edges = sorted({bottom for _, bottom in pieces if start < bottom <= start + room}, reverse=True)
        for edge in edges:
            if not any(top + 0.1 < edge < bottom - 0.1 for top, bottom in pieces):
                after = min((top for top, _ in pieces if top >= edge - 0.1), default=edge)
                return min((edge + max(after, edge)) / 2, start + room)
        return start

    def _rows(self) -> list[tuple[float, float]]:
        layout, found = self.document.documentLayout(), []
        for table in self.document.rootFrame().childFrames():
            if not isinstance(table, QTextTable):
                continue
            for r in range(table.rows()):
                cells = [table.cellAt(r, c) for c in range(table.columns())]
                ends = [(c.firstCursorPosition().block(), c.lastCursorPosition().block()) for c in cells]
                top = min(layout.blockBoundingRect(first).top() for first, _ in ends)
                bottom = max(layout.blockBoundingRect(last).bottom() for _, last in ends)
                found.append((top / self.zoom, bottom / self.zoom))
        return found

    def _lines(self) -> list[tuple[float, float]]:
        layout, found = self.document.documentLayout(), []
        block = self.document.begin()
        while block.isValid():
            top = layout.blockBoundingRect(block).top()
            for k in range(block.layout().lineCount()):
                line = block.layout().lineAt(k).rect()
                found.append(((top + line.top()) / self.zoom, (top + line.bottom()) / self.zoom))
            block = block.next()
        return found


def drawing(svg: str, width: float) -> Solid:
    """An SVG picture over a width."""
    svg = svg.replace(FONT, "Arial")  # Qt takes one family; the system knows what stands for this one
    renderer = QSvgRenderer(QByteArray(svg.encode("utf-8")))
    size = renderer.viewBoxF().size()
    height = width * size.height() / max(size.width(), 1e-6)
    return Solid(height, lambda painter, x, y: renderer.render(painter, QRectF(x, y, width, height)))


@dataclass(slots=True)
class Flow:
    """Puts pieces one under another, page after page."""

    pages: list[list[tuple[float, float, Solid]]] = field(default_factory=lambda: [[]])
    y: float = 0.0

    def add(self, piece: Solid | Text, gap: float = 0.0, keep: Solid | Text | None = None) -> None:
        """Place a piece after a gap. `keep` is what must follow on the same page (its first part, for text)."""
        follows = 0.0 if keep is None else min(keep.height, 60.0 if isinstance(keep, Text) else FULL / 2)
        gap = gap if self.y else 0.0
        if isinstance(piece, Text):
            self._text(piece, gap, follows)
            return
        if self.y + gap + piece.height + follows > FULL and self.y:
            self._turn()
            gap = 0.0
        self._place(piece, gap)

    def columns(self, pieces: Sequence[Text], gap: float = 0.0, between: float = 18.0) -> None:
        """Texts beside each other, uncut."""
        height = max((p.height for p in pieces), default=0.0)
        if self.y + gap + height > FULL and self.y:
            self._turn()
        y = self.y + (gap if self.y else 0.0)
        x = LEFT
        for piece in pieces:
            self.pages[-1].append((x, TOP + y, piece.solid()))
            x += piece.width + between
        self.y = y + height

    def _text(self, text: Text, gap: float, follows: float) -> None:
        if self.y + gap + text.height + follows <= FULL:
            self._place(text.solid(), gap)
            return
        start = 0.0
        while start < text.height - 0.1:
            room = FULL - self.y - gap
            end = text.height if text.height - start <= room else text.last_break(start, room)
            if end <= start and not self.y:
                end = start + room  # a line taller than a page: cut it rather than stop
            if end > start:
                self._place(text.solid(start, end), gap)
                start = end
            if start < text.height - 0.1:
                self._turn()
                gap = 0.0

    def _place(self, piece: Solid, gap: float) -> None:
        self.pages[-1].append((LEFT, TOP + self.y + gap, piece))
        self.y += gap + piece.height

    def _turn(self) -> None:
        self.pages.append([])
        self.y = 0.0

    def write(self, path: str, title: str) -> bool:
        """Draw all pages into a PDF file; False where it cannot be written."""
        writer = QPdfWriter(path)
        writer.setTitle(title)
        writer.setCreator("clipmark")
        writer.setResolution(600)
        page = QPageLayout(
            QPageSize(QSizeF(WIDTH, HEIGHT), QPageSize.Unit.Point), QPageLayout.Orientation.Portrait, QMarginsF()
        )
        writer.setPageLayout(page)
        painter = QPainter()
        if not painter.begin(writer):
            return False
        scale = 600 / 72
        for number, pieces in enumerate(self.pages, start=1):
            if number > 1:
                writer.newPage()
            painter.resetTransform()
            painter.scale(scale, scale)
            for x, y, piece in pieces:
                piece.draw(painter, x, y)
            foot = Text(
                f'<p align="right"><span style="color:#5b5b5b">{number} / {len(self.pages)}</span></p>', ROOM, 7.5
            )
            foot.solid().draw(painter, LEFT, HEIGHT - FOOT + 12)
        painter.end()
        return True
