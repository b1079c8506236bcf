"""Tidy tables for notebooks and CSV: one row a thing, one column a property, every column typed, units in its name.

What each column means stands in `clipmark.report.exports.columns` and docs/formats.md.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.book.meaning.calls import counting_calls
from clipmark.book.model import Animal, LifeEvent, SessionRecord
from clipmark.report.called import numbered_flags
from clipmark.report.exports.columns import ACROSS, KINDS, TABLES, Table
from clipmark.report.her_kind import HerKind, of_her_kind
from clipmark.report.text import file_name

if TYPE_CHECKING:
    import pandas as pd

    from clipmark.book.store import Book
    from clipmark.reading.cycles.outcomes import Outcomes

Row = dict[str, Any]
MICRO = 6  # decimals of printed seconds; the exact ticks stand beside them


def _s(value: Fraction | None) -> float | None:
    return None if value is None else round(float(value), MICRO)


@dataclass(frozen=True, slots=True)
class Around:
    """What a session's tables need of the book besides its record: both animals' dated events and other sessions,
    and those of her kind, for cycles and incidence."""

    hers: tuple[LifeEvent, ...] = ()
    his: tuple[LifeEvent, ...] = ()
    others: tuple[SessionRecord, ...] = ()
    kind: HerKind | None = None


ALONE = Around()


def around(book: Book, record: SessionRecord) -> Around:
    """Look up what stands around a session."""
    her, him = record.session.female_id, record.session.male_id
    both = [one for one in (her, him) if one is not None]
    ids = {s.id for one in both for s in book.sessions_of(one)} - {record.session.id}
    return Around(
        book.life(her) if her is not None else (),
        book.life(him) if him is not None else (),
        tuple(book.records(sorted(ids))),
        of_her_kind(book, record.female) if record.female is not None else None,
    )


def _all_around(records: Sequence[SessionRecord], lives: Mapping[int, tuple[LifeEvent, ...]]) -> Iterator[Around]:
    """The same for all sessions of a book, each of which was read once; of his other sessions none, which only say
    whether to pair him again."""
    hers: dict[int, list[SessionRecord]] = {}
    for record in records:
        if record.session.female_id is not None:
            hers.setdefault(record.session.female_id, []).append(record)
    for record in records:
        her, him = record.session.female_id, record.session.male_id
        others = tuple(r for r in hers.get(her or 0, ()) if r.session.id != record.session.id)
        yield Around(lives.get(her or 0, ()), lives.get(him or 0, ()), others)


def rows(record: SessionRecord, about: Around = ALONE) -> dict[str, list[Row]]:
    """Table name to rows, for one session; keys are the columns of `columns.TABLES`."""
    return {
        "animals": [animal_row(a) for a in (record.female, record.male) if a is not None],
        "life": [life_row(e) for e in (*about.hers, *about.his)],
        "sessions": [_session(record)],
        "clips": list(_clips(record)),
        "marks": list(_marks(record)),
        "flags": list(_flags(record)),
        "calls": list(_calls(record)),
        "signs": [
            {"call_id": c.id, "flag_id": c.flag_id, "session_id": record.session.id, "sign": sign.value}
            for c in record.calls for sign in c.signs
        ],
        "doubts": [
            {"flag_id": f.id, "session_id": record.session.id, "doubt": doubt}
            for f in (*record.flags, *record.older_flags) for doubt in f.doubts
        ],
        "reviewed": list(_reviewed(record)),
        "spans": list(_spans(record)),
        "measures": list(_measures(record)),
        "outcomes": [
            {
                "outcome_id": o.id, "session_id": o.session_id, "kind": o.kind, "date": o.date, "note": o.note,
                "counts": "; ".join(f"{stage}: {number}" for stage, number in o.counts), "sac": o.sac,
                "temperature_c": o.temperature_c, "humidity_pct": o.humidity_pct, "kept": o.kept,
            }
            for o in record.outcomes
        ],
        "counts": [
            {"outcome_id": o.id, "session_id": o.session_id, "sac": o.sac, "stage": stage, "number": number}
            for o in record.outcomes for stage, number in o.counts
        ],
        "outlook": list(_outlook(record, about)),
        "reminders": [
            {"reminder_id": r.id, "session_id": r.session_id, "date": r.date, "text": r.text, "done": r.done}
            for r in record.reminders
        ],
    }  # fmt: skip


def animal_row(a: Animal) -> Row:
    """A row of animals.csv."""
    return {
        "animal_id": a.id, "sex": a.sex.value,
        **{name: getattr(a, name) for name in ("name", "species", "born", "origin", "owner", "note")},
    }  # fmt: skip


def life_row(e: LifeEvent) -> Row:
    """A row of life.csv."""
    return {"event_id": e.id, **{name: getattr(e, name) for name in ("animal_id", "kind", "date", "note")}}


def _reviewed(record: SessionRecord) -> Iterator[Row]:
    for r in record.reviewed:
        clip = record.clip(r.clip_id)
        yield {
            "reviewed_id": r.id, "session_id": record.session.id, "clip_id": r.clip_id, "reviewer": r.reviewer,
            "start_s": _s(clip.on_clock(r.start_pts)), "end_s": _s(clip.on_clock(r.end_pts)),
            "start_pts": r.start_pts, "end_pts": r.end_pts, "time_base": str(clip.time_base),
        }  # fmt: skip


def _outlook(record: SessionRecord, about: Around) -> Iterator[Row]:
    """Windows of dates; none where the session has no date."""
    from clipmark.reading.advice.outlook import outlook

    if not record.session.date:
        return
    view = outlook(record, about.hers, about.his, about.others)
    latest = () if view.latest is None else (view.latest,)
    for what, windows in (("sac", view.sac), ("latest", latest), ("pull", view.pull), ("emergence", view.emergence)):
        for w in windows:
            yield {
                "session_id": record.session.id, "what": what, "first": w.first.isoformat(),
                "last": w.last.isoformat(), "text": w.text, "source": w.source,
            }  # fmt: skip


def _session(record: SessionRecord) -> Row:
    s, her, him = record.session, record.female, record.male
    return {
        "session_id": s.id, "title": s.title, "date": s.date, "time_of_day": s.time_of_day,
        "female_id": s.female_id, "female": her.name if her else "", "female_species": her.species if her else "",
        "male_id": s.male_id, "male": him.name if him else "", "male_species": him.species if him else "",
        "place": s.place, "temperature_c": s.temperature_c, "humidity_pct": s.humidity_pct,
        "reviewer": s.reviewer, "note": s.note,
    }  # fmt: skip


def _clips(record: SessionRecord) -> Iterator[Row]:
    for c in record.clips:
        yield {
            "clip_id": c.id, "session_id": c.session_id, "file": file_name(c.path), "camera": c.camera,
            "offset_s": _s(c.offset), "offset_exact": str(c.offset),
            "duration_s": _s((c.end_pts - c.first_pts) * c.time_base), "frames": c.frames,
            "time_base": str(c.time_base), "first_pts": c.first_pts, "end_pts": c.end_pts,
            "width_px": c.width, "height_px": c.height, "fingerprint": c.fingerprint,
        }  # fmt: skip


def _marks(record: SessionRecord) -> Iterator[Row]:
    clips = {c.id: c for c in record.clips}
    labels = {a.code: a.label for a in record.acts}
    for m in record.marks:
        clip = clips[m.clip_id]
        end = None if m.end_pts is None else clip.on_clock(m.end_pts)
        start = clip.on_clock(m.start_pts)
        yield {
            "mark_id": m.id, "session_id": record.session.id, "clip_id": m.clip_id, "act": m.act,
            "label": labels.get(m.act, m.act), "actor": m.actor.value, "lasting": m.lasting, "open": m.open,
            "start_s": _s(start), "end_s": _s(end), "duration_s": _s(None if end is None else end - start),
            "film_s": _s(start - clip.offset), "start_pts": m.start_pts, "end_pts": m.end_pts,
            "time_base": str(clip.time_base), "reviewer": m.reviewer, "note": m.note,
            "from_proposal": m.from_proposal,
        }  # fmt: skip


def _flags(record: SessionRecord) -> Iterator[Row]:
    clips = {c.id: c for c in record.clips}
    numbers = {f.flag.id: f.number for f in numbered_flags(record)}
    calls = counting_calls(record)
    current = {f.id for f in record.flags}
    for f in (*record.flags, *record.older_flags):
        clip, call = clips[f.clip_id], calls.get(f.id)
        onset = clip.on_clock(f.onset_pts)
        yield {
            "flag_id": f.id, "session_id": record.session.id, "clip_id": f.clip_id, "pass_id": f.pass_id,
            "number": numbers.get(f.id), "onset_s": _s(onset), "full_s": _s(clip.on_clock(f.full_pts)),
            "release_s": _s(None if f.release_pts is None else clip.on_clock(f.release_pts)),
            "film_s": _s(onset - clip.offset), "onset_pts": f.onset_pts, "full_pts": f.full_pts,
            "release_pts": f.release_pts, "time_base": str(clip.time_base), "score": f.score, "pull_lengths": f.pull,
            "tilt_deg": f.tilt_deg, "direction_deg": f.direction_deg, "flagged": f.flagged,
            "current": f.id in current,
            "decision": call.decision.value if call else "", "because": f.because, "doubts": "; ".join(f.doubts),
            "parameters": f.parameters, "by": f.by,
        }  # fmt: skip


def _calls(record: SessionRecord) -> Iterator[Row]:
    counting = {call.id for call in counting_calls(record).values()}
    for c in record.calls:
        yield {
            "call_id": c.id, "flag_id": c.flag_id, "session_id": record.session.id, "reviewer": c.reviewer,
            "decision": c.decision.value, "counts": c.id in counting, "signs": "; ".join(s.value for s in c.signs),
            "palp": c.palp, "cause": c.cause, "note": c.note, "made_at": c.made_at,
        }  # fmt: skip


def _spans(record: SessionRecord) -> Iterator[Row]:
    clips = {c.id: c for c in record.clips}
    clip_of = {p.id: clips[p.clip_id] for p in record.passes if p.current and p.clip_id in clips}
    for s in record.spans:
        clip = clip_of.get(s.pass_id)
        if clip is not None:
            yield {
                "pass_id": s.pass_id, "session_id": record.session.id, "clip_id": clip.id, "watched": not s.why,
                "start_s": _s(clip.on_clock(s.start_pts)), "end_s": _s(clip.on_clock(s.end_pts)), "why": s.why,
                "start_pts": s.start_pts, "end_pts": s.end_pts, "time_base": str(clip.time_base),
            }  # fmt: skip


def _measures(record: SessionRecord) -> Iterator[Row]:
    from clipmark.reading.session.measures import read

    reading = read(record)
    for f in (*reading.figures, *(figure for act in reading.acts for figure in act.figures)):
        act, actor, measure = _parts(f.key)
        yield {
            "session_id": record.session.id, "key": f.key, "measure": measure, "act": act, "actor": actor,
            "reviewer": reading.reviewer, "label": f.label, "value": f.number, "unit": f.unit,
            "at_least": _s(f.at_least), "text": f.text, "explanation": f.explanation,
        }  # fmt: skip


def frame(table: Table, filled: Iterable[Row]) -> pd.DataFrame:
    """Rows as a DataFrame with the declared types, also where there is no row; empty text stays empty text."""
    import pandas as pd

    filled = list(filled)
    data = {}
    for column in table.columns:
        values = [row[column.name] for row in filled]
        dtype = KINDS[column.kind][0]
        if column.kind in ("date", "instant"):
            times = pd.to_datetime(  # typed also where there is no row
                pd.Series(values, dtype="object"), errors="coerce", utc=column.kind == "instant", format="ISO8601"
            )
            data[column.name] = times.dt.as_unit("ns")  # pandas 3 would choose its own unit
        else:
            data[column.name] = pd.Series(values, dtype=dtype)
    return pd.DataFrame(data)


def _parts(key: str) -> tuple[str, str, str]:
    """Act, actor and measure of a figure's key: `act.drumming.him.count` is ("drumming", "him", "count")."""
    if not key.startswith("act."):
        return "", "", key
    act, actor, measure = key.removeprefix("act.").rsplit(".", 2)
    return act, actor, measure


def tables(record: SessionRecord) -> dict[str, pd.DataFrame]:
    """The tables of one session, by name."""
    filled = rows(record)
    return {table.name: frame(table, filled[table.name]) for table in TABLES}


def read_book(path: str | Path | None = None, asked: date | None = None) -> dict[str, pd.DataFrame]:
    """Every session of a book as tidy tables, and what they say together. The book is opened for reading only.

    Args:
        path: the book; None for the one that the window opens.
        asked: the day of asking for cycles and incidence; today where it is None.
    Raises:
        ClipmarkError: the book is missing, newer, damaged, or no book.
    """
    from clipmark.book.store import Book
    from clipmark.reading.cycles.outcomes import outcomes

    filled: dict[str, list[Row]] = {table.name: [] for table in (*TABLES, *ACROSS)}
    with Book.open(None if path is None else Path(path), read_only=True) as book:
        records = list(book.records([row.id for row in book.sessions()]))
        animals = book.animals()
        lives = {animal.id: book.life(animal.id) for animal in animals}
    for record, about in zip(records, _all_around(records, lives), strict=True):
        for name, more in rows(record, about).items():
            filled[name].extend(more)
    filled["animals"] = [animal_row(a) for a in animals]  # each once, and those without a session
    filled["life"] = [life_row(e) for events in lives.values() for e in events]
    filled |= across(outcomes(records, lives, asked))
    return {table.name: frame(table, filled[table.name]) for table in (*TABLES, *ACROSS)}


def told_rows(book: Book, asked: date | None = None) -> dict[str, list[Row]]:
    """The outlook of each session, and cycles and incidence of all, as rows; `asked` as in `read_book`."""
    from clipmark.reading.cycles.outcomes import outcomes

    records = list(book.records([row.id for row in book.sessions()]))
    lives = {animal.id: book.life(animal.id) for animal in book.animals()}
    pairs = zip(records, _all_around(records, lives), strict=True)
    windows = [row for record, about in pairs for row in _outlook(record, about)]
    return {"outlook": windows, **across(outcomes(records, lives, asked))}


def with_her_kind(record: SessionRecord, about: Around) -> dict[str, list[Row]]:
    """Her cycles, and the incidence over the cycles of her kind; no row where nothing stands around the session."""
    if about.kind is None or record.female is None:
        return {table.name: [] for table in ACROSS}
    told = across(about.kind.together(), about.kind.species)
    return told | {"cycles": [row for row in told["cycles"] if row["female_id"] == record.female.id]}


def across(read: Outcomes, species: str = "") -> dict[str, list[Row]]:
    """What sessions say together, as rows; `species` where they are of one."""
    asked = read.asked.isoformat()
    share = read.incidence
    return {
        "cycles": [
            {
                "female_id": c.female_id, "start": c.cycle.start.isoformat(), "state": str(c.state), "end": c.end,
                "sessions": "; ".join(str(s.record.session.id) for s in c.cycle.sessions), "days": c.days,
                "asked": asked,
            }
            for c in read.cases
        ],
        "incidence": [] if share is None else [
            {
                "species": species, "way": way, "day": float(share.times[k]), "at_risk": int(share.at_risk[k]),
                "asked": asked,
                "share": float(share.share[way][k]), "low": _there(share.low[way][k]),
                "high": _there(share.high[way][k]),
            }
            for way in share.share for k in range(len(share.times))
        ],
    }  # fmt: skip


def _there(value: float) -> float | None:
    return None if value != value else float(value)
