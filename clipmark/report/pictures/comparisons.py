"""Pictures of comparisons, as SVG text: waiting for the sac, the sessions of each female over her cycle with the
windows in which a sac may come, and how far she was drawn by what the pull was called."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta

from clipmark.book.model import Decision, SessionRecord
from clipmark.reading.cycles.outcomes import Outcomes
from clipmark.reading.cycles.states import State
from clipmark.reading.cycles.waits import Waits
from clipmark.reading.numbers.survival import Curve
from clipmark.report.called import numbered_flags
from clipmark.report.pictures.colours import BLUE, ORANGE, SKY
from clipmark.report.pictures.shapes import SHAPES, draw_shape
from clipmark.report.pictures.svg import FAINT, HAIR, INK, SOFT, Picture, nice_step
from clipmark.report.text import one_line, width_of

_Scale = Callable[[float], float]
WIDTH, LEFT, TOP, PLOT = 620.0, 56.0, 40.0, 190.0
DAYS = (5, 10, 20, 30, 60, 90, 180, 365)
MOST_CYCLES = 40
AT_RISK = 6  # columns of numbers under a curve
_ASIDE = (0, -3, 3, -6, 6)  # dots of a row beside each other
MOST_DOTS = 250  # a row; of more pulls each so-manyth in order of size is drawn


def waiting_svg(read: Outcomes, kind: str = "") -> str:
    """The part still waiting for a sac over days, with its 95 % band and the number at risk below; empty below five
    cycles. The curve ends where fewer than five are at risk.

    Args:
        kind: the species that the sessions are of, where they are of one.
    """
    waits = read.waits
    if waits is None:
        return ""
    end = max(waits.told_to, 1.0)
    of = f" in {one_line(kind, 40)}" if kind else ""
    title = f"Waiting for the sac{of}, asked on {read.asked.isoformat()}"
    told = f"{waits.curve.n} cycles, {waits.curve.censored} without a sac; told to day {waits.told_to:g}."
    picture = Picture(WIDTH, TOP + PLOT + 56, title, told, "waiting-picture")
    picture.text(LEFT, 14, title, 11)
    picture.text(LEFT, 27, told, 9, fill=SOFT)

    def x(day: float) -> float:
        return LEFT + (WIDTH - LEFT - 16) * day / end

    def y(share: float) -> float:
        return TOP + PLOT * (1 - share)

    for share in (0, 0.25, 0.5, 0.75, 1):
        picture.line(LEFT, y(share), WIDTH - 16, y(share), HAIR)
        picture.text(LEFT - 6, y(share) + 3, f"{100 * share:.0f} %", 9, text_anchor="end", fill=SOFT)
    _band(picture, waits.curve, end, x, y)
    picture.path(_steps(waits.curve, end, x, y), BLUE, 2)
    _numbers_at_risk(picture, waits, end, x)
    return str(picture)


def _steps(curve: Curve, end: float, x: _Scale, y: _Scale) -> list[tuple[float, float]]:
    points, level = [(x(0), y(1.0))], 1.0
    for time, share in zip(curve.times, curve.survival, strict=True):
        points += [(x(float(time)), y(level)), (x(float(time)), y(float(share)))]
        level = float(share)
    return [*points, (x(end), y(level))]


def _band(picture: Picture, curve: Curve, end: float, x: _Scale, y: _Scale) -> None:
    """The 95 % limits between the steps; where a limit cannot be had, no band."""
    times = [*map(float, curve.times), end]
    for k in range(len(curve.times)):
        low, high = float(curve.low[k]), float(curve.high[k])
        if low == low and high == high and times[k + 1] > times[k]:
            picture.rect(
                x(times[k]), y(high), x(times[k + 1]) - x(times[k]), y(low) - y(high), SKY, fill_opacity=0.35
            )


def _numbers_at_risk(picture: Picture, waits: Waits, end: float, x: _Scale) -> None:
    step = nice_step(end, AT_RISK, DAYS)
    base = TOP + PLOT
    picture.text(LEFT - 14, base + 44, "at risk", 9, text_anchor="end", fill=SOFT)
    day = 0.0
    while day <= end:
        picture.line(x(day), base, x(day), base + 4, FAINT)
        picture.text(x(day), base + 16, f"{day:g}", 9, text_anchor="middle", fill=SOFT)
        picture.text(x(day), base + 44, str(waits.at_risk(day)), 9, text_anchor="middle")
        day += step
    picture.text((LEFT + WIDTH) / 2, base + 30, "days since the pairing", 9, text_anchor="middle", fill=SOFT)


_ENDS = {
    State.SAC: (BLUE, "sac"),
    State.LOST: (BLUE, "sac, lost"),
    State.MOULT: (ORANGE, "moult without sac"),
    State.DIED: (INK, "died"),
    State.AWAY: (FAINT, "given away"),
}


def cycles_svg(read: Outcomes, windows: Sequence[tuple[int, date, date]] = ()) -> str:
    """A row a cycle on one calendar: its sessions as dots, how it ended, and where it still waits the window in which
    a sac may come.

    Args:
        windows: (id of a session, first day, last day) of windows in which a sac may come.
    """
    cases = read.cases[-MOST_CYCLES:]
    if not cases:
        return ""
    last = max([read.asked, *(end for _, _, end in windows)])
    first = min(c.cycle.sessions[0].on for c in cases)
    span = max((last - first).days, 1)
    names = max(width_of(one_line(c.female, 24) or "female", 9) for c in cases)
    left, height = names + 16, 40 + 16 * len(cases) + 30
    title = f"Sessions over her cycle, asked on {read.asked.isoformat()}"
    told = f"{len(cases)} cycles: " + ", ".join(f"{state} {number}" for state, number in read.ends.items())
    picture = Picture(WIDTH, height, title, told, "cycles-picture")
    picture.text(8, 14, title, 11)
    if windows:
        picture.rect(WIDTH - 126, 6, 14, 8, SKY, fill_opacity=0.5)
        picture.text(WIDTH - 108, 13, "a sac may come", 8, fill=SOFT)

    def x(on: date) -> float:
        return left + (WIDTH - left - 16) * (on - first).days / span

    for on in _months(first, last):
        picture.line(x(on), 24, x(on), height - 26, HAIR)
        picture.text(x(on), height - 14, on.strftime("%Y-%m"), 8, text_anchor="middle", fill=SOFT)
    picture.line(x(read.asked), 24, x(read.asked), height - 26, SOFT, 1, stroke_dasharray="3 2")
    for row, case in enumerate(cases):
        y = 36 + 16 * row
        picture.text(left - 8, y + 3, one_line(case.female, 24) or "female", 9, text_anchor="end")
        until = case.changes[-1][0] if case.state is not State.WAITING else read.asked
        picture.line(x(case.cycle.sessions[0].on), y, x(until), y, FAINT, 2)
        ids = {s.record.session.id for s in case.cycle.sessions}
        for number, start, end in windows:
            if number in ids and case.state is State.WAITING:
                tip = f"a sac may come {start.isoformat()} to {end.isoformat()}"
                picture.rect(x(start), y - 4, max(x(end) - x(start), 1), 8, SKY, tip, fill_opacity=0.5)
        for session in case.cycle.sessions:
            picture.add("circle", session.on.isoformat(), cx=x(session.on), cy=y, r=3, fill=INK)
        if case.state is not State.WAITING:
            colour, word = _ENDS[case.state]
            picture.rect(x(until) - 3, y - 3, 6, 6, colour, f"{word}, {until.isoformat()}")
            picture.text(x(until) + 6, y + 3, word, 8, fill=SOFT)
    return str(picture)


def _months(first: date, last: date) -> Iterable[date]:
    """The first days of months inside, thinned out to at most eight."""
    found, on = [], date(first.year, first.month, 1)
    while on <= last:
        if on >= first:
            found.append(on)
        on = (on + timedelta(days=32)).replace(day=1)
    every = max(1, -(-len(found) // 8))
    return found[::every]


def pulls_svg(records: Sequence[SessionRecord], reviewer: str = "") -> str:
    """How far her abdomen was drawn, a dot a pull (in a large book a dot for several), by what it was called; empty
    where no pull was called.

    Args:
        reviewer: whose calls count; empty: each session's own reviewer.
    """
    sizes: dict[Decision, list[float]] = {decision: [] for decision in Decision}
    for record in records:
        for flag in numbered_flags(record, reviewer):
            if flag.call is not None and flag.flag.pull is not None:
                sizes[flag.call.decision].append(flag.flag.pull)
    shown = [(decision, sorted(values)) for decision, values in sizes.items() if values]
    if not shown:
        return ""
    most = 1.05 * max(values[-1] for _, values in shown) or 1.0
    left, height = 130.0, 40 + 30 * len(shown) + 30
    told = "; ".join(f"{decision.value}: {len(values)}" for decision, values in shown)
    picture = Picture(WIDTH, height, "How far she was drawn, by call", told, "pulls-picture")
    every = max(-(-len(values) // MOST_DOTS) for _, values in shown)
    dot = "a dot a pull" if every == 1 else f"a dot for {every} pulls"
    picture.text(8, 14, f"How far she was drawn, by call ({dot}, the bar their median)", 11)
    step = nice_step(most, 6, (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1))

    def x(size: float) -> float:
        return left + (WIDTH - left - 20) * size / most

    for k in range(int(most / step) + 1):
        picture.line(x(k * step), 24, x(k * step), height - 26, HAIR)
        picture.text(x(k * step), height - 14, f"{k * step:.2f}", 8, text_anchor="middle", fill=SOFT)
    picture.text(WIDTH - 20, height - 2, "abdomen lengths", 8, text_anchor="end", fill=SOFT)
    for row, (decision, values) in enumerate(shown):
        y = 42 + 30 * row
        draw_shape(picture, decision.value, 16, y, 5)
        picture.text(28, y + 3, f"{SHAPES[decision.value]} ({len(values)})", 9)
        for place, size in enumerate(values[(every - 1) // 2 :: every] or values[:1]):
            picture.add(
                "circle", f"{size:.2f}", cx=x(size), cy=y + _ASIDE[place % 5], r=2, fill=BLUE, fill_opacity=0.6
            )
        middle = (values[(len(values) - 1) // 2] + values[len(values) // 2]) / 2
        picture.line(x(middle), y - 10, x(middle), y + 10, ORANGE, 2)
    return str(picture)
