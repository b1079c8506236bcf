"""A shape for each call, so that no colour is needed to tell them apart. The same on the sheet and in the window."""

from __future__ import annotations

import math

from clipmark.book.model import Decision
from clipmark.report.pictures.colours import ORANGE, VERMILION, YELLOW
from clipmark.report.pictures.svg import INK, Picture, n

UNCALLED = "not called yet"
# in the order of the legend; the value is what stands beside the shape
SHAPES: dict[str, str] = {
    Decision.CONFIRMED.value: "confirmed",
    Decision.PROBABLE.value: "probable",
    Decision.ATTEMPT.value: "attempt",
    Decision.NOT_SEEN.value: "not seen",
    Decision.OTHER.value: "something else",
    UNCALLED: "not called yet",
}


# how far the dish is filled, and with what
_FILLED = {
    Decision.CONFIRMED.value: (1.0, VERMILION),
    Decision.PROBABLE.value: (0.6, VERMILION),
    Decision.ATTEMPT.value: (0.28, ORANGE),
}


def draw_shape(picture: Picture, shape: str, x: float, y: float, r: float, tip: str = "") -> None:
    """The shape of a call (`Decision` value or `UNCALLED`) about (x, y), reaching `r` to each side: a dish filled as
    far as the evidence goes, dotted for not seen, with a bar for something else; a lozenge awaits its call."""
    if shape == UNCALLED:
        corners = f"{n(x)},{n(y - r)} {n(x + r)},{n(y)} {n(x)},{n(y + r)} {n(x - r)},{n(y)}"
        picture.add("polygon", tip, points=corners, fill=YELLOW, stroke=INK, stroke_width=1.2)
        return
    dots = {"stroke_dasharray": "1.4 1.6"} if shape == Decision.NOT_SEEN.value else {}
    picture.add("circle", tip, cx=x, cy=y, r=r, fill="#ffffff", stroke=INK, stroke_width=1.2, **dots)
    share, colour = _FILLED.get(shape, (0.0, ""))
    if share == 1.0:
        picture.add("circle", cx=x, cy=y, r=r, fill=colour, stroke=INK, stroke_width=1.2)
    elif share:
        level = y + r - 2 * r * share  # the surface: a chord, and the arc under it
        half = math.sqrt(max(r * r - (level - y) ** 2, 0.0))
        large = int(share > 0.5)
        dish = f"M{n(x - half)} {n(level)}A{n(r)} {n(r)} 0 {large} 0 {n(x + half)} {n(level)}Z"
        picture.add("path", d=dish, fill=colour, stroke=INK, stroke_width=0.8)
    if shape == Decision.OTHER.value:
        picture.line(x - r + 1.4, y, x + r - 1.4, y, INK, 1.4)


def shape_svg(shape: str, size: float = 15) -> str:
    """The shape alone, as a small drawing beside a word that says the same (so it is hidden from screen readers)."""
    picture = Picture(16, 16, "", "", "")
    for child in list(picture.root):
        picture.root.remove(child)
    del picture.root.attrib["aria-labelledby"]
    picture.root.attrib |= {"width": n(size), "height": n(size), "aria-hidden": "true"}
    del picture.root.attrib["role"]
    draw_shape(picture, shape, 8, 8, 6.4)
    return str(picture)
