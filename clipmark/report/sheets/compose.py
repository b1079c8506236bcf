"""From a session's record to what stands on its sheet. Reads films for the stills; writes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from fractions import Fraction

from clipmark import __version__
from clipmark.book.meaning.shots import views
from clipmark.book.model import Actor, ClipRecord, SessionRecord, SpeciesNote
from clipmark.errors import ClipmarkError
from clipmark.media.index.frame_index import FrameIndex
from clipmark.progress import SILENT, Progress
from clipmark.reading.figure import seconds_text
from clipmark.reading.kinds import notices
from clipmark.reading.session.insertions import WITHOUT_SIGNS
from clipmark.reading.session.measures import Reading, read
from clipmark.report.called import NumberedFlag, numbered_flags, unsigned
from clipmark.report.exports.calendar_file import pair_name
from clipmark.report.films.beats import beats
from clipmark.report.films.opened import FilmMissing, Films
from clipmark.report.films.sounds import heard
from clipmark.report.pictures.figures import sequence_svg, timeline_svg, trace_svg
from clipmark.report.pictures.moments import Shown, three_moments
from clipmark.report.pictures.shapes import SHAPES, shape_svg
from clipmark.report.pictures.stills import (
    Region,
    drawn_in_shot,
    followed_at,
    region_round,
    still,
)
from clipmark.report.pictures.traces import ClipTrace
from clipmark.report.sheets.content import (
    ActRow,
    CallView,
    Card,
    FilmRow,
    MarkRow,
    MeasureGroup,
    Sheet,
    StillView,
    UnwatchedRow,
    When,
)
from clipmark.report.sheets.kind_content import kind_view
from clipmark.report.sheets.reviewers import side_by_side
from clipmark.report.sheets.story import day, story, verdict
from clipmark.report.text import file_name, isolated, legible, one_line
from clipmark.timebase import clock

STILL_WIDTH = 480  # pixels of a still in the file; three of them stand side by side on the page
# what still matters when the film has been read; the rest is shown before a pairing
CAUTIONS = (
    notices.SEEN_ONLY, notices.NOT_SEEN_IS_NO_FAILURE, notices.SEPARATE, notices.NO_LEANING, notices.BITES,
    notices.VETERINARIAN, notices.YOUNG, notices.LAW,
)  # fmt: skip
WHO = {Actor.HIM: "he", Actor.HER: "she", Actor.BOTH: "both", Actor.KEEPER: "keeper", Actor.NOBODY: "–"}


ONLY_IF_ANY = {f"insertions.{name}" for name in ("other", "uncalled", "longest", "left", "right", "palp_untold")}


class _Places:
    """Where a tick of a clip is: frame number, film time, session clock."""

    def __init__(self, record: SessionRecord, films: Films, traces: Mapping[int, ClipTrace]):
        self.record, self.films, self.traces = record, films, traces
        self.trouble: dict[int, str] = {}
        self._index: dict[int, FrameIndex | None] = {}

    def index(self, clip: ClipRecord) -> FrameIndex | None:
        """The frames of the film, where it is there."""
        if clip.id not in self._index:
            try:
                self._index[clip.id] = self.films.reader(clip).clip.index
            except FilmMissing as missing:
                self._index[clip.id] = None
                self.trouble[clip.id] = missing.reason
        return self._index[clip.id]

    def frame(self, clip: ClipRecord, pts: int) -> int | None:
        index = self.index(clip)
        return None if index is None else index.at_or_before(pts)

    def when(self, clip: ClipRecord, pts: int) -> When:
        at = clip.on_clock(pts)
        frame = self.frame(clip, pts)
        where = f"frame {frame + 1}, " if frame is not None else ""  # people count from 1, as in the window
        base = f"{clip.time_base.numerator}/{clip.time_base.denominator}"
        name = one_line(file_name(clip.path), 80)
        return When(clock(at, 2), f"{name}: {where}{clock(at - clip.offset)} in the film, tick {pts} of {base} s")


def compose(
    record: SessionRecord,
    traces: Sequence[ClipTrace] = (),
    progress: Progress = SILENT,
    films: Films | None = None,
    now: datetime | None = None,
    own: Sequence[SpeciesNote] = (),
    his: Sequence[SessionRecord] = (),
    reviewer: str = "",
    comparisons: Sequence[str] = (),
) -> Sheet:
    """Put a session's sheet together.

    A film that is missing or damaged takes only its stills with it; the sheet says which and why.

    Args:
        traces: of the current passes, one a clip.
        progress: reports flag by flag.
        films: the session's films where they are open already; they stay open.
        own: what the keeper noted of species.
        his: his other sessions, and other males' of the species, for his rhythm.
        reviewer: whose marks and calls the figures are of; empty: the session's own.
        comparisons: pictures that hold this session against others, as SVG.
    """
    if films is None:
        with Films() as opened:
            return compose(record, traces, progress, opened, now, own, his, reviewer, comparisons)
    reading = read(record, reviewer, own)
    by_clip = {t.clip_id: t for t in traces}
    places = _Places(record, films, by_clip)
    sounds = heard(record, films, progress)
    ordered = [t for c in record.clips if (t := by_clip.get(c.id))]
    cards = tuple(_cards(record, places, by_clip, progress, reviewer))
    return Sheet(
        title=legible(record.session.title) or pair_name(record),
        pair=_pair(record),
        head=tuple(_head(record, reading.reviewer)),
        films=tuple(_film(clip, places) for clip in record.clips),
        note=legible(record.session.note),
        verdict=verdict(reading),
        story=story(record, reading),
        timeline_svg=timeline_svg(record, ordered, sounds, reviewer=reviewer),
        heard=bool(sounds),
        cards=cards,
        marks=tuple(_marks(record, places)),
        measures=tuple(_measures(reading)),
        acts=tuple(_acts(reading)),
        reviewers=side_by_side(record, reading.reviewer),
        notes=tuple(n for n in reading.notes if not n.startswith("Unwatched")),
        sequence_svg=sequence_svg(record, reviewer),
        comparisons=tuple(comparisons),
        unwatched=tuple(_unwatched(record, places)),
        scanned=reading.observed.scanned,
        method=tuple(_method(record)),
        standing=notices.STANDING,
        cautions=CAUTIONS,
        made=f"clipmark {__version__}, {(now or datetime.now(UTC)).strftime('%Y-%m-%d %H:%M')} UTC",
        kind=kind_view(record, reading, own, his, {r.session.id: beats(r) for r in (record, *his)}),
    )  # fmt: skip


def _pair(record: SessionRecord) -> str:
    parts = []
    for animal, role in ((record.female, "female"), (record.male, "male")):
        if animal is not None:
            species = f", {isolated(one_line(animal.species, 80))}" if animal.species.strip() else ""
            parts.append(f"{isolated(one_line(animal.name, 80)) or role} ({role}{species})")
    return " with ".join(parts)


def _head(record: SessionRecord, reviewer: str) -> Iterable[tuple[str, str]]:
    s = record.session
    rows = [
        ("Date", day(s.date)),
        ("Place", one_line(s.place, 120)),
        ("Temperature", "" if s.temperature_c is None else f"{s.temperature_c:g} °C"),
        ("Humidity", "" if s.humidity_pct is None else f"{s.humidity_pct:g} %"),
        ("Reviewed by", one_line(reviewer, 80)),
    ]
    return [row for row in rows if row[1]]


def _film(clip: ClipRecord, places: _Places) -> FilmRow:
    index = places.index(clip)
    length = (clip.end_pts - clip.first_pts) * clip.time_base
    rate = f" at {float(index.rate):.4g} a second" if index is not None and index.rate is not None else ""
    uneven = ", unevenly spaced" if index is not None and not index.even else ""
    starts = f", from {clock(clip.offset, 2)} on the clock" if clip.offset else ""
    facts = (
        f"{clock(length, 1)} long, {clip.frames} frames{rate}{uneven}, {clip.width} × {clip.height} pixels{starts}"
    )
    camera = f"{one_line(clip.camera, 60)}: " if clip.camera.strip() else ""
    return FilmRow(one_line(f"{camera}{file_name(clip.path)}", 160), facts, places.trouble.get(clip.id, ""))


def _cards(
    record: SessionRecord, places: _Places, traces: Mapping[int, ClipTrace], progress: Progress, reviewer: str
) -> Iterable[Card]:
    flags = numbered_flags(record, reviewer)
    for done, flag in enumerate(flags):
        progress.advance(done, len(flags))
        yield _card(record, flag, places, traces.get(flag.flag.clip_id))
    progress.advance(len(flags), len(flags))


def _card(record: SessionRecord, flag: NumberedFlag, places: _Places, trace: ClipTrace | None) -> Card:
    clip = record.clip(flag.flag.clip_id)
    return Card(
        number=flag.number,
        when=places.when(clip, flag.flag.onset_pts),
        shape=flag.shape,
        shape_svg=shape_svg(flag.shape),
        said=SHAPES[flag.shape] + (f", {WITHOUT_SIGNS}" if flag.call and unsigned(flag.call) else ""),
        palp=f"{flag.call.palp} palp" if flag.call and flag.call.palp else "",
        stills=tuple(_stills(record, flag, clip, places, trace)),
        trace_svg=trace_svg(trace, flag) if trace is not None else "",
        facts=tuple(_facts(flag)),
        because=_sentence(flag.flag.because),
        doubts=tuple(legible(d) for d in flag.flag.doubts),
        calls=tuple(
            CallView(
                shape_svg(c.decision.value),
                SHAPES[c.decision.value]
                + (f", {WITHOUT_SIGNS}" if unsigned(c) else "")
                + (f": {one_line(c.cause, 400)}" if c.cause else ""),
                one_line(c.reviewer, 80),
                ", ".join(s.value for s in c.signs),
                legible(c.note),
                flag.call is not None and c.id == flag.call.id,
                bool(c.carried_from),
            )
            for c in flag.calls
        ),
    )


def _sentence(text: str) -> str:
    """With a capital and a full stop, as it stands alone on the sheet."""
    text = legible(text).strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) or not text else ".")


def _facts(flag: NumberedFlag) -> Iterable[tuple[str, str]]:
    f = flag.flag
    if f.pull is not None:
        yield "drawn", f"{f.pull:.2f} abdomen lengths"
    if f.tilt_deg is not None:
        turned = round(f.tilt_deg)
        yield "tipped", f"{abs(turned)}°" + ("" if not turned else " clockwise" if turned > 0 else " anticlockwise")
    yield "within", seconds_text(flag.full - flag.onset)
    yield "held", "no release seen" if flag.release is None else seconds_text(flag.release - flag.full)
    if f.score is not None:
        yield "score", "over 0.99" if f.score > 0.99 else f"{f.score:.2f}"
    if f.by:
        yield "added by", one_line(f.by, 80)


def _stills(
    record: SessionRecord, flag: NumberedFlag, clip: ClipRecord, places: _Places, trace: ClipTrace | None
) -> Iterable[StillView]:
    moments = three_moments(record, clip, flag.flag)
    index = places.index(clip)
    frames = [None if index is None else index.at_or_before(m.tick) for m in moments]
    outlines = [
        followed_at(trace, record.outlines, frame) if trace is not None and frame is not None else ()
        for frame in frames
    ]
    shown = [o for o in outlines if o] or [drawn_in_shot(record, clip, flag.flag.onset_pts)]
    region = region_round(shown, clip.width, clip.height)
    for moment, frame, outline in zip(moments, frames, outlines, strict=True):
        yield _still(moment, frame, outline, region, clip, places)


def _still(
    moment: Shown,
    frame: int | None,
    outline: tuple[tuple[float, float], ...],
    region: Region | None,
    clip: ClipRecord,
    places: _Places,
) -> StillView:
    when = places.when(clip, moment.tick)
    if frame is None:
        return StillView(moment.name, when, None, None, f"the film {places.trouble[clip.id]}")
    reader = places.films.reader(clip)
    when = places.when(clip, int(reader.clip.index.pts[frame]))
    try:
        picture = still(reader, frame, STILL_WIDTH, region, outline)
    except ClipmarkError as error:
        return StillView(moment.name, when, frame + 1, None, str(error))
    return StillView(moment.name, when, frame + 1, picture)


def _marks(record: SessionRecord, places: _Places) -> Iterable[MarkRow]:
    labels = {a.code: a.label for a in record.acts}
    rows = []
    for m in record.marks:
        clip = record.clip(m.clip_id)
        start = clip.on_clock(m.start_pts)
        end = None if m.end_pts is None or not m.lasting else clip.on_clock(m.end_pts)
        rows.append((start, MarkRow(
            when=places.when(clip, m.start_pts),
            until=clock(end, 2) if end is not None else "left open" if m.open else "",
            length=seconds_text(end - start) if end is not None else "",
            who=WHO[m.actor],
            act=one_line(labels.get(m.act, m.act), 200),
            note=legible(m.note),
            reviewer=one_line(m.reviewer, 80),
        )))  # fmt: skip
    return [row for _, row in sorted(rows, key=lambda r: r[0])]


def _measures(reading: Reading) -> Iterable[MeasureGroup]:
    groups = (
        ("How long until", "latency."),
        ("Answers", "answers."),
        ("Insertions", "insertions."),
        ("Time and parting", ("time.", "parting.", "ending")),
    )
    for title, keys in groups:
        figures = [f for f in reading.figures if f.key.startswith(keys) and (f.value or f.key not in ONLY_IF_ANY)]
        rows = [(f.label, f.text, f.explanation) for f in figures]
        if rows:
            yield MeasureGroup(title, tuple(rows))


def _acts(reading: Reading) -> Iterable[ActRow]:
    for act in reading.acts:
        yield ActRow(
            one_line(act.label, 120), WHO[act.actor], act.count.text, act.per_minute.text, act.duration.text,
            act.share.text, act.mean.text, act.longest.text,
        )  # fmt: skip


def _unwatched(record: SessionRecord, places: _Places) -> Iterable[UnwatchedRow]:
    current = {p.id: p for p in record.passes if p.current}
    for span in record.spans:
        if span.why and span.pass_id in current:
            clip = record.clip(current[span.pass_id].clip_id)
            start, end = clip.on_clock(span.start_pts), clip.on_clock(span.end_pts)
            yield UnwatchedRow(
                places.when(clip, span.start_pts), clock(end, 2), seconds_text(end - start),
                one_line(clip.camera, 60) or one_line(file_name(clip.path), 60), legible(span.why),
            )  # fmt: skip


def _views_told(record: SessionRecord) -> Iterable[str]:
    """How small a pull would have been found in each view, alike ones together, and which outlines nobody drew."""
    told: dict[str, list[str]] = {}
    to_check = []
    for view in views(record):
        start = clock(view.clip.on_clock(view.shot.start_pts), 1)
        if view.smallest:
            told.setdefault(view.smallest, []).append(start)
        if view.to_check:
            to_check.append(start)
    for words, starts in told.items():
        yield f"{_view_from(starts)}: {words[:1].lower()}{words[1:]}" if len(told) > 1 or len(starts) > 1 else words
    if to_check:
        yield f"{_view_from(to_check)}: she was found by the program after a cut, and nobody has checked her outline."


def _view_from(starts: Sequence[str]) -> str:
    shown = ", ".join(starts[:12]) + (" and more" if len(starts) > 12 else "")
    return f"View{'' if len(starts) == 1 else 's'} from {shown}"


def _method(record: SessionRecord) -> Iterable[str]:
    passes = [p for p in record.passes if p.current]
    versions = sorted({p.parameters for p in passes})
    if passes:
        outlines = sum(o.part == "abdomen" for o in record.outlines)
        yield (
            f"Her abdomen was followed from {outlines} outline{'' if outlines == 1 else 's'} drawn by the keeper; "
            f"camera motion was taken off. A pull is an abrupt change of its place or angle that is held. "
            f"Parameters {', '.join(one_line(v, 60) for v in versions)}."
        )
    yield from _views_told(record)
    frames = [((c.end_pts - c.first_pts) * c.time_base / c.frames) for c in record.clips if c.frames]
    if frames:
        slowest = max(frames) * 1000
        yield (
            f"A frame lasts {float(slowest):.1f} ms: a single moment is known to half of that either way, a length "
            "to a whole one. Times are exact frame times of the film file, not counted from a frame rate."
        )
    yield (
        "Confirmed: seating was seen and a second sign, where the call states its signs. Probable: seating, or an "
        "attempt with a pull. "
        "Attempt: no seating. Not seen: the film does not let anybody judge, which counts neither for nor against."
    )
    if any(Fraction(c.offset) != 0 for c in record.clips):
        yield "Times are on the session clock; click a time for the film file and the exact place in it."
    else:
        yield "Click a time for the film file and the exact place in it."
