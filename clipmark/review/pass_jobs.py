"""Motion passes as folders of jobs: which wait, run, are done or broke off. Read by every window that is open.

A job's folder decides everything: who unlinks `waiting` starts it, the process that computes holds the lock of
`running`, who holds the lock of `taking` puts the result into the book. No Qt.
"""

from __future__ import annotations

import shutil
import time
import uuid
from contextlib import suppress
from enum import Enum
from pathlib import Path

from clipmark.process_lock import is_held
from clipmark.review.pass_files import Job, folder_of_jobs, read_job, write_job

KEPT_DAYS = 60  # a book on a disk that is away may come back
LOCKING_S = 4.0  # seconds between making the file and holding its lock, at most
STARTING_S = 60.0  # so long a started process may take until it holds its lock, on a busy machine


class State(Enum):
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    BROKEN_OFF = "broken off"


def new_job(job: Job) -> Path:
    """A folder with a waiting job; returns the folder.

    Raises:
        OSError: it cannot be written; nothing is left of it.
    """
    folder = folder_of_jobs() / uuid.uuid4().hex
    try:
        folder.mkdir(parents=True)
        (folder / "waiting").touch()
        write_job(folder, job)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return folder


def claim(folder: Path) -> bool:
    """Take a waiting job to start it; of several windows only one gets True."""
    try:
        (folder / "started").touch()  # its time tells when the computing began
        (folder / "waiting").unlink()
    except OSError:
        return False
    return True


def jobs_of(book: Path) -> list[tuple[Path, Job]]:
    """The jobs of one book, oldest first."""
    wanted = str(book.absolute())
    found = []
    for folder in _folders():
        job = read_job(folder)
        if job is not None and job.book == wanted:
            found.append((_age_key(folder), folder, job))
    return [(folder, job) for _, folder, job in sorted(found, key=lambda one: (one[0], one[1].name))]


def _folders() -> list[Path]:
    root = folder_of_jobs()
    with suppress(OSError):
        return [folder for folder in root.iterdir() if folder.is_dir()]
    return []


def _age_key(folder: Path) -> float:
    with suppress(OSError):
        return (folder / "job.json").stat().st_mtime
    return 0.0


def state_of(folder: Path) -> State:
    """What has become of a job."""
    if (folder / "result.npz").exists():
        return State.DONE
    if (folder / "trouble").exists():
        return State.FAILED
    if (folder / "waiting").exists():
        return State.WAITING
    if is_held(folder / "running"):
        return State.RUNNING
    if _just_made(folder / "running") and not stop_asked(folder):
        return State.RUNNING  # its process is about to take the lock
    if (folder / "running").exists():
        # the lock is let go of after the result was written: look once more
        return State.DONE if (folder / "result.npz").exists() else _failed_or_broken(folder)
    started = started_at(folder)
    young = started is not None and 0 <= time.time() - started < STARTING_S
    return State.RUNNING if young else State.BROKEN_OFF


def _just_made(path: Path) -> bool:
    try:
        return 0 <= time.time() - path.stat().st_mtime < LOCKING_S
    except OSError:
        return False


def _failed_or_broken(folder: Path) -> State:
    return State.FAILED if (folder / "trouble").exists() else State.BROKEN_OFF


def started_at(folder: Path) -> float | None:
    """When its computing began, seconds since 1970; None: not yet."""
    try:
        return (folder / "started").stat().st_mtime
    except OSError:
        return None


def ask_stop(folder: Path) -> None:
    """Ask the process of a job to stop; it does within a tenth of a second, whatever it computes."""
    with suppress(OSError):
        (folder / "stop").touch()


def stop_asked(folder: Path) -> bool:
    """Whether the pass of a folder was asked to stop."""
    return (folder / "stop").exists()


def waits_for_room(folder: Path) -> bool:
    """Whether a pass is finished and its process waits until the disk has room for it."""
    return (folder / "full").exists()


def clear(folder: Path) -> None:
    """Take a job away, with its result."""
    shutil.rmtree(folder, ignore_errors=True)


def sweep() -> None:
    """Clear what no window will ever ask for: folders of unreadable jobs, jobs of books that are long gone."""
    for folder in _folders():
        job, days = read_job(folder), (time.time() - folder.stat().st_mtime) / 86_400 if folder.exists() else 0.0
        gone = days > KEPT_DAYS and job is not None and not Path(job.book).exists()
        if (job is None and days > 1) or gone:
            clear(folder)
