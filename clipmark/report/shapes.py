"""A shape for each call, so that no colour is needed to tell them apart. The same on the sheet and in the window."""

from __future__ import annotations

from clipmark.book.model import Decision
from clipmark.report.svg import FAINT, GREEN, INK, ORANGE, SKY, SOFT, Picture, n

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


def draw_shape(picture: Picture, shape: str, x: float, y: float, r: float, tip: str = "") -> None:
    """The shape of a call (`Decision` value or `UNCALLED`) about (x, y), reaching `r` to each side."""
    if shape == Decision.CONFIRMED.value:  # full disc with a tick in it
        picture.add("circle", tip, cx=x, cy=y, r=r, fill=GREEN, stroke=INK, stroke_width=0.9)
        tick = f"M{n(x - 0.5 * r)} {n(y)}L{n(x - 0.1 * r)} {n(y + 0.45 * r)}L{n(x + 0.55 * r)} {n(y - 0.45 * r)}"
        picture.add("path", d=tick, fill="none", stroke="#ffffff", stroke_width=r / 3.4)
    elif shape == Decision.PROBABLE.value:  # half disc
        picture.add("circle", tip, cx=x, cy=y, r=r, fill="#ffffff", stroke=INK, stroke_width=0.9)
        half = f"M{n(x - r)} {n(y)}A{n(r)} {n(r)} 0 0 0 {n(x + r)} {n(y)}Z"
        picture.add("path", d=half, fill=SKY, stroke=INK, stroke_width=0.9)
    elif shape == Decision.ATTEMPT.value:  # empty triangle standing on its foot
        corners = f"{n(x)},{n(y - r)} {n(x + r)},{n(y + 0.85 * r)} {n(x - r)},{n(y + 0.85 * r)}"
        picture.add("polygon", tip, points=corners, fill="#ffffff", stroke=ORANGE, stroke_width=1.8)
    elif shape == Decision.NOT_SEEN.value:  # broken ring
        picture.add("circle", tip, cx=x, cy=y, r=r, fill="#ffffff", stroke=SOFT, stroke_width=1.4,
                    stroke_dasharray="2 1.6")  # fmt: skip
    elif shape == Decision.OTHER.value:  # a cross
        s = 0.75 * r
        cross = f"M{n(x - s)} {n(y - s)}L{n(x + s)} {n(y + s)}M{n(x + s)} {n(y - s)}L{n(x - s)} {n(y + s)}"
        picture.add("path", tip, d=cross, fill="none", stroke=SOFT, stroke_width=1.8)
    else:  # empty square on its corner
        corners = f"{n(x)},{n(y - r)} {n(x + r)},{n(y)} {n(x)},{n(y + r)} {n(x - r)},{n(y)}"
        picture.add("polygon", tip, points=corners, fill="#ffffff", stroke=FAINT, stroke_width=1.5)


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
