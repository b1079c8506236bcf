"""What the roll looks like: font, colours of the acts' families, the sign that stands for a call."""

from __future__ import annotations

from dataclasses import dataclass, field

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPalette, QPen, QPolygonF, QStaticText

from clipmark.book.model import Decision
from clipmark.report.pictures.colours import BLUE, FAMILIES, ORANGE, SKY, VERMILION
from clipmark.review.roll_model import RollItem

_COLOURS = {code: QColor(family.colour) for family in FAMILIES for code in family.codes}


def act_colour(code: str) -> QColor | None:
    """The colour of an act's family: signals, answers, holding, inserting, aggression; None for all others."""
    return _COLOURS.get(code)


@dataclass
class Look:
    """Font, colours and kept writing, from the system's palette and font; made anew when those change."""

    font: QFont
    palette: QPalette
    texts: dict[tuple[str, bool, int], QStaticText] = field(default_factory=dict)
    bars: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.metrics = QFontMetricsF(self.font)
        self.em = self.metrics.height()
        self.bold = QFont(self.font)
        self.bold.setBold(True)
        self.paper = self.palette.color(QPalette.ColorRole.Base)
        self.ink = self.palette.color(QPalette.ColorRole.Text)
        self.dark = self.paper.lightnessF() < 0.5
        self.high = self.palette.color(QPalette.ColorRole.Highlight)
        self.soft = mixed(self.ink, self.paper, 0.55)
        self.faint = mixed(self.ink, self.paper, 0.22)
        self.grid = mixed(self.ink, self.paper, 0.09)
        self.wash = mixed(self.ink, self.paper, 0.06)
        self.trace = QColor(SKY if self.dark else BLUE)

    def text(self, text: str, bold: bool = False, width: float = 0.0) -> QStaticText:
        """Laid-out writing, cut with an ellipsis to `width` pixels where given."""
        kept = self.texts.get((text, bold, int(width)))
        if kept is None:
            font = self.bold if bold else self.font
            shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, width) if width else text
            kept = QStaticText(shown)
            kept.setTextFormat(Qt.TextFormat.PlainText)
            kept.prepare(font=font)
            if len(self.texts) > 2_000:
                self.texts.clear()
            self.texts[(text, bold, int(width))] = kept
        return kept

    def bar(self, item: RollItem) -> int:
        """Colour of an act's bar or tick, as the number Qt makes colours from."""
        kept = self.bars.get(item.code)
        if kept is None:
            kept = self.bars[item.code] = (act_colour(item.code) or self.soft).rgba()
        return kept


def mixed(over: QColor, under: QColor, share: float) -> QColor:
    return QColor.fromRgbF(
        over.redF() * share + under.redF() * (1 - share),
        over.greenF() * share + under.greenF() * (1 - share),
        over.blueF() * share + under.blueF() * (1 - share),
    )


def draw_call(
    painter: QPainter, look: Look, at: QPointF, radius: float, decision: Decision | None, faint: bool = False
) -> None:
    """A call as a dish that is filled as far as the evidence goes: full for confirmed, two thirds for probable, one
    third for an attempt, a dotted empty rim for not seen, a bar across for something else; a lozenge awaits its call.
    """
    ink = look.soft if faint else look.ink
    box = QRectF(at.x() - radius, at.y() - radius, 2 * radius, 2 * radius)
    painter.setBrush(look.paper)
    if decision is None:
        painter.setPen(QPen(ink, 1.6))
        painter.setBrush(QColor(look.paper if faint else QColor("#f0e442")))
        wide = radius * 1.25
        painter.drawPolygon(
            QPolygonF([at + QPointF(0, -wide), at + QPointF(wide, 0), at + QPointF(0, wide), at + QPointF(-wide, 0)])
        )
        return
    dotted = Qt.PenStyle.DotLine if decision is Decision.NOT_SEEN else Qt.PenStyle.SolidLine
    painter.setPen(QPen(ink, 1.6, dotted))
    painter.drawEllipse(box)
    filled = {Decision.CONFIRMED: 1.0, Decision.PROBABLE: 0.6, Decision.ATTEMPT: 0.28}.get(decision, 0.0)
    if filled:
        painter.save()
        dish = QPainterPath()
        dish.addEllipse(box)
        painter.setClipPath(dish, Qt.ClipOperation.IntersectClip)
        colour = QColor(VERMILION if decision is not Decision.ATTEMPT else ORANGE)
        painter.fillRect(QRectF(box.left(), box.bottom() - filled * box.height(), box.width(), box.height()), colour)
        painter.restore()
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(box)
    if decision is Decision.OTHER:
        painter.drawLine(QLineF(box.left() + 2, at.y(), box.right() - 2, at.y()))
