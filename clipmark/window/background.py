"""Long work beside the window: how it reports, how it is stopped, how it ends. Nowhere else do threads meet Qt.

A task has three endings, each its own signal: `finished`, `failed`, `cancelled`. They arrive on the main thread.
Work is a plain function of a Progress; it knows no Qt and is never given the book.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from functools import partial
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal, Slot

from clipmark.errors import ClipmarkError
from clipmark.progress import Cancelled, Progress

Work = Callable[[Progress], Any]

_REPORT_EVERY_S = 0.05
log = logging.getLogger(__name__)


class QtProgress(QObject):
    """A Progress that crosses into the main thread: at most 20 reports a second, and a stop that is asked for."""

    progressed = Signal(int, int)

    def __init__(self, parent: QObject | None = None):
        super().__init__(parent)
        self._stop = threading.Event()
        self._last = 0.0

    def advance(self, done: int, total: int) -> None:
        """Report `done` of `total` steps. Raises Cancelled after `stop`."""
        if self._stop.is_set():
            raise Cancelled
        now = time.monotonic()
        if now - self._last >= _REPORT_EVERY_S or done == total:
            self._last = now
            self.progressed.emit(done, total)

    def stop(self) -> None:
        self._stop.set()

    @property
    def stopping(self) -> bool:
        return self._stop.is_set()


class Task(QObject):
    """One piece of work that runs or has run; lives on the main thread."""

    progressed = Signal(int, int)
    finished = Signal(object)
    failed = Signal(object)
    cancelled = Signal()
    ended = Signal()  # after any of the three

    _outcome = Signal(str, object)  # from the worker's thread

    def __init__(self, title: str, work: Work, parent: QObject | None = None):
        super().__init__(parent)
        self.title = title
        self.running = True
        self.work = work
        self.progress = QtProgress(self)
        self.progress.progressed.connect(self.progressed)
        self._outcome.connect(self._end)

    def stop(self) -> None:
        """Ask for a stop; the task ends with `cancelled` at its next report."""
        self.progress.stop()

    @Slot(str, object)
    def _end(self, ending: str, value: object) -> None:
        self.running = False
        if ending == "finished":
            self.finished.emit(value)
        elif ending == "failed":
            self.failed.emit(value)
        else:
            self.cancelled.emit()
        self.ended.emit()


class _Runnable(QRunnable):
    def __init__(self, task: Task):
        super().__init__()
        self._task = task

    def run(self) -> None:
        task = self._task
        try:
            task.progress.advance(0, 0)
            result = task.work(task.progress)
        except Cancelled:
            task._outcome.emit("cancelled", None)
        except Exception as error:
            if not isinstance(error, ClipmarkError):
                log.exception("%s failed", task.title)
            task._outcome.emit("failed", error)
        else:
            task._outcome.emit("finished", result)


class TaskRunner(QObject):
    """Runs tasks on a few threads and keeps each alive until it has ended on the main thread."""

    started = Signal(object)  # Task

    def __init__(self, parent: QObject | None = None, threads: int = 2):
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(threads)
        self._at_once = QThreadPool(self)  # what a press waits for does not queue behind an hour of sound
        self._at_once.setMaxThreadCount(1)
        self._alive: dict[int, tuple[Task, _Runnable]] = {}
        self._shut = False

    def run(
        self,
        title: str,
        work: Work,
        done: Callable[[Any], None] | None = None,
        failed: Callable[[Any], None] | None = None,
        cancelled: Callable[[], None] | None = None,
        urgent: bool = False,
    ) -> Task:
        """Start `work` (`urgent`: short, and somebody waits for it). The callables are called on the main thread,
        exactly one of them, once."""
        task = Task(title, work, self)
        if done is not None:
            task.finished.connect(done)
        if failed is not None:
            task.failed.connect(failed)
        if cancelled is not None:
            task.cancelled.connect(cancelled)
        runnable = _Runnable(task)
        runnable.setAutoDelete(False)
        self._alive[id(task)] = (task, runnable)
        if self._shut:
            task.stop()  # before it begins: nobody would wait for it
        task.ended.connect(partial(self._forget, id(task)))
        self.started.emit(task)
        (self._at_once if urgent else self._pool).start(runnable)
        return task

    @property
    def tasks(self) -> list[Task]:
        return [task for task, _ in self._alive.values()]

    def shut(self, wait_ms: int = 5000) -> None:
        """Stop everything and wait for it; for the closing window. What is started later ends as cancelled."""
        self._shut = True
        for task, _ in self._alive.values():
            task.stop()
        for pool in (self._pool, self._at_once):
            pool.clear()
        for pool in (self._pool, self._at_once):
            pool.waitForDone(wait_ms)

    def _forget(self, key: int) -> None:
        pair = self._alive.pop(key, None)
        if pair is not None:
            pair[0].deleteLater()
