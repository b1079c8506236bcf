"""The book: the one object through which anything is kept."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType

from clipmark import settings
from clipmark.atomic_files import make_folder
from clipmark.book.errors import (
    LONGEST_NAME,
    BookDamaged,
    BookNameTooLong,
    BookReadOnly,
    NoBook,
    NotABook,
    from_system,
    sentences,
)
from clipmark.book.file.backup import backup, daily
from clipmark.book.file.connect import connect, copy_pages
from clipmark.book.file.schema import STEPS, check_shape, migrate, version_of
from clipmark.book.steps import journal
from clipmark.book.steps.core import WAIT_S
from clipmark.book.steps.passes import Passes
from clipmark.book.steps.session_steps import SessionStep, next_step
from clipmark.errors import ClipmarkError
from clipmark.plain_file import odd


class Book(Passes):
    """An open record book (a context manager). In book/steps: queries in queries.py, changes in edits.py, motion
    passes in passes.py.

    Two windows may have one book open: each write is one short transaction, a second writer waits for the first,
    and `changed` tells that somebody wrote. A lock file would be left behind by a crash and would keep a second
    window from even looking; SQLite's own locks vanish with the process. An edit writes the fields that it changes
    and tells where somebody else changed the same one. Undo takes back the latest step of the book, whichever window
    made it; `undo_step` says whose it is.

    `backup_trouble` is why the day's backup could not be made, empty where all is well.
    """

    backup_trouble: str = ""
    _backups: bool = False
    _backed_up: date | None = None

    @classmethod
    def open(
        cls,
        path: Path | str | None = None,
        *,
        read_only: bool = False,
        wait_s: float = WAIT_S,
        backups: bool = True,
        by: str = "",
    ) -> Book:
        """Open a book; where there is none a new one is made, unless `read_only`.

        Args:
            path: the book file; None for `settings.default_book()`.
            wait_s: how long to wait for another writer.
            backups: the day's backup (book/file/backup.py) on opening and at the first change of another day. One
                that fails stops nothing: `backup_trouble` says why.
            by: who changes things through it, as a name.
        Raises:
            NoBook, NotABook, BookNameTooLong, BookNewer, BookDamaged, BookLocked, BookReadOnly, BookFull,
            BookOutOfReach, MigrationFailed: each a sentence, the file left as it was.
        """
        place = Path(path) if path is not None else settings.default_book()
        book = cls._opened(place, read_only, wait_s)
        book.by = by
        book._backups = backups and not read_only
        book._back_up()
        return book

    @classmethod
    def _opened(cls, path: Path, read_only: bool, wait_s: float) -> Book:
        if odd(path):
            raise NotABook(path, odd(path))
        if read_only and not path.exists():
            raise NoBook(path)
        if not read_only:
            if len(os.fsencode(path.name)) > LONGEST_NAME:
                raise BookNameTooLong(path)
            _make_room_for(path)
        with sentences(path):
            db = connect(path, wait_s, create=not read_only, write=not read_only)
            try:
                version = version_of(db, path)
                if read_only:
                    db = _readable(db, path, version, wait_s)
                else:
                    _writable(db, path, version, wait_s)
            except BaseException:
                db.close()
                raise
        return cls(path, db, read_only)

    def _back_up(self) -> None:
        today = datetime.now(UTC).date()
        if not self._backups or self._backed_up == today:
            return
        self._backed_up = today
        try:
            with sentences(self.path):
                empty = self._db.execute("SELECT 1 FROM step LIMIT 1").fetchone() is None
            if not empty:
                daily(self.path)
            self.backup_trouble = ""
        except ClipmarkError as error:
            self.backup_trouble = str(error)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """As in `Core`; the day's backup is made before."""
        self._back_up()
        with super().transaction():
            yield

    @property
    def undo_step(self) -> journal.Step | None:
        """The step that `undo` would take back, and who made it; `is_mine` tells whether it was made here."""
        with sentences(self.path):
            return journal.next_undo(self._db)

    @property
    def redo_step(self) -> journal.Step | None:
        """The step that `redo` would do again."""
        with sentences(self.path):
            return journal.next_redo(self._db)

    def is_mine(self, step: journal.Step) -> bool:
        """Whether a step was made through this open book, or before it was opened by the one who works here now. A
        step of another window asks for a question before it is taken back."""
        return step.writer == self.key or (step.by == self.by and step.made_at < self.opened_at)

    @property
    def undo_label(self) -> str | None:
        """What `undo` would take back."""
        step = self.undo_step
        return None if step is None else step.label

    @property
    def redo_label(self) -> str | None:
        """What `redo` would do again."""
        step = self.redo_step
        return None if step is None else step.label

    def undo(self, step_id: int | None = None) -> str | None:
        """Take back the latest step; returns its label, None where nothing is left to take back.

        Args:
            step_id: the step that is meant; another one that came meanwhile is left alone.
        Raises:
            StepGone: the latest step is another one. UndoImpossible, and the errors of a book.
        """
        return self._replay(journal.undo, step_id)

    def redo(self, step_id: int | None = None) -> str | None:
        """Do the step again that was taken back last; a new edit forgets it. Arguments and errors as `undo`."""
        return self._replay(journal.redo, step_id)

    def _replay(self, way: Callable[[sqlite3.Connection, int | None], str | None], step_id: int | None) -> str | None:
        try:
            with self.transaction():
                return way(self._db, step_id)
        except (ValueError, TypeError, LookupError, AttributeError, RecursionError, sqlite3.Error) as error:
            raise BookDamaged(self.path, f"what the last step changed cannot be read: {error}") from error

    def next_step(self, session_id: int | None, *, undone: bool = False) -> SessionStep | None:
        """The step of a session (None: of the whole book) that comes next to be taken back, or to be done again."""
        with self._readable_journal():
            return next_step(self._db, session_id, undone)

    def replay_step(self, step: SessionStep, *, backwards: bool) -> str:
        """Take that step back, or do it again; its label.

        Raises:
            StepMoved: somebody else did so meanwhile. UndoImpossible: what it changed was changed since.
        """
        with self._readable_journal(), self.transaction():
            return journal.replay_step(self._db, step.id, step.label, backwards)

    @contextmanager
    def _readable_journal(self) -> Iterator[None]:
        try:
            with sentences(self.path):
                yield
        except (ValueError, TypeError, LookupError, AttributeError, RecursionError, sqlite3.Error) as error:
            raise BookDamaged(self.path, f"what the last step changed cannot be read: {error}") from error

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _make_room_for(path: Path) -> None:
    try:
        make_folder(path.parent)
    except OSError as error:
        raise from_system(error, path) from error


def _readable(db: sqlite3.Connection, path: Path, version: int, wait_s: float) -> sqlite3.Connection:
    """A book that can be read as today's: one of an older version is brought up to date in memory."""
    if version == 0:
        raise NoBook(path)
    if version == len(STEPS):
        check_shape(db, path)
        return db
    memory = sqlite3.connect(":memory:", isolation_level=None)
    memory.row_factory = sqlite3.Row
    copy_pages(db, memory, wait_s, path)
    db.close()
    migrate(memory, path)
    return memory


def _writable(db: sqlite3.Connection, path: Path, version: int, wait_s: float) -> None:
    db.execute("BEGIN IMMEDIATE")  # says at once that the file is locked
    db.execute("ROLLBACK")
    if not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):  # SQLite says so at the first change only
        raise BookReadOnly(path)
    if version == 0:
        migrate(db, path)
    elif version < len(STEPS):
        migrate(db, path, backup(path, "migration", wait_s=wait_s))
    else:
        check_shape(db, path)
