"""One session as JSON for other programs: exact ticks, and the same times to read. docs/schemas/session.schema.json.

Every time is an object {"pts", "seconds", "clock"}: tick of the clip, seconds on the session clock (exact, as a
fraction in text), and the session clock as the keeper reads it.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from clipmark import __version__
from clipmark.atomic_files import atomic_file
from clipmark.book.meaning.calls import counting_calls
from clipmark.book.model import Animal, ClipRecord, FlagRecord, Mark, SessionRecord
from clipmark.report.called import numbered_flags
from clipmark.report.exports.tables import ALONE, Around, rows, with_her_kind
from clipmark.report.text import file_name
from clipmark.timebase import clock

FORMAT = "clipmark-session/1"
Json = dict[str, Any]


def _time(clip: ClipRecord, pts: int | None) -> Json | None:
    if pts is None:
        return None
    at = clip.on_clock(pts)
    return {"pts": pts, "seconds": str(at), "clock": clock(at)}


def _animal(animal: Animal | None) -> Json | None:
    if animal is None:
        return None
    return {"name": animal.name, "sex": animal.sex.value, "species": animal.species, "origin": animal.origin}


def _clip(clip: ClipRecord) -> Json:
    return {
        "id": clip.id, "file": file_name(clip.path), "size": clip.size, "fingerprint": clip.fingerprint,
        "camera": clip.camera, "offset": str(clip.offset), "time_base": str(clip.time_base),
        "first_pts": clip.first_pts, "end_pts": clip.end_pts, "frames": clip.frames,
        "width": clip.width, "height": clip.height,
    }  # fmt: skip


def _mark(record: SessionRecord, mark: Mark) -> Json:
    clip, act = record.clip(mark.clip_id), record.act(mark.act)
    return {
        "id": mark.id, "clip": mark.clip_id, "act": mark.act, "label": act.label if act else mark.act,
        "actor": mark.actor.value, "lasting": mark.lasting, "start": _time(clip, mark.start_pts),
        "end": _time(clip, mark.end_pts), "reviewer": mark.reviewer, "note": mark.note,
        "from_proposal": mark.from_proposal,
    }  # fmt: skip


def _flag(record: SessionRecord, flag: FlagRecord, number: int | None, counting: set[int]) -> Json:
    clip = record.clip(flag.clip_id)
    return {
        "id": flag.id, "number": number, "clip": flag.clip_id, "pass": flag.pass_id, "by": flag.by,
        "onset": _time(clip, flag.onset_pts), "full": _time(clip, flag.full_pts),
        "release": _time(clip, flag.release_pts), "score": flag.score, "pull": flag.pull, "tilt_deg": flag.tilt_deg,
        "direction_deg": flag.direction_deg, "flagged": flag.flagged, "because": flag.because,
        "doubts": list(flag.doubts), "parameters": flag.parameters,
        "calls": [
            {
                "reviewer": c.reviewer, "decision": c.decision.value, "counts": c.id in counting,
                "signs": [s.value for s in c.signs], "palp": c.palp, "cause": c.cause, "note": c.note,
                "made_at": c.made_at,
            }
            for c in record.calls if c.flag_id == flag.id
        ],
    }  # fmt: skip


def session_document(record: SessionRecord, about: Around = ALONE) -> Json:
    """The session as plain JSON values; with `about` (`tables.around`) the outlook knows both animals' dates."""
    s, tidy, told = record.session, rows(record, about), with_her_kind(record, about)
    counting = {call.id for call in counting_calls(record).values()}
    numbers = {f.flag.id: f.number for f in numbered_flags(record)}
    by_pass = {p.id: p for p in record.passes}
    return {
        "format": FORMAT,
        "made_by": f"clipmark {__version__}",
        "session": {
            "id": s.id, "title": s.title, "date": s.date, "time_of_day": s.time_of_day, "place": s.place,
            "temperature_c": s.temperature_c, "humidity_pct": s.humidity_pct, "reviewer": s.reviewer, "note": s.note,
            "female": _animal(record.female), "male": _animal(record.male),
        },
        "clips": [_clip(c) for c in record.clips],
        "shots": [
            {"clip": x.clip_id, "begins": x.begins, "start": _time(record.clip(x.clip_id), x.start_pts),
             "end": _time(record.clip(x.clip_id), x.end_pts), "planted": x.planted, "smallest_pull": x.smallest_pull}
            for x in record.shots
        ],
        "outlines": [
            {"clip": o.clip_id, "part": o.part, "at": _time(record.clip(o.clip_id), o.pts),
             "x": o.x, "y": o.y, "w": o.w, "h": o.h, "press": [o.press_x, o.press_y] if o.pressed else None}
            for o in record.outlines
        ],
        "regions": [
            {"clip": by_pass[r.pass_id].clip_id, "at": _time(record.clip(by_pass[r.pass_id].clip_id), r.pts),
             "source": r.source, "fitted": r.fitted, "x": r.x, "y": r.y, "w": r.w, "h": r.h, "length": r.length,
             "angle_deg": r.angle_deg, "confidence": r.confidence}
            for r in record.regions if r.pass_id in by_pass
        ],
        "marks": [_mark(record, m) for m in record.marks],
        "flags": [_flag(record, f, numbers.get(f.id), counting) for f in record.flags],
        "spans": [
            {"clip": by_pass[x.pass_id].clip_id, "watched": not x.why, "why": x.why,
             "start": _time(record.clip(by_pass[x.pass_id].clip_id), x.start_pts),
             "end": _time(record.clip(by_pass[x.pass_id].clip_id), x.end_pts)}
            for x in record.spans if x.pass_id in by_pass
        ],
        "passes": [
            {"id": p.id, "clip": p.clip_id, "parameters": p.parameters, "made_at": p.made_at, "current": p.current}
            for p in record.passes
        ],
        "measures": [{k: v for k, v in row.items() if k != "session_id"} for row in tidy["measures"]],
        "animals": tidy["animals"],
        "life": tidy["life"],
        "reviewed": [
            {"clip": r.clip_id, "reviewer": r.reviewer, "start": _time(record.clip(r.clip_id), r.start_pts),
             "end": _time(record.clip(r.clip_id), r.end_pts)}
            for r in record.reviewed
        ],
        "cycles": told["cycles"],
        "incidence": told["incidence"],
        "outlook": [{k: v for k, v in row.items() if k != "session_id"} for row in tidy["outlook"]],
        "outcomes": [
            {
                "kind": o.kind, "date": o.date, "counts": dict(o.counts), "note": o.note, "sac": o.sac,
                "temperature_c": o.temperature_c, "humidity_pct": o.humidity_pct, "kept": o.kept,
            }
            for o in record.outcomes
        ],
        "reminders": [{"date": r.date, "text": r.text, "done": r.done, "uid": r.uid} for r in record.reminders],
    }  # fmt: skip


def write_json(record: SessionRecord, path: Path, about: Around = ALONE) -> Path:
    """`session_document` as a file, whole or not at all."""
    document = session_document(record, about)
    text = json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:  # a file name that is no UTF-8
        text = json.dumps(document, ensure_ascii=True, indent=1, allow_nan=False)
    with atomic_file(path, newline="\n") as file:
        file.write(text + "\n")
    return path
