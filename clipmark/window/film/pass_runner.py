"""Motion passes from the window's side: begun in a process each, watched, stopped, and taken into the book when done.

Why a process: on two busy cores 95 of 100 turns of the interface took less than 9 ms beside a pass in a process of
its own, and 50 ms beside one in a thread of the window (tests/benchmarks/feel.py --only p).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import uuid
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

import clipmark
from clipmark.book.model import ClipRecord
from clipmark.errors import ClipmarkError
from clipmark.review.pass_files import Job, folder_of_jobs, read_job, read_progress, read_result, write_job
from clipmark.window.workspace import Workspace

_LOOK_MS = 250


@dataclass(frozen=True, slots=True)
class Running:
    job: Job
    done: int
    total: int


class PassRunner(QObject):
    """Signals:
    changed(): what runs, or how far it is, changed.
    kept(clip_id): a pass of this clip came into the book.
    ended(clip_id): a pass of this clip stopped or failed.
    """

    changed = Signal()
    kept = Signal(int)
    ended = Signal(int)

    def __init__(self, workspace: Workspace, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace = workspace
        self.running: tuple[Running, ...] = ()
        self._children: dict[Path, subprocess.Popen[bytes]] = {}
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self.look)
        self._timer.start()

    def of(self, clip_id: int) -> Running | None:
        """The pass that runs over a clip."""
        return next((r for r in self.running if r.job.clip_id == clip_id), None)

    def begin(self, clip: ClipRecord) -> None:
        """Start a pass over a clip, unless one runs already."""
        record = self.workspace.record
        if record is None or self.of(clip.id) is not None:
            return
        folder = folder_of_jobs() / uuid.uuid4().hex
        book = str(Path(self.workspace.book.path).absolute())
        job = Job(book, record.session.id, clip.id, clip.fingerprint, Path(clip.path).name)
        try:
            folder.mkdir(parents=True)
            write_job(folder, job)
            child = subprocess.Popen(
                [sys.executable, "-m", "clipmark.review.pass_worker", str(folder)],
                stdin=subprocess.DEVNULL,
                env=_environment(),
                start_new_session=True,  # a closed terminal or window does not take it along
            )
            self._children[folder] = child
            write_job(folder, replace(job, pid=child.pid))
        except OSError as error:
            shutil.rmtree(folder, ignore_errors=True)
            said = self.tr("The motion pass could not be started ({0}). Make room on the disk and try again.")
            self.workspace.say(said.format(error.strerror or error), "wrong")
        self.look()

    def stop(self, clip_id: int) -> None:
        """Ask the pass over a clip to stop; nothing of it is kept."""
        for folder, job in self._jobs():
            if job.clip_id == clip_id:
                (folder / "stop").touch()

    def look(self) -> None:
        """See how far the passes are and take in those that are done, whoever began them."""
        found = []
        for folder, job in self._jobs():
            if (folder / "result.npz").exists():
                self._take_in(folder, job)
            elif (folder / "trouble").exists():
                self.workspace.say((folder / "trouble").read_text(encoding="utf-8"), "wrong")
                self._end(folder, job)
            elif not self._alive(folder, job):
                if not (folder / "stop").exists():
                    said = self.tr("The motion pass over {0} ended before its time. Run it again.")
                    self.workspace.say(said.format(job.title), "wrong")
                self._end(folder, job)
            else:
                found.append(Running(job, *read_progress(folder)))
        if tuple(found) != self.running:
            self.running = tuple(found)
            self.changed.emit()

    def shut(self) -> None:
        """The window closes; the passes go on, and the next window takes them in."""
        self._timer.stop()

    def _jobs(self) -> list[tuple[Path, Job]]:
        root = folder_of_jobs()
        if not root.is_dir():
            return []
        book = str(Path(self.workspace.book.path).absolute())
        pairs = ((folder, read_job(folder)) for folder in sorted(root.iterdir()) if folder.suffix == "")
        return [(folder, job) for folder, job in pairs if job is not None and job.book == book]

    def _alive(self, folder: Path, job: Job) -> bool:
        child = self._children.get(folder)
        if child is not None:
            return child.poll() is None
        if job.pid == 0:
            return False
        return _runs(job.pid)

    def _take_in(self, folder: Path, job: Job) -> None:
        mine = folder.with_suffix(".taken")
        try:
            folder.rename(mine)  # of two windows only one succeeds
        except OSError:
            return
        self._reap(folder)
        try:
            result, pts, end_pts = read_result(mine)
            self.workspace.book.add_pass(job.clip_id, result, pts, end_pts)
        except ClipmarkError as error:
            self.workspace.say(str(error), "wrong")
            self.ended.emit(job.clip_id)
        else:
            flags = sum(1 for flag in result.flags if flag.flagged)
            said = self.tr("The motion pass over {0} is done: {1} flags. Call them on the Pulls page.")
            self.workspace.say(said.format(job.title, flags), "done")
            self.workspace.refresh()
            self.kept.emit(job.clip_id)
        finally:
            shutil.rmtree(mine, ignore_errors=True)

    def _end(self, folder: Path, job: Job) -> None:
        self._reap(folder)
        shutil.rmtree(folder, ignore_errors=True)
        self.ended.emit(job.clip_id)

    def _reap(self, folder: Path) -> None:
        child = self._children.pop(folder, None)
        if child is not None:
            child.wait()


def _environment() -> dict[str, str]:
    package = str(Path(clipmark.__file__).parent.parent)
    paths = [package, *filter(None, [os.environ.get("PYTHONPATH")])]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}


def _runs(pid: int) -> bool:
    if sys.platform == "win32":
        listed = subprocess.run(["tasklist", "/FI", f"PID eq {pid}"], capture_output=True, text=True, check=False)
        return str(pid) in listed.stdout
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
