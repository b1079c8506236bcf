"""Pictures as SVG text, built as an element tree: well formed and escaped whatever the keeper has written.

Only what SVG Tiny 1.2 has is used (presentation attributes, no style sheet, no pattern), so that a browser, a
printer's converter and Qt draw the same picture. Lengths are picture units; a unit is about a printed third of a
millimetre on A4.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable

from clipmark.report.text import isolated, legible

INK, SOFT, FAINT, HAIR = "#1c1c1c", "#5b5b5b", "#9a9a9a", "#dddddd"
FONT = "'Source Sans 3', 'Segoe UI', 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"


def n(value: float) -> str:
    """A coordinate, to a hundredth, without needless zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class Picture:
    """A drawing of `width` × `height` units with a title and a description for those who cannot see it."""

    def __init__(self, width: float, height: float, title: str, description: str, ident: str):
        self.width, self.height = width, height
        self.root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {n(width)} {n(height)}",
                "width": n(width),
                "height": n(height),
                "role": "img",
                "aria-labelledby": f"{ident}-title {ident}-desc",
                "font-family": FONT,
            },
        )
        self._tell("title", f"{ident}-title", title)
        self._tell("desc", f"{ident}-desc", description)

    def _tell(self, tag: str, ident: str, text: str) -> None:
        ET.SubElement(self.root, tag, {"id": ident}).text = legible(text)

    def add(self, tag: str, tip: str = "", **attributes: str | float) -> ET.Element:
        """One element; numbers are rounded, `stroke_width` becomes `stroke-width`, `tip` shows under the pointer."""
        named = {
            key.rstrip("_").replace("_", "-"): value if isinstance(value, str) else n(value)
            for key, value in attributes.items()
        }
        element = ET.SubElement(self.root, tag, named)
        if tip:
            ET.SubElement(element, "title").text = legible(tip)
        return element

    def text(self, x: float, y: float, text: str, size: float = 10, **attributes: str | float) -> None:
        """A line of text, its base line at `y`."""
        attributes.setdefault("fill", INK)
        self.add("text", "", x=x, y=y, font_size=size, **attributes).text = isolated(legible(text))

    def text_on_lines(self, x: float, y: float, text: str, size: float) -> None:
        """A line of text with a white rim, legible where it stands on lines."""
        self.text(x, y, text, size, fill="#ffffff", stroke="#ffffff", stroke_width=2.6)
        self.text(x, y, text, size)

    def line(
        self, x1: float, y1: float, x2: float, y2: float, colour: str = HAIR, width: float = 1, **more: str
    ) -> None:
        """A straight line, in pixels."""
        self.add("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=colour, stroke_width=width, **more)

    def rect(self, x: float, y: float, w: float, h: float, fill: str, tip: str = "", **more: str | float) -> None:
        """A filled box, in pixels; `tip` is shown on hover."""
        self.add("rect", tip, x=x, y=y, width=w, height=h, fill=fill, **more)

    def hatched(self, x: float, y: float, w: float, h: float, tip: str = "", colour: str = FAINT) -> None:
        """A field of slanting lines: nothing is known here."""
        self.rect(x, y, w, h, "#f4f4f4", tip)
        lines = " ".join(f"M{n(x1)} {n(y1)}L{n(x2)} {n(y2)}" for x1, y1, x2, y2 in _slanting(x, y, w, h, step=5))
        if lines:
            self.add("path", d=lines, stroke=colour, stroke_width=0.7, fill="none")

    def path(self, points: Iterable[tuple[float, float]], colour: str, width: float = 1.2, **more: str) -> None:
        """A line through points; a point with NaN in it lifts the pen."""
        steps, down = [], False
        for x, y in points:
            if x != x or y != y:
                down = False
                continue
            steps.append(f"{'L' if down else 'M'}{n(x)} {n(y)}")
            down = True
        if steps:
            self.add(
                "path",
                d="".join(steps),
                stroke=colour,
                stroke_width=width,
                fill="none",
                stroke_linejoin="round",
                **more,
            )

    def __str__(self) -> str:
        return ET.tostring(self.root, encoding="unicode")


def _slanting(x: float, y: float, w: float, h: float, step: float) -> Iterable[tuple[float, float, float, float]]:
    # lines x + y = c at whole multiples of the step, cut at the edges of the field
    c = (x + y) // step * step + step
    while c < x + w + y + h:
        left, right = max(x, c - y - h), min(x + w, c - y)
        if right > left:
            yield left, c - left, right, c - right
        c += step


def nice_step(extent: float, most: int, choices: tuple[float, ...]) -> float:
    """The smallest of the choices that cuts `extent` into at most `most` parts (the largest if none does)."""
    return next((step for step in choices if extent / step <= most), choices[-1])
