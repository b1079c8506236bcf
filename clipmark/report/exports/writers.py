"""Everything that one session can be given away as, by name. Each writer returns the files that it wrote.

A writer either writes all that it was asked for or raises a ClipmarkError and leaves nothing of it behind; none
writes anywhere else than at the given path (a session with several films gets numbered files beside it).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.book.model import SessionRecord
from clipmark.progress import SILENT, Progress
from clipmark.reading.advice.loans import LoanEnd

if TYPE_CHECKING:
    from clipmark.report.exports.tables import Around


def to_csv(record: SessionRecord, folder: Path, about: Around | None = None) -> list[Path]:
    """A folder of CSV tables and a Frictionless data package; with `about`, life dates and the outlook are in it."""
    from clipmark.report.exports.csv_folder import write_csv_folder

    return write_csv_folder(record, folder) if about is None else write_csv_folder(record, folder, about)


def to_json(record: SessionRecord, path: Path, about: Around | None = None) -> list[Path]:
    """The session as JSON, exact ticks and readable times; with `about`, its outlook knows the animals' dates."""
    from clipmark.report.exports.session_json import write_json

    return [write_json(record, path) if about is None else write_json(record, path, about)]


def to_vtt(record: SessionRecord, path: Path) -> list[Path]:
    """WebVTT chapters."""
    from clipmark.report.exports.chapters import write_chapters

    return write_chapters(record, path)


def to_captions(record: SessionRecord, path: Path) -> list[Path]:
    """WebVTT captions."""
    from clipmark.report.exports.chapters import write_captions

    return write_captions(record, path)


def to_ffmetadata(record: SessionRecord, path: Path) -> list[Path]:
    """Chapters for ffmpeg."""
    from clipmark.report.exports.chapters import write_ffmetadata

    return write_ffmetadata(record, path)


def to_ics(record: SessionRecord, path: Path, loans: Sequence[LoanEnd] = ()) -> list[Path]:
    """The day of the pairing, the open reminders and the ends of running loans as all-day events."""
    from clipmark.report.exports.calendar_file import write_calendar

    return [write_calendar(record, path, loans)]


def to_clips(
    record: SessionRecord, folder: Path, slow: int = 4, burn_clock: bool = False, progress: Progress = SILENT
) -> list[Path]:
    """A slow-motion MP4 for each flag."""
    from clipmark.report.exports.cuts import write_cuts

    return write_cuts(record, folder, slow, burn_clock, progress)


def to_stills(record: SessionRecord, folder: Path, progress: Progress = SILENT) -> list[Path]:
    """Three PNG stills for each flag."""
    from clipmark.report.exports.cuts import write_stills

    return write_stills(record, folder, progress)


# the exports that need nothing but the record and a place, in the order in which a command does them
PLAIN: dict[str, Callable[[SessionRecord, Path], list[Path]]] = {
    "csv": to_csv,
    "json": to_json,
    "vtt": to_vtt,
    "captions": to_captions,
    "ffmetadata": to_ffmetadata,
    "ics": to_ics,
}
