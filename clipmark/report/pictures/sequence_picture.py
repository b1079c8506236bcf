"""What followed what, as a table of discs: the row came first, the column next. The disc is what was seen, the ring
what the acts' frequencies alone would give, both by area; a disc that fills more than its ring came more often."""

from __future__ import annotations

import math

import numpy as np

from clipmark.book.model import Actor, SessionRecord
from clipmark.reading.sequence import Transitions, acts_in_order, transitions
from clipmark.reading.session.occurrences import occurrences
from clipmark.report.pictures.colours import SKY
from clipmark.report.pictures.svg import HAIR, INK, SOFT, Picture
from clipmark.report.text import one_line, width_of

CELL = 27.0
MOST_ACTS = 14
FEWEST = 3  # transitions below which there is nothing to look at
WHO = {Actor.HIM: "he", Actor.HER: "she", Actor.BOTH: "both"}


def sequence_svg(record: SessionRecord, reviewer: str = "") -> str:
    """One session's transitions as SVG text; empty where fewer than three were marked."""
    order = acts_in_order(occurrences(record, reviewer))
    kept = _most_frequent(order)
    table = transitions([[code for code in order if code in kept]])
    if table.n < FEWEST:
        return ""
    names = [_name(record, code) for code in table.codes]
    left = max(width_of(name, 10) for name in names) + 46
    k = len(names)
    left_out = len(set(order)) - k
    width = max(left + k * CELL + 10, 470)
    picture = Picture(width, 30 + k * CELL + 22, "What followed what", _told(table, names), "sequence-picture")
    picture.text(left - 8, 13, "first, then …", 9, text_anchor="end", fill=SOFT)
    for i, name in enumerate(names):
        y = 26 + i * CELL
        picture.text(left - 26, y + CELL / 2 + 3.5, name, 10, text_anchor="end")
        picture.text(left - 8, y + CELL / 2 + 3.5, str(i + 1), 9, text_anchor="end", fill=SOFT)
        picture.text(left + (i + 0.5) * CELL, 19, str(i + 1), 9, text_anchor="middle", fill=SOFT)
    _discs(picture, table, names, left)
    note = f"{table.n} steps from one act to the next"
    if left_out:
        note += f"; {left_out} rarer acts are left out"
    note += ". Rings: what the acts' frequencies alone would give." if _enough(table) else "."
    picture.text(left, 26 + k * CELL + 15, note, 9, fill=SOFT)
    return str(picture)


def _enough(table: Transitions) -> bool:
    """Whether there are so many steps that what chance would give is worth drawing (proposal: three an act)."""
    return table.n >= 3 * len(table.codes)


def _most_frequent(order: list[str]) -> set[str]:
    return set(sorted(dict.fromkeys(order), key=lambda code: -order.count(code))[:MOST_ACTS])


def _name(record: SessionRecord, code: str) -> str:
    act = record.act(code)
    who = WHO.get(act.actor, "") if act else ""
    label = one_line(act.label if act else code, 34)
    return f"{label} ({who})" if who and not label.lower().startswith(who) else label


def _discs(picture: Picture, table: Transitions, names: list[str], left: float) -> None:
    enough = _enough(table)
    most = max(float(table.counts.max()), float(np.nanmax(table.expected, initial=0.0)), 1.0)
    for i in range(len(names)):
        for j in range(len(names)):
            x, y = left + j * CELL, 26 + i * CELL
            middle = (x + CELL / 2, y + CELL / 2)
            picture.rect(
                x, y, CELL, CELL, "#ffffff" if table.possible[i, j] else "#efefef", stroke=HAIR, stroke_width=0.7
            )
            count, expected = int(table.counts[i, j]), float(table.expected[i, j])
            if not table.possible[i, j]:
                continue
            if count:
                tip = f"{names[i]}, then {names[j]}: {count}" + (f", {expected:.1f} expected" if enough else "")
                picture.add("circle", tip, cx=middle[0], cy=middle[1], r=_radius(count, most), fill=SKY)
            if expected > 0.05 and enough:
                picture.add(
                    "circle", cx=middle[0], cy=middle[1], r=_radius(expected, most), fill="none", stroke=SOFT,
                    stroke_width=0.8, stroke_dasharray="2 1.5",
                )  # fmt: skip
            if count:
                picture.text(middle[0], middle[1] + 3.4, str(count), 9.5, text_anchor="middle", fill=INK)


def _radius(value: float, most: float) -> float:
    return (CELL / 2 - 2) * math.sqrt(value / most)


def _told(table: Transitions, names: list[str]) -> str:
    pairs = [(int(table.counts[i, j]), i, j) for i in range(len(names)) for j in range(len(names))]
    seen = sorted((p for p in pairs if p[0]), key=lambda p: -p[0])[:40]
    return "; ".join(f"{names[i]}, then {names[j]}: {count}" for count, i, j in seen)
