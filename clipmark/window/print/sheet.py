"""A sheet drawn as PDF by Qt alone, for machines on which the page engine (print/page_engine.py) does not run.

`python -m clipmark.window.print.sheet SHEET.json OUT.pdf`, run by `clipmark.report.sheets.pdf` in a process of its
own; the file holds a `clipmark.report.sheets.content.Sheet` as `clipmark.report.sheets.sheet_json` writes it. Every
text is escaped.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QGuiApplication, QImage, QPainter, QPen, QPolygonF

from clipmark.report.sheets.content import Card, Sheet, StillView
from clipmark.report.sheets.kind_content import KindView
from clipmark.report.sheets.sheet_json import from_json
from clipmark.report.text import legible, one_line
from clipmark.window.print.flow import ROOM, Flow, Solid, Text, drawing

SOFT = "#5b5b5b"
STILL, GAP = 110.0, 6.0  # width of a still, points


def _e(text: str) -> str:
    """A keeper's text inside Qt's HTML: escaped, its line breaks kept."""
    return escape(legible(text).replace("\r\n", "\n")).replace("\n", "<br>")


def _soft(text: str) -> str:
    return f'<span style="color:{SOFT}">{_e(text)}</span>'


def _heading(text: str) -> Solid:
    words = Text(f"<b>{_e(text)}</b>", ROOM, 12)

    def draw(painter: QPainter, x: float, y: float) -> None:
        words.solid().draw(painter, x, y)
        painter.setPen(QPen(QColor("#1c1c1c"), 0.7))
        painter.drawLine(QPointF(x, y + words.height + 2), QPointF(x + ROOM, y + words.height + 2))

    return Solid(words.height + 6, draw)


def _section(flow: Flow, title: str, first: Solid | Text, more: Text | None = None) -> None:
    flow.add(_heading(title), 14, keep=first)
    flow.add(first, 2, keep=more)


def _table(head: Sequence[str], rows: Iterable[Iterable[str]], widths: Sequence[int]) -> Text:
    """A table; cells are HTML already. Without names of columns the first row sets their widths."""
    lines = [[_soft(name) for name in head]] if head else []
    lines += [list(row) for row in rows]
    html = ""
    for line in lines:
        html += "<tr>" + "".join(f'<td width="{w}%">{c}</td>' for w, c in zip(widths, line, strict=True)) + "</tr>"
    return Text(f'<table width="100%" cellspacing="0" cellpadding="5">{html}</table>', ROOM, 8.5)


def lay_out(sheet: Sheet) -> Flow:
    """The whole sheet on pages."""
    flow = Flow()
    _head(flow, sheet)
    story = f"<p style='font-size:52px'>{_e(sheet.verdict)}</p><p>{_e(' '.join(sheet.story))}</p>"
    if sheet.note.strip():
        story += f"<p>{_soft(sheet.note)}</p>"
    _section(flow, "What happened", Text(story))
    flow.add(drawing(sheet.timeline_svg, ROOM), 8)
    if not sheet.cards:
        _section(flow, "Pulls and calls", Text(_soft("No pull was proposed or added.")))
    for card in sheet.cards:
        pictures, words = _card(card)
        if card.number == 1:
            _section(flow, "Pulls and calls", pictures, words)
        else:
            flow.add(pictures, 8, keep=words)
        flow.add(words, 1)
    rows = [(_e(label), f"<b>{_e(text)}</b>") for group in sheet.measures for label, text, _ in group.rows]
    half = (len(rows) + 1) // 2
    pairs = [rows[k] + (rows[k + half] if k + half < len(rows) else ("", "")) for k in range(half)]
    _section(flow, "Measures", _table((), pairs, (27, 23, 27, 23)))
    if sheet.acts:
        heads = ("Act", "Who", "Times", "A minute", "In all", "Share", "Mean", "Longest")
        acts = [(_e(a.act), a.who, a.count, a.per_minute, _e(a.duration), a.share, a.mean, a.longest)
                for a in sheet.acts]  # fmt: skip
        flow.add(_table(heads, acts, (32, 8, 8, 10, 14, 9, 9, 10)), 6)
    if sheet.reviewers:
        told = [(_e(name), _e(said)) for name, said in sheet.reviewers]
        _section(flow, "Two or more reviewers, side by side", _table((), told, (25, 75)))
    for note in sheet.notes:
        flow.add(Text(_e(note), ROOM, 8.5), 2)
    if sheet.sequence_svg:
        _section(flow, "What followed what", drawing(sheet.sequence_svg, 0.62 * ROOM))
    for number, svg in enumerate(sheet.comparisons):
        if number == 0:
            _section(flow, "Held against other pulls and sessions", drawing(svg, 0.8 * ROOM))
        else:
            flow.add(drawing(svg, 0.8 * ROOM), 6)
    _tables(flow, sheet)
    if sheet.kind is not None:
        _kind(flow, sheet.kind)
    _method(flow, sheet)
    return flow


def _kind(flow: Flow, kind: KindView) -> None:
    """His rhythm, how sure the tests are, and what is known of the kind."""
    if kind.rhythm:
        _section(flow, "His rhythm", Text(_e(" ".join(kind.rhythm)), ROOM, 8.5))
    rows = [f"<b>{_e(row.question)}</b><br>{_e(row.found)} {_soft(row.assumes)}" for row in kind.sure]
    for number, row in enumerate(rows):
        text = Text(row, ROOM, 8.5)
        if number == 0:
            _section(flow, "How sure is this", text)
        else:
            flow.add(text, 3)
    _section(flow, kind.title, Text(_soft(kind.headline), ROOM, 8.5))
    for block in (*kind.glance, *kind.sections):
        lines = "".join(f"<br>• {_e(text)} {_soft(source)}" for text, source in block.lines)
        flow.add(Text(f"<b>{_e(block.title)}</b>{lines}", ROOM, 8), 4)


def _head(flow: Flow, sheet: Sheet) -> None:
    flow.add(Text(_soft("PAIRING SHEET"), ROOM, 8))
    flow.add(Text(f"<b>{_e(sheet.title)}</b>", ROOM, 19), 1)
    if sheet.pair:
        flow.add(Text(_soft(sheet.pair), ROOM, 11), 2)
    facts = " &nbsp; ".join(f"{_soft(name)} {_e(value)}" for name, value in sheet.head)
    films = "".join(
        f"<br>{_soft('Film')} {_e(f.name)} {_soft('· ' + f.facts)}"
        + (f"<br><b>This film {_e(f.trouble)}; stills of it are missing.</b>" if f.trouble else "")
        for f in sheet.films
    )
    flow.add(Text(facts + films), 6)


def _card(card: Card) -> tuple[Solid, Text]:
    """Pictures and trace that stay together, and the words under them."""
    palp = f", {card.palp}" if card.palp else ""
    head = Text(f"<b>{card.number} &nbsp; {_e(card.when.clock)} &nbsp; {_e(card.said + palp)}</b>", ROOM, 9.5)
    views = [_still(view) for view in card.stills]
    trace = drawing(card.trace_svg, ROOM - 3 * (STILL + GAP)) if card.trace_svg else None
    shape = drawing(card.shape_svg, 10)
    high = max([v.height for v in views] + ([trace.height] if trace else []), default=0.0)

    def draw(painter: QPainter, x: float, y: float) -> None:
        shape.draw(painter, x, y + 1.5)
        head.solid().draw(painter, x + 15, y)
        for k, view in enumerate(views):
            view.draw(painter, x + k * (STILL + GAP), y + head.height + 3)
        if trace is not None:
            trace.draw(painter, x + 3 * (STILL + GAP), y + head.height + 3)

    facts = " &nbsp; ".join(f"{_soft(name)} {_e(value)}" for name, value in card.facts)
    words = [facts, _e(card.because)]
    if card.doubts:
        words.append(f"<b>Doubts:</b> {_e('; '.join(card.doubts))}.")
    for call in card.calls:
        by = f" by {call.reviewer}" if call.reviewer else ""
        signs = f", on: {call.signs}" if call.signs else ""
        note = f"<br>{_soft(call.note)}" if call.note.strip() else ""
        words.append(f"<b>{_e(call.said)}</b>{_e(by + signs)}{'' if call.counts else ' (does not count)'}{note}")
    if not card.calls:
        words.append(_soft("Nobody has called this pull yet."))
    return Solid(head.height + 3 + high, draw), Text("<br>".join(w for w in words if w), ROOM, 8.5)


def _still(view: StillView) -> Solid:
    frame = "" if view.frame is None else f"· frame {view.frame}"
    caption = Text(f"<b>{_e(view.name)}</b> {_e(view.when.clock)} {_soft(frame)}", STILL, 7)
    if view.still is None:
        why = Text(_soft(f"No picture: {view.missing}"), STILL - 8, 7.5)

        def missing(painter: QPainter, x: float, y: float) -> None:
            painter.setPen(QPen(QColor("#9a9a9a"), 0.6, Qt.PenStyle.DashLine))
            painter.drawRect(QRectF(x, y, STILL, 60))
            why.solid().draw(painter, x + 4, y + 4)
            caption.solid().draw(painter, x, y + 62)

        return Solid(62 + caption.height, missing)
    still = view.still
    width = min(STILL, 120 * still.width / still.height)
    factor = width / still.width
    high = still.height * factor
    image = QImage.fromData(still.data)
    polygon = QPolygonF([QPointF(px * factor, py * factor) for px, py in still.outline])

    def draw(painter: QPainter, x: float, y: float) -> None:
        painter.drawImage(QRectF(x, y, width, high), image)
        if len(still.outline):
            painter.save()
            painter.setClipRect(QRectF(x, y, width, high))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for colour, pen in ((QColor(0, 0, 0, 140), 2.0), (QColor("#f0e442"), 0.9)):
                painter.setPen(QPen(colour, pen, Qt.PenStyle.SolidLine if pen == 2.0 else Qt.PenStyle.DashLine))
                painter.drawPolygon(polygon.translated(x, y))
            painter.restore()
        caption.solid().draw(painter, x, y + high + 1.5)

    return Solid(high + 1.5 + caption.height, draw)


def _tables(flow: Flow, sheet: Sheet) -> None:
    marks = [
        (_e(m.when.clock), _e(m.until), _e(m.length), _e(m.who),
         _e(m.act) + (f"<br>{_soft(m.note)}" if m.note.strip() else ""), _e(m.reviewer))
        for m in sheet.marks
    ]  # fmt: skip
    heads = ("Clock", "Until", "Length", "Who", "Act and note", "Marked by")
    table = _table(heads, marks, (10, 10, 10, 8, 46, 16)) if marks else Text(_soft("Nothing is marked yet."))
    _section(flow, "Marks", table)
    blind = [(_e(u.start.clock), _e(u.end), _e(u.length), _e(u.clip), _e(u.why)) for u in sheet.unwatched]
    if blind:
        _section(flow, "Not watched", _table(("From", "To", "Length", "Film", "Why"), blind, (10, 10, 10, 25, 45)))
    else:
        says = "The motion pass could follow her all the time." if sheet.scanned else "No motion pass was made."
        _section(flow, "Not watched", Text(_soft(says)))


def _method(flow: Flow, sheet: Sheet) -> None:
    _section(flow, "Method and limits", Text(f"<b>{_e(sheet.standing.text)}</b>", ROOM, 9))
    flow.add(Text(_e(" ".join(sheet.method)), ROOM, 8.5), 4)
    cautions = [f"<p><b>{_e(c.title)}.</b> {_e(c.text)}</p>" for c in sheet.cautions]
    half = (len(cautions) + 1) // 2
    width = (ROOM - 18) / 2
    flow.columns([Text("".join(part), width, 7.5) for part in (cautions[:half], cautions[half:])], 5)
    flow.add(Text(_soft(sheet.made), ROOM, 7.5), 6)


def main(arguments: list[str]) -> int:
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    app = QGuiApplication(["clipmark"])
    sheet = from_json(Path(arguments[0]).read_text(encoding="utf-8"))
    fine = lay_out(sheet).write(arguments[1], one_line(sheet.title, 120))
    del app
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
