"""The pictures of a sheet, as SVG text: the session laid flat, one flag's trace, what followed what.

`timeline_svg` is the log roll turned on its side: the session clock is the line in the middle, his acts stand above
it, hers below, contact and calls on it, and the trace of her abdomen runs along the foot.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from clipmark.book.model import Actor, SessionRecord
from clipmark.reading.session.occurrences import Occurrence, occurrences
from clipmark.report.called import NumberedFlag, numbered_flags
from clipmark.report.films.sounds import ClipSound
from clipmark.report.pictures.colours import FAMILIES, family_of
from clipmark.report.pictures.sequence_picture import sequence_svg
from clipmark.report.pictures.shapes import SHAPES, draw_shape
from clipmark.report.pictures.svg import FAINT, HAIR, INK, SOFT, Picture, n, nice_step
from clipmark.report.pictures.trace_picture import trace_svg
from clipmark.report.pictures.traces import ClipTrace, columns
from clipmark.report.text import file_name, one_line, width_of
from clipmark.timebase import Span, clock

__all__ = ["sequence_svg", "timeline_svg", "trace_svg"]

LEFT, RIGHT = 58.0, 12.0
TIER, BAR, WORD = 19.0, 6.0, 9.0  # height of a tier, of a bar in it, of the word above the bar
MOST_TIERS = 9
TRACE_HEIGHT, SOUND_HEIGHT = 62.0, 22.0
CLOCK_STEPS = (0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400)


@dataclass(slots=True)
class _Run:
    """Bars of one act that stand close together: one word above the first, (x, width, tip) for each."""

    word: str
    colour: str
    start: float
    end: float
    bars: list[tuple[float, float, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Scale:
    start: float
    end: float
    width: float

    def x(self, at: float) -> float:
        inside = min(max(at, self.start), self.end)
        return LEFT + (inside - self.start) / (self.end - self.start) * (self.width - LEFT - RIGHT)


def timeline_svg(
    record: SessionRecord,
    traces: Sequence[ClipTrace] = (),
    sounds: Sequence[ClipSound] = (),
    width: float = 760,
    span: Span | None = None,
    reviewer: str = "",
) -> str:
    """The whole session (or a `span` of the session clock) in one picture.

    Args:
        traces: one a clip that a motion pass was made on; drawn in this order.
        sounds: one a clip whose sound was read; drawn under the traces.
        width: in picture units (a browser shows one as a pixel, A4 about 0.24 mm).
    Returns:
        An SVG element as text, safe to stand inside HTML.
    """
    scale = _scale(record, span, width)
    every = occurrences(record, reviewer)
    happened = [o for o in every if float(o.start) < scale.end and float(o.span.end) >= scale.start]
    his = _tiers([o for o in happened if o.actor is Actor.HIM], record, scale)
    hers = _tiers([o for o in happened if o.actor is Actor.HER], record, scale)
    flags = numbered_flags(record, reviewer)
    keeper = [o for o in happened if o.actor in (Actor.KEEPER, Actor.NOBODY)]
    top = 16.0 if keeper else 4.0
    line = top + max(len(his), 1) * TIER + 26
    below = line + 16 + max(len(hers), 1) * TIER
    quiet = below + len(traces) * (TRACE_HEIGHT + 12)  # where the lanes of sound begin
    axis = quiet + 6 + len(sounds) * (SOUND_HEIGHT + 13)
    height = axis + 22 + 34
    picture = Picture(width, height, "The session at a glance", _told(record, happened, flags), "timeline")
    _ground(picture, record, scale, top, axis)
    _keeper_acts(picture, keeper, record, scale, top, below)
    _side(picture, his, "his acts", lambda tier: line - 30 - tier * TIER)
    _contact(picture, [o for o in happened if o.actor is Actor.BOTH], record, scale, line)
    _side(picture, hers, "her acts", lambda tier: line + 30 + tier * TIER)
    _flags(picture, flags, scale, line)
    for place, trace in enumerate(traces):
        _trace(picture, record, trace, scale, below + 10 + place * (TRACE_HEIGHT + 12), len(traces) > 1)
    for place, sound in enumerate(sounds):
        _sound(picture, record, sound, scale, quiet + 14 + place * (SOUND_HEIGHT + 13), len(sounds) > 1)
    _axis(picture, scale, axis)
    _legend(picture, flags, happened, _blind(record, traces), height - 8)
    return str(picture)


def _scale(record: SessionRecord, span: Span | None, width: float) -> _Scale:
    if span is not None:
        start, end = float(span.start), float(span.end)
    else:
        start = min((float(c.offset) for c in record.clips), default=0.0)
        end = max((float(c.on_clock(c.end_pts)) for c in record.clips), default=1.0)
    return _Scale(start, end if end > start else start + 1, width)


def _label(record: SessionRecord, code: str) -> str:
    act = record.act(code)
    return one_line(act.label if act else code, 34)


def _colour(code: str) -> str:
    family = family_of(code)
    return family.colour if family else FAINT


def _tip(record: SessionRecord, o: Occurrence) -> str:
    until = (
        "" if not o.lasting else " to the end of the film (left open)" if o.open else f" to {clock(o.span.end, 2)}"
    )
    note = f" · {one_line(o.note, 200)}" if o.note else ""
    return f"{_label(record, o.act)}, {clock(o.start, 2)}{until}{note}"


def _tiers(acts: Sequence[Occurrence], record: SessionRecord, scale: _Scale) -> list[list[_Run]]:
    """The acts of one animal on tiers, the longest kinds next to the line; kinds that never meet share a tier."""
    kinds: dict[str, list[Occurrence]] = {}
    for act in acts:
        kinds.setdefault(act.act, []).append(act)
    order = sorted(kinds.values(), key=lambda k: (-sum(float(o.duration) for o in k), k[0].start))
    tiers: list[list[_Run]] = []
    for kind in order:
        runs = _runs(kind, record, scale)
        for tier in tiers:
            if all(r.end + 4 < t.start or t.end + 4 < r.start for r in runs for t in tier):
                tier.extend(runs)
                break
        else:
            if len(tiers) < MOST_TIERS:
                tiers.append(runs)
            else:
                tiers[-1].extend(_Run("", r.colour, r.start, r.end, r.bars) for r in runs)
    return tiers


def _runs(kind: Sequence[Occurrence], record: SessionRecord, scale: _Scale) -> list[_Run]:
    word = _label(record, kind[0].act)
    room = width_of(word, WORD)
    runs: list[_Run] = []
    for act in kind:
        x, end = scale.x(float(act.start)), scale.x(float(act.span.end))
        bar = (x, max(end - x, 1.6) if act.lasting else 0.0, _tip(record, act))
        if runs and x - runs[-1].end < 40:
            last = runs[-1].bars[-1]
            if act.lasting and x - (last[0] + last[1]) < 0.5:  # closer than a line is wide: one bar
                runs[-1].bars[-1] = (last[0], max(x + bar[1] - last[0], last[1]), last[2])
            elif act.lasting or x - last[0] > 1:
                runs[-1].bars.append(bar)
            runs[-1].end = max(runs[-1].end, end)
        else:
            start = min(x, scale.width - RIGHT - room)
            runs.append(_Run(word, _colour(act.act), start, max(end, start + room), [bar]))
    return runs


def _ground(picture: Picture, record: SessionRecord, scale: _Scale, top: float, axis: float) -> None:
    """Where there is no film, and the light upright lines of the clock."""
    covered = sorted((scale.x(float(c.offset)), scale.x(float(c.on_clock(c.end_pts)))) for c in record.clips)
    at = LEFT
    for start, end in [*covered, (scale.width - RIGHT, scale.width)]:
        if start - at > 1:
            picture.rect(at, top, start - at, axis - top, "#eeeeee", "no film here")
        at = max(at, end)
    for _, x in _ticks(scale):
        picture.line(x, top, x, axis, HAIR, 0.6)


def _ticks(scale: _Scale) -> list[tuple[float, float]]:
    step = nice_step(scale.end - scale.start, 10, CLOCK_STEPS)
    first = -int(-scale.start // step)
    times = [k * step for k in range(first, int(scale.end / step) + 1)]
    return [(t, scale.x(t)) for t in times if scale.start <= t <= scale.end]


def _axis(picture: Picture, scale: _Scale, y: float) -> None:
    picture.line(LEFT, y, scale.width - RIGHT, y, SOFT, 0.8)
    for at, x in _ticks(scale):
        picture.line(x, y, x, y + 3, SOFT, 0.8)
        word = clock(at, 0 if at == int(at) else 1)
        middle = min(x, scale.width - 1 - width_of(word, 9) / 2)
        picture.text(middle, y + 13, word, 9, text_anchor="middle", fill=SOFT)


def _keeper_acts(
    picture: Picture, acts: Sequence[Occurrence], record: SessionRecord, scale: _Scale, top: float, below: float
) -> None:
    taken = -1e9
    for act in acts:
        x, word = scale.x(float(act.start)), _label(record, act.act)
        if act.lasting:
            picture.hatched(x, top, max(scale.x(float(act.span.end)) - x, 1.5), below - top, _tip(record, act))
        else:
            picture.line(x, top - 4, x, below, SOFT, 0.9, stroke_dasharray="3 2")
        wide = width_of(word, WORD)
        start = min(x, scale.width - RIGHT - wide)
        if start > taken + 5:
            picture.text(start, top - 7, word, WORD, fill=SOFT)
            taken = start + wide


def _side(picture: Picture, tiers: list[list[_Run]], name: str, base: Callable[[int], float]) -> None:
    picture.text(LEFT - 8, base(0), name, 10, text_anchor="end", font_weight="bold")
    for number, tier in enumerate(tiers):
        for run in tier:
            if run.word:
                picture.text_on_lines(run.start, base(number) - 1.5, run.word, WORD)
            for x, width, tip in run.bars:
                if width:
                    picture.rect(x, base(number) + 0.5, width, BAR, run.colour, tip, rx=1.2)
                else:  # momentary: a wedge that points at its moment
                    y = base(number)
                    corners = f"{n(x - 3)},{n(y + 0.5)} {n(x + 3)},{n(y + 0.5)} {n(x)},{n(y + 0.5 + BAR)}"
                    picture.add("polygon", tip, points=corners, fill=run.colour)
    if not tiers:
        picture.text(LEFT + 6, base(0), "none marked", WORD, fill=SOFT)


def _contact(picture: Picture, acts: Sequence[Occurrence], record: SessionRecord, scale: _Scale, line: float) -> None:
    picture.line(LEFT, line, scale.width - RIGHT, line, INK, 1.4)
    taken = -1e9
    for act in acts:
        x, end = scale.x(float(act.start)), scale.x(float(act.span.end))
        word = _label(record, act.act)
        picture.rect(x, line - 4, max(end - x, 2), 8, _colour(act.act), _tip(record, act), rx=1)
        start = min(x, scale.width - RIGHT - width_of(word, WORD))
        if start > taken + 5:
            picture.text(start, line + 15, word, WORD, font_weight="bold")
            taken = start + width_of(word, WORD)


def _flags(picture: Picture, flags: Sequence[NumberedFlag], scale: _Scale, line: float) -> None:
    taken = -1e9
    picture.text(LEFT - 8, line + 3.5, "pulls", 10, text_anchor="end", font_weight="bold")
    for flag in flags:
        if not scale.start <= float(flag.onset) <= scale.end:
            continue
        x = scale.x(float(flag.onset))
        draw_shape(picture, flag.shape, x, line, 5.2, f"pull {flag.number}, {clock(flag.onset, 2)}: {flag.said}")
        if x > taken + 11:
            picture.text(x, line - 9, str(flag.number), 9, text_anchor="middle", font_weight="bold")
            taken = x


def _trace(picture: Picture, record: SessionRecord, trace: ClipTrace, scale: _Scale, top: float, named: bool) -> None:
    clip = record.clip(trace.clip_id)
    for stretch in record.spans:
        if stretch.pass_id == trace.pass_id and stretch.why:
            start = scale.x(float(clip.on_clock(stretch.start_pts)))
            end = scale.x(float(clip.on_clock(stretch.end_pts)))
            picture.hatched(
                start, top, max(end - start, 1), TRACE_HEIGHT, f"not watched: {one_line(stretch.why, 200)}"
            )
    x, low, high = columns(trace.clock, trace.trace.pull, scale.start, scale.end, int(scale.width - LEFT - RIGHT))
    most = max([0.25, *(v for v in high if v == v)])
    least = min([0.0, *(v for v in low if v == v)])

    def place(value: float) -> float:
        return top + TRACE_HEIGHT - (value - least) / (most - least) * TRACE_HEIGHT

    picture.line(LEFT, place(0), scale.width - RIGHT, place(0), HAIR, 0.8)
    for value in (0.0, most):
        picture.text(LEFT - 8, place(value) + (3 if value == 0 else 7), f"{value:.2f}".rstrip("0").rstrip("."), 8,
                     text_anchor="end", fill=SOFT)  # fmt: skip
    points = [
        (scale.x(at), place(value))
        for at, pair in zip(x, zip(low, high, strict=True), strict=True)
        for value in (pair if pair[1] - pair[0] > (most - least) / 200 else pair[:1])
    ]
    picture.path(points, INK, 0.9)
    camera = f", {one_line(clip.camera or file_name(clip.path), 40)}" if named else ""
    picture.text_on_lines(LEFT + 4, top + 7, f"her abdomen drawn, in its lengths{camera}", 8)


def _sound(picture: Picture, record: SessionRecord, sound: ClipSound, scale: _Scale, top: float, named: bool) -> None:
    """Loudness as a band, with a tick under it for each tap or knock."""
    foot = top + SOUND_HEIGHT
    x, _, high = columns(sound.clock, sound.levels, scale.start, scale.end, int(scale.width - LEFT - RIGHT))
    bars = [
        f"M{n(scale.x(at))} {n(foot)}V{n(foot - level * SOUND_HEIGHT)}"
        for at, level in zip(x, high, strict=True)
        if level * SOUND_HEIGHT > 0.4
    ]
    if bars:
        picture.add("path", d="".join(bars), stroke="#b9c4cc", stroke_width=1, fill="none")
    taken = -1e9
    struck = []
    for onset in sound.onsets.tolist():
        at = scale.x(onset)
        if scale.start <= onset <= scale.end and at - taken >= 0.6:
            struck.append(f"M{n(at)} {n(foot)}v4")
            taken = at
    if struck:
        picture.add("path", d="".join(struck), stroke=INK, stroke_width=0.6, fill="none")
    picture.line(LEFT, foot, scale.width - RIGHT, foot, HAIR, 0.8)
    clip = record.clip(sound.clip_id)
    camera = f", {one_line(clip.camera or file_name(clip.path), 40)}" if named else ""
    picture.text_on_lines(LEFT + 4, top + 2, f"sound, ticks where something was struck{camera}", 8)


def _blind(record: SessionRecord, traces: Sequence[ClipTrace]) -> bool:
    shown = {trace.pass_id for trace in traces}
    return any(stretch.why and stretch.pass_id in shown for stretch in record.spans)


def _legend(
    picture: Picture, flags: Sequence[NumberedFlag], happened: Sequence[Occurrence], blind: bool, y: float
) -> None:
    """Two lines: the kinds of acts that are there, and the calls."""
    x = LEFT
    seen = {o.act for o in happened if o.actor not in (Actor.KEEPER, Actor.NOBODY)}
    shown = [(f.name, f.colour) for f in FAMILIES if seen & set(f.codes)]
    shown += [("other acts", FAINT)] if any(family_of(code) is None for code in seen) else []
    for name, colour in shown:
        picture.rect(x, y - 21, 10, BAR, colour, rx=1.2)
        picture.text(x + 14, y - 15, name, 9, fill=SOFT)
        x += 26 + width_of(name, 9)
    x = LEFT
    for shape in [s for s in SHAPES if any(f.shape == s for f in flags)]:
        draw_shape(picture, shape, x + 5, y - 3.5, 4.6)
        picture.text(x + 14, y, SHAPES[shape], 9, fill=SOFT)
        x += 26 + width_of(SHAPES[shape], 9)
    if blind:
        picture.hatched(x, y - 8, 14, 9)
        picture.text(x + 18, y, "not watched", 9, fill=SOFT)


def _told(record: SessionRecord, happened: Sequence[Occurrence], flags: Sequence[NumberedFlag]) -> str:
    acts = "; ".join(_tip(record, o) for o in happened[:60])
    pulls = "; ".join(f"pull {f.number} at {clock(f.onset, 2)}: {f.said}" for f in flags[:60])
    return f"Acts: {acts or 'none marked'}. Pulls: {pulls or 'none'}."
