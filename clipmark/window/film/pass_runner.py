"""Motion passes from the window's side: begun in a process each, watched, stopped, and taken into the book when done.

Why a process: on two busy cores 95 of 100 turns of the interface took less than 9 ms beside a pass in a process of
its own, and 50 ms beside one in a thread of the window (tests/benchmarks/feel.py --only p).
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from clipmark.book.model import ClipRecord
from clipmark.children import Child, begin_module
from clipmark.review import pass_jobs
from clipmark.review.pass_files import Job, read_progress
from clipmark.review.pass_jobs import State
from clipmark.review.pass_words import Running
from clipmark.review.taking_in import take_in
from clipmark.window.workspace import Workspace

_LOOK_MS = 250
_STOPPING_MS = 40
_AGAIN_S = 5.0  # a result that the book could not take is offered again after so long


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
        self._children: dict[Path, Child] = {}
        self._told_full: set[Path] = set()  # passes that wait for room on the disk
        self._later: dict[Path, float] = {}  # results that the book could not take, and when to offer them again
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_MS)
        self._timer.timeout.connect(self.look)
        self._timer.start()
        pass_jobs.sweep()

    def of(self, clip_id: int) -> Running | None:
        """The pass that waits or runs over a clip."""
        return next((r for r in self.running if r.job.clip_id == clip_id), None)

    def begin(self, clip: ClipRecord) -> None:
        """Start a pass over a clip, unless one runs already."""
        self.begin_all((clip,))

    def begin_shot(self, clip: ClipRecord, start_pts: int, end_pts: int) -> None:
        """Repeat the pass for ticks [start_pts, end_pts) of a clip alone; the rest of its pass stays as it is."""
        self._begin((clip,), start_pts, end_pts)

    def begin_all(self, clips: Iterable[ClipRecord]) -> None:
        """Put a pass over each of these clips into the queue; as many run at once as the machine bears."""
        self._begin(clips)

    def _begin(self, clips: Iterable[ClipRecord], start_pts: int = 0, end_pts: int = 0) -> None:
        record = self.workspace.record
        if record is None:
            return
        book = str(Path(self.workspace.book.path).absolute())
        for clip in clips:
            if self.of(clip.id) is not None:
                continue
            try:
                title = Path(clip.path).name
                job = Job(book, record.session.id, clip.id, clip.fingerprint, title, 0, start_pts, end_pts)
                pass_jobs.new_job(job)
            except OSError as error:
                self._say_not_started(error)
                break
        self.look()

    def stop(self, clip_id: int) -> None:
        """Stop the pass over a clip at once; nothing of it is kept unless it was finished already."""
        for folder, job in self._jobs():
            if job.clip_id == clip_id:
                self._stop(folder)
        self.look()

    def stop_all(self) -> None:
        """Stop what runs and waits, of all clips of this book."""
        for folder, _ in self._jobs():
            self._stop(folder)
        self.look()

    def _stop(self, folder: Path) -> None:
        pass_jobs.ask_stop(folder)
        child = self._children.get(folder)
        if child is not None:
            with suppress(OSError):
                child.terminate()
        QTimer.singleShot(_STOPPING_MS, self, self.look)

    def look(self) -> None:
        """See how far the passes are, start what waits, and take in those that are done, whoever began them."""
        found, waiting, stopping = [], [], False
        for folder, job in self._jobs():
            state = pass_jobs.state_of(folder)
            child = self._children.get(folder)
            if state is State.RUNNING and child is not None and child.poll() is not None:
                state = pass_jobs.state_of(folder)  # it may have ended well between the two looks
                state = State.BROKEN_OFF if state is State.RUNNING else state
            if state is State.DONE:
                self._take_in(folder, job)
            elif state is State.FAILED:
                self._fail(folder, job)
            elif state is State.BROKEN_OFF or (state is State.WAITING and pass_jobs.stop_asked(folder)):
                self._break_off(folder, job)
            else:
                waits = state is State.WAITING
                waiting += [(folder, job)] if waits else []
                stopping |= pass_jobs.stop_asked(folder)
                self._say_full(folder, job)
                found.append((folder, job))
        self._start(waiting, len(found) - len(waiting))
        if stopping:
            QTimer.singleShot(_STOPPING_MS, self, self.look)
        running = tuple(self._how_far(folder, job) for folder, job in found if folder.exists())
        if running != self.running:
            self.running = running
            self.changed.emit()

    def shut(self) -> None:
        """The window closes; the passes go on, and the next window takes them in."""
        self._timer.stop()

    # --- starting

    def _start(self, waiting: list[tuple[Path, Job]], busy: int) -> None:
        """Start the oldest of what waits, as long as there is a processor for it."""
        for folder, job in waiting[: max(at_once() - busy, 0)]:
            if not pass_jobs.claim(folder):
                continue
            try:
                self._children[folder] = start_child(folder)
            except OSError as error:
                self._say_not_started(error)
                self._end(folder, job)

    def _say_not_started(self, error: OSError) -> None:
        said = self.tr("The motion pass could not be started ({0}). Make room on the disk and try again.")
        self.workspace.say(said.format(error.strerror or error), "wrong")

    def _say_full(self, folder: Path, job: Job) -> None:
        if folder in self._told_full or not pass_jobs.waits_for_room(folder):
            return
        self._told_full.add(folder)
        said = self.tr("The motion pass over {0} is finished, but the disk is full. Make room, and it is kept.")
        self.workspace.say(said.format(job.title), "wrong")

    # --- looking

    def _jobs(self) -> list[tuple[Path, Job]]:
        return pass_jobs.jobs_of(Path(self.workspace.book.path))

    def _how_far(self, folder: Path, job: Job) -> Running:
        done, total = read_progress(folder)
        started = pass_jobs.started_at(folder) if not (folder / "waiting").exists() else None
        return Running(job, done, total, None if started is None else max(time.time() - started, 0.0))

    # --- endings

    def _take_in(self, folder: Path, job: Job) -> None:
        if time.monotonic() < self._later.get(folder, 0.0):
            return
        taken = take_in(self.workspace.book, folder, job)
        if taken is None:
            return  # another window does it
        if not taken.over:
            if folder not in self._later:
                said = self.tr("The motion pass over {0} is finished and waits for the book: {1} It is tried again.")
                self.workspace.say(said.format(job.title, taken.trouble), "wrong")
            self._later[folder] = time.monotonic() + _AGAIN_S
            return
        self._later.pop(folder, None)
        self._reap(folder)
        if taken.trouble is not None:
            self.workspace.say(str(taken.trouble), "wrong")
            self.ended.emit(job.clip_id)
        elif taken.result is not None:
            self._say_done(job, sum(1 for flag in taken.result.flags if flag.flagged), taken.stop_asked)
            if taken.notes:  # after it: what is said last stays on view
                self.workspace.say(taken.notes, "note")
            self.workspace.refresh()
            self.kept.emit(job.clip_id)

    def _say_done(self, job: Job, flags: int, stop_asked: bool) -> None:
        if stop_asked:
            said = self.tr("The motion pass over {0} was done before it could be stopped; its {1} flags are kept.")
        else:
            said = self.tr("The motion pass over {0} is done: {1} flags. Call them on the Pulls page.")
        self.workspace.say(said.format(job.title, flags), "done")

    def _fail(self, folder: Path, job: Job) -> None:
        with suppress(OSError, ValueError):
            self.workspace.say((folder / "trouble").read_text(encoding="utf-8"), "wrong")
        self._end(folder, job)

    def _break_off(self, folder: Path, job: Job) -> None:
        if not pass_jobs.stop_asked(folder):
            said = self.tr("The motion pass over {0} ended before its time. Run it again.")
            self.workspace.say(said.format(job.title), "wrong")
        self._end(folder, job)

    def _end(self, folder: Path, job: Job) -> None:
        self._reap(folder)
        pass_jobs.clear(folder)
        self.ended.emit(job.clip_id)

    def _reap(self, folder: Path) -> None:
        child = self._children.pop(folder, None)
        if child is not None:
            child.wait()


def at_once() -> int:
    """How many passes run beside the window: half of the processors, at least one."""
    return max((os.cpu_count() or 1) // 2, 1)


def start_child(folder: Path) -> Child:
    """The process that computes the pass of a folder. It looks for modules beside clipmark's own alone, never in the
    working folder, and outlives a closed terminal or window.

    Raises:
        OSError: it cannot be started.
    """
    return begin_module("clipmark.review.pass_worker", str(folder.absolute()), apart=True)
