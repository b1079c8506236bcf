"""A finished pass on its way from its folder into the book: kept in the folder until the book has it, then cleared.

Whoever finds it may take it in, a window or a run over many films, also one that was started later.
"""

from __future__ import annotations

import uuid
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.atomic_files import CannotWrite, why
from clipmark.book.errors import BookFull, BookLocked, BookOutOfReach, BookReadOnly
from clipmark.book.model import PassRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.process_lock import hold
from clipmark.review import pass_jobs
from clipmark.review.pass_files import Job, folder_of_jobs, read_result, write_job, write_result

if TYPE_CHECKING:
    from clipmark.book.store import Book
    from clipmark.motion.result import ScanResult

FOR_A_WHILE = (BookLocked, BookFull, BookReadOnly, BookOutOfReach)  # troubles that pass: the result is kept


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a finished pass.

    Attributes:
        over: it is in the book or never will be, and its folder is cleared; else it waits there.
        kept: the pass that came into the book now; None where it was there already, or does not fit.
        result: what was kept.
        trouble: why it is not in the book.
        notes: what the pass has to say to the keeper besides.
        stop_asked: whether a stop had been asked for before it was finished.
    """

    over: bool
    kept: PassRecord | None = None
    result: ScanResult | None = None
    trouble: ClipmarkError | None = None
    notes: str = ""
    stop_asked: bool = False


def leave(job: Job, result: ScanResult) -> Path:
    """Put a finished pass where the next window or run takes it in; its folder.

    Raises:
        OSError: there is no room; nothing is left of it.
    """
    folder = folder_of_jobs() / uuid.uuid4().hex
    try:
        folder.mkdir(parents=True)
        write_result(folder, result)
        write_job(folder, job)  # last: a folder without a job is nobody's
    except OSError:
        pass_jobs.clear(folder)
        raise
    return folder


def take_in(book: Book, folder: Path, job: Job) -> Taken | None:
    """Put the finished pass of a folder into the book and clear the folder; None: another process does it or did."""
    try:
        mine = hold(folder / "taking")
    except FileNotFoundError:
        return None
    except OSError as error:
        return Taken(over=False, trouble=CannotWrite(folder / "taking", why(error)))
    if mine is None:
        return None
    with mine:
        if not (folder / "result.npz").exists():
            return None
        taken = _into_book(book, folder, job)
        if taken.over:
            pass_jobs.clear(folder)
        return taken


def _into_book(book: Book, folder: Path, job: Job) -> Taken:
    try:
        result = read_result(folder)
        with book.together("keep a motion pass"):  # nobody else adds one between our look and our adding
            record = book.session(job.session_id)
            if _is_there(record, job, result, (folder / "started").exists()):
                return Taken(over=True)
            kept = book.add_pass(job.clip_id, result)
        notes = ""
        with suppress(OSError, ValueError):
            notes = (folder / "notes").read_text(encoding="utf-8")
        return Taken(True, kept, result, notes=notes, stop_asked=pass_jobs.stop_asked(folder))
    except FOR_A_WHILE as error:
        return Taken(over=False, trouble=error)
    except ClipmarkError as error:
        return Taken(over=True, trouble=error)


def _is_there(record: SessionRecord, job: Job, result: ScanResult, asked_for: bool) -> bool:
    """Whether the book has this very pass: its speed was measured, so no other one has the same. A pass that nobody
    asked for by hand is not kept beside a current one of the same parameters either."""
    mine = [one for one in record.passes if one.clip_id == job.clip_id and one.parameters == result.parameters]
    return any(one.frames_per_s == float(result.frames_per_s) or (one.current and not asked_for) for one in mine)


def left_over(book: Path) -> list[tuple[Path, Job]]:
    """Finished passes over films of this book that nobody took in yet, oldest first."""
    return [one for one in pass_jobs.jobs_of(book) if pass_jobs.state_of(one[0]) is pass_jobs.State.DONE]
