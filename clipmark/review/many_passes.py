"""One of many motion passes, apart from the book: what has to be known of a clip goes as text, what was found comes
back as arrays and numbers (numpy's own format, without pickle). So nothing that can run travels between machines.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.book.meaning.checks import from_plain
from clipmark.book.model import ClipRecord, Outline, Session, SessionRecord
from clipmark.json_values import to_plain
from clipmark.progress import Progress
from clipmark.review.pass_files import Job, load_result, save_result
from clipmark.review.taking_in import leave

if TYPE_CHECKING:
    from clipmark.motion.result import ScanResult


def piece(book: Path, record: SessionRecord, clip_id: int) -> str:
    """A clip with its outlines as text."""
    clip = record.clip(clip_id)
    job = Job(str(book.absolute()), record.session.id, clip_id, clip.fingerprint, Path(clip.path).name)
    outlines = [to_plain(one) for one in record.outlines if one.clip_id == clip_id]
    told = {"job": asdict(job), "session": to_plain(record.session), "clip": to_plain(clip), "outlines": outlines}
    return json.dumps(told)


def computed(text: str, progress: Progress) -> bytes:
    """The pass over the clip of a piece; runs in a process of its own or on another machine, without the book.

    Raises:
        ClipmarkError: the film or its outlines do not allow it. Cancelled through `progress`.
    """
    made = BytesIO()
    save_result(made, _run(json.loads(text), progress))
    return made.getvalue()


def computed_and_left(text: str, progress: Progress) -> bytes | str:
    """As `computed`, left as a file for whoever takes it into the book; its folder. The pass itself where the disk
    has no room for it."""
    told = json.loads(text)
    found = _run(told, progress)
    try:
        return str(leave(Job(**told["job"]), found))
    except OSError:
        made = BytesIO()
        save_result(made, found)
        return made.getvalue()


def found_in(data: bytes) -> ScanResult:
    """What `computed` gave.

    Raises:
        ValueError, KeyError, TypeError, OSError: it is something else.
    """
    return load_result(BytesIO(data))


def _run(told: dict[str, Any], progress: Progress) -> ScanResult:
    from clipmark.book.film.intake import run_pass
    from clipmark.media.clip import open_clip

    kept = from_plain(ClipRecord, told["clip"], "clip")
    outlines = tuple(from_plain(Outline, one, "outline") for one in told["outlines"])
    empty: dict[str, Any] = dict.fromkeys(
        ("shots", "acts", "marks", "passes", "flags", "older_flags", "spans", "calls", "outcomes", "reminders"), ()
    )
    session = from_plain(Session, told["session"], "session")
    record = SessionRecord(session, None, None, clips=(kept,), outlines=outlines, **empty)
    clip = open_clip(Path(kept.path))
    return run_pass(clip, record, kept, progress, threads=1)
