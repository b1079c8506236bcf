"""The process that computes one motion pass: `python -m clipmark.review.pass_worker FOLDER` (see pass_files).

A process and not a thread, so that the window never waits for it, and so that it may outlive the window.
It reads the book and never writes it.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.atomic_files import DISK_FULL, why
from clipmark.errors import ClipmarkError
from clipmark.log import begin_log, log_file
from clipmark.process_lock import hold
from clipmark.progress import Cancelled
from clipmark.review.pass_files import read_job, write_result, write_whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from clipmark.book.model import SessionRecord
    from clipmark.media.clip import Clip
    from clipmark.motion.film import Film
    from clipmark.motion.result import Box, ScanResult, Sensitivity, UsedOutline
    from clipmark.review.pass_files import Job


STOPPED = 130
log = logging.getLogger(__name__)
_LOOK_S = 0.05
HOLD_S = 3.0
PATIENCE_S, AGAIN_S = 3_600.0, 2.0  # how long a finished pass waits for room on a full disk, and how often it looks
_MOST_VIEWS = 3  # more would not be read in a note


class FolderProgress:
    """A Progress that writes a file, at most five times a second."""

    def __init__(self, folder: Path):
        self._folder, self._last = folder, 0.0

    def advance(self, done: int, total: int) -> None:
        """Write how far the pass is, in frames, at most five times a second."""
        now = time.monotonic()
        if now - self._last < 0.2 and done != total:
            return
        self._last = now
        with suppress(OSError):  # a full disk for a moment must not end the pass
            write_whole(self._folder / "progress", f"{done} {total}")


def compute(folder: Path) -> None:
    """Run the pass that the folder's job asks for and leave its result there."""
    from clipmark.book.film.intake import run_pass
    from clipmark.book.film.kept_pass import current_pass, kept_pass
    from clipmark.book.store import Book
    from clipmark.media.clip import open_clip
    from clipmark.motion.parameters import load
    from clipmark.report.films.seeing import Seeing, keep_seen

    job = read_job(folder)
    if job is None:
        return
    with Book.open(Path(job.book), read_only=True) as book:
        record = book.session(job.session_id)
        made = current_pass(record, job.clip_id)
        trace = book.trace_of(made.id) if made is not None and job.of_one_shot else None
    clip_record = record.clip(job.clip_id)
    clip = open_clip(Path(clip_record.path))
    older = kept_pass(record, clip_record, trace, clip.index) if trace is not None else None
    if older is not None and older.parameters == load().version:
        return _one_shot(folder, job, record, clip, older)
    looking: list[Seeing] = []

    def along(film: Film, boxes: list[Box]) -> Seeing:
        looking.append(Seeing(film, boxes))
        return looking[0]

    said: list[str] = []
    result = run_pass(clip, record, clip_record, FolderProgress(folder), along=along, say=said.append)
    keep_seen(clip_record.fingerprint, looking[0].bouts(result.shots))
    _note(folder, clip, said, result.outlines, result.sensitivity)
    hand_over(folder, result)


def _one_shot(folder: Path, job: Job, record: SessionRecord, clip: Clip, older: ScanResult) -> None:
    """The pass over one shot alone, in the place of what the former pass says of it."""
    from clipmark.book.film.intake import run_pass
    from clipmark.motion.part_of_film import joined

    index = clip.index
    start = index.at_or_before(job.from_pts)
    stop = len(index) if job.to_pts >= index.end_pts else index.at_or_before(job.to_pts)
    said: list[str] = []
    kept = record.clip(job.clip_id)
    part = run_pass(clip, record, kept, FolderProgress(folder), say=said.append, span=(start, stop))
    whole = joined(older, part, start, stop)
    fresh = [one for one in whole.outlines if start <= one.frame < stop]
    _note(folder, clip, said, fresh, [one for one in whole.sensitivity if start <= one.start < stop])
    hand_over(folder, whole)


def _note(
    folder: Path, clip: Clip, said: Sequence[str], outlines: Sequence[UsedOutline], views: Sequence[Sensitivity]
) -> None:
    """Leave what the keeper is to be told once the pass is in the book: of new outlines and new views."""
    from clipmark.motion.views_told import found_told, smallest_told

    seconds = clip.index.seconds().tolist()
    told = [*said, *found_told(outlines, seconds), *smallest_told(views, seconds)[:_MOST_VIEWS]]
    if told:
        write_whole(folder / "notes", "\n".join(told))


def hand_over(folder: Path, result: ScanResult) -> None:
    """Leave the result in the folder; on a full disk wait for room, since minutes of work hang on it.

    Raises:
        OSError: it cannot be written, or there was no room for PATIENCE_S seconds.
    """
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            return write_result(folder, result)
        except OSError as error:
            if why(error) != DISK_FULL or time.monotonic() > until:
                raise
            with suppress(OSError):
                (folder / "full").touch()
            time.sleep(AGAIN_S)


def stop_when_asked(folder: Path) -> None:
    """End this process as soon as a stop is asked for or the job is taken away, whatever is being computed.

    It writes nothing but files of this job that count only when they are whole, so it may end anywhere."""

    def watch() -> None:
        while folder.exists() and not (folder / "stop").exists():
            time.sleep(_LOOK_S)
        os._exit(STOPPED)

    threading.Thread(target=watch, name="stop", daemon=True).start()


def main(folder: Path) -> int:
    """Compute the pass of a folder, unless another process does: the process's exit code."""
    try:
        held = hold(folder / "running", patience_s=HOLD_S)  # a window that looks at the lock has it for a moment
    except OSError:
        return STOPPED  # the job was taken away meanwhile
    if held is None:
        return 0  # another process computes it
    with held:
        return _run(folder)


def _run(folder: Path) -> int:
    stop_when_asked(folder)
    if hasattr(os, "nice"):
        os.nice(5)  # the keeper's hands come first
    try:
        compute(folder)
    except Cancelled:
        return STOPPED
    except ClipmarkError as error:
        return _tell(folder, str(error))
    except OSError as error:
        why = f"The motion pass could not be handed over ({error.strerror or error})."
        return _tell(folder, f"{why} Make room on the disk with “{folder.parent}” and run it again.")
    except Exception as error:
        begin_log()
        log.exception("the motion pass of %s", folder)
        why = f"The motion pass broke off by a fault in clipmark ({error or type(error).__name__})."
        return _tell(folder, f"{why} More is in the log, “{log_file()}”.")
    return 0


def _tell(folder: Path, why: str) -> int:
    with suppress(OSError):  # the window then says that the pass ended before its time
        write_whole(folder / "trouble", why)
    return 1


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
