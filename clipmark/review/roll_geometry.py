"""Where time and lanes lie on the roll's surface, and what is under a point. Pure numbers, no Qt.

x runs right, y down, both in pixels of the roll's own surface; `em` is the height of the font in use, so that
everything grows with it.
"""

from __future__ import annotations

from dataclasses import dataclass

from clipmark.review.roll_model import RollItem, RollModel, Side

STEPS = (
    0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0,
    600.0, 900.0, 1800.0, 3600.0, 7200.0,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class View:
    """The stretch of time on view: `top` seconds at y = `header`, `scale` pixels a second."""

    top: float
    scale: float
    height: int
    header: float = 0.0

    @property
    def bottom(self) -> float:
        """Seconds of the session clock at the lower edge."""
        return self.at(self.height)

    def y(self, seconds: float) -> float:
        """Where a time, in seconds of the session clock, is drawn: pixels from the top."""
        return self.header + (seconds - self.top) * self.scale

    def at(self, y: float) -> float:
        """Seconds of the session clock at a height, in pixels from the top."""
        return self.top + (y - self.header) / self.scale

    def zoomed(self, factor: float, y: float, least: float, greatest: float) -> View:
        """Zoomed so that the time under `y` stays under it; the scale is kept between two bounds."""
        under = self.at(y)
        scale = min(max(self.scale * factor, least), greatest)
        return View(under - (y - self.header) / scale, scale, self.height, self.header)


@dataclass(frozen=True, slots=True)
class Columns:
    """x positions of everything that stands across the roll, left to right:
    ruler, sound, his writing, his bars, the line, her trace, her bars, her writing."""

    width: float
    em: float
    ruler: float
    sound_left: float
    sound_right: float
    his_left: float
    line: float
    trace_right: float
    bar: float
    his_columns: int
    her_columns: int
    line_columns: int

    @property
    def his_bars(self) -> float:
        """Left edge of his outermost bar; his writing ends before it."""
        return self.line - 0.9 * self.em - max(self.his_columns, 2) * self.bar

    @property
    def her_bars(self) -> float:
        """Right edge of her outermost bar; her writing begins after it."""
        return self.trace_right + max(self.her_columns, 2) * self.bar

    def bar_at(self, side: Side, column: int) -> tuple[float, float]:
        """Left edge and width of a lasting mark's bar."""
        wide = max(self.bar - 2.0, 2.0)
        if side is Side.HIM:
            return self.line - 0.9 * self.em - (column + 1) * self.bar + 1.0, wide
        if side is Side.HER:
            return self.trace_right + column * self.bar + 1.0, wide
        return self.line - 0.5 * self.em - 3.0 - 4.0 * column, 3.0


def columns(model: RollModel, width: float, em: float, ruler: float, sound: bool, bouts: bool = False) -> Columns:
    """Share the width out: the ruler takes what its writing needs, the line stands in the middle of the rest."""
    used = {side: int(lane.columns.max()) + 1 if len(lane.columns) else 0 for side, lane in model.lanes.items()}
    sound_left = ruler + 0.4 * em
    sound_right = sound_left + (2.4 * em if sound and width >= 20 * em else 0.0)
    brackets = (7.2 * em if width >= 36 * em else 2.0 * em) if bouts and width >= 20 * em else 0.0
    his_left = sound_right + 0.4 * em + brackets
    band = min(7.0 * em, 0.16 * width)
    free = width - his_left - band - 0.4 * em
    line = his_left + free * 0.5
    bar = 0.8 * em
    widest = max(used[Side.HIM], used[Side.HER], 2)
    bar = max(min(bar, free * 0.3 / widest), 3.0)
    return Columns(
        width=width, em=em, ruler=ruler, sound_left=sound_left, sound_right=sound_right, his_left=his_left, line=line,
        trace_right=line + band, bar=bar, his_columns=used[Side.HIM], her_columns=used[Side.HER],
        line_columns=used[Side.LINE],
    )  # fmt: skip


def ruler_step(scale: float, least: float) -> float:
    """Seconds between two times written on the ruler, so that they stand at least `least` pixels apart."""
    return next((step for step in STEPS if step * scale >= least), STEPS[-1])


def ruler_places(step: float) -> int:
    """Decimal places that times this far apart need."""
    return 0 if step >= 1 else 1 if step >= 0.1 else 2 if step >= 0.01 else 3


@dataclass(frozen=True, slots=True)
class Hit:
    """What is under a point: the item, and "start" or "end" where an end of a mark can be dragged."""

    item: RollItem
    end: str = ""


def hit(model: RollModel, view: View, across: Columns, x: float, y: float, reach: float = 4.0) -> Hit | None:
    """The item under a point, the shortest where several lie there, ends of marks within `reach` pixels first."""
    found: list[tuple[float, Hit]] = []
    slack = max(reach, 0.5 * across.em)
    for side, lane in model.lanes.items():
        for place in lane.between(view.at(y - slack), view.at(y + slack)):
            item = lane.items[place]
            if _across(item, side, across, x) and view.y(item.start) - slack <= y <= view.y(item.end) + slack:
                found.append((_rank(item, view, y, reach), _with_end(item, view, y, reach)))
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _across(item: RollItem, side: Side, across: Columns, x: float) -> bool:
    if item.kind == "flag":
        return abs(x - across.line) <= 0.7 * across.em
    if item.lasting:
        left, wide = across.bar_at(side, item.column)
        return left - 2.0 <= x <= left + wide + 2.0
    if side is Side.HIM:
        return across.his_bars <= x <= across.line - 0.5 * across.em
    if side is Side.HER:
        return across.trace_right <= x <= across.her_bars
    return abs(x - across.line) <= 1.2 * across.em


def _rank(item: RollItem, view: View, y: float, reach: float) -> float:
    """Small for what the pointer means: an end under it, then what is short and near."""
    near = min(abs(view.y(item.start) - y), abs(view.y(item.end) - y))
    size = view.y(item.end) - view.y(item.start)
    return near if near <= reach else 1_000.0 + size


def _with_end(item: RollItem, view: View, y: float, reach: float) -> Hit:
    if item.kind != "mark":
        return Hit(item)
    to_start, to_end = abs(view.y(item.start) - y), abs(view.y(item.end) - y)
    if item.lasting and not item.open and to_end <= reach and to_end < to_start:
        return Hit(item, "end")
    return Hit(item, "start" if to_start <= reach else "")
