"""Film files that are taken into a session: opened beside the window, one after another, into the session for which
they were chosen, whatever is on view by the time that they are open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import QObject

from clipmark.book.model import ClipRecord, Session
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError

if TYPE_CHECKING:
    from clipmark.book.model import SessionRecord
    from clipmark.media.clip import Clip
    from clipmark.window.background import TaskRunner


class Desk(Protocol):
    """What adding needs of the place that it works for (the workspace)."""

    @property
    def book(self) -> Book:
        """The book on view."""

    @property
    def record(self) -> SessionRecord | None:
        """The session on view; None where there is none."""

    @property
    def tasks(self) -> TaskRunner:
        """What runs work beside the window."""

    def say(self, text: str, kind: str = ...) -> None:
        """Show a sentence at the foot of the window."""

    def say_wrong(self, error: object) -> None:
        """Show what went wrong."""

    def name_for_new(self) -> str:
        """Who reviews a session that is begun now."""

    def take_in(self, book: Path, clip: ClipRecord, film: Clip) -> None:
        """Show a film that was added, where its session is on view."""


class NoFilmFile(ClipmarkError):
    """What was chosen is a folder, a pipe, a device ...; `path` names it."""

    def __init__(self, path: Path):
        what = "is a folder" if path.is_dir() else "is not a file with film in it"
        super().__init__(f"“{path.name}” {what}. Choose the film files themselves.")
        self.path = path


Began = tuple[datetime, str]  # when a film began, and what tells it: "recorded" by the camera, or "saved"


@dataclass(frozen=True, slots=True)
class _Opened:
    film: Clip
    began: Began | None


@dataclass(slots=True)
class Batch:
    """Films that were chosen together. `session_id` is None until their new session is begun."""

    book: Path
    session_id: int | None
    waiting: list[Path]
    offset: Fraction | None = None
    added: int = 0
    refused: list[str] = field(default_factory=list)


class Adding(QObject):
    """Puts films into sessions; the workspace tells the pages."""

    def __init__(self, workspace: Desk, parent: QObject):
        super().__init__(parent)
        self.workspace = workspace
        self.day_not_chosen: set[int] = set()  # new sessions whose day the keeper has not chosen: the film's counts

    def add(self, paths: Sequence[Path], offset: Fraction | None = None) -> None:
        """Add films to the session on view (a new one where there is none), in the given order."""
        record = self.workspace.record
        batch = Batch(self.workspace.book.path, record.session.id if record else None, list(paths), offset)
        self._next(batch)

    def _next(self, batch: Batch) -> None:
        from clipmark.media.clip import open_clip

        if not batch.waiting:
            self._sum_up(batch)
            return
        path = batch.waiting.pop(0)
        if path.exists() and not path.is_file():
            self._refused(batch, NoFilmFile(path))
            return
        self.workspace.tasks.run(
            self.tr("Opening {0}").format(path.name),
            lambda progress: _Opened(film := open_clip(path, progress), _film_began(film)),
            lambda opened: self._opened(batch, opened.film, opened.began),
            lambda error: self._refused(batch, error),
            urgent=True,
        )

    def _opened(self, batch: Batch, film: Clip, began: Began | None) -> None:
        try:
            with self._book(batch.book) as book:
                clip = self._put_in(book, batch, film, began)
        except ClipmarkError as error:
            self._refused(batch, error)
            return
        batch.added += 1
        self.workspace.take_in(batch.book, clip, film)
        self._next(batch)

    def _refused(self, batch: Batch, error: object) -> None:
        self.workspace.say_wrong(error)
        batch.refused.append(str(error))
        self._next(batch)

    def _sum_up(self, batch: Batch) -> None:
        if len(batch.refused) > 1 or (batch.refused and batch.added):
            said = self.tr("{0} of {1} files could not be added: {2}")
            total = batch.added + len(batch.refused)
            self.workspace.say(said.format(len(batch.refused), total, " ".join(batch.refused)), "wrong")

    @contextmanager
    def _book(self, path: Path) -> Iterator[Book]:
        """The book that the films were chosen for: the one on view, or opened for the moment."""
        if self.workspace.book.path == path:
            yield self.workspace.book
            return
        with Book.open(path) as book:
            yield book

    def _put_in(self, book: Book, batch: Batch, film: Clip, began: Began | None) -> ClipRecord:
        from clipmark.book.film.intake import clip_record

        with book.together(self.tr("add the film {0}").format(film.path.name)):
            if batch.session_id is None:
                day, reviewer = _day(began), self.workspace.name_for_new()
                fresh = Session(0, film.path.stem, None, None, day, reviewer=reviewer)
                batch.session_id = book.add_session(fresh).id
            record = book.session(batch.session_id)
            self._date(book, record.session, began, bool(record.clips))
            offset, batch.offset = batch.offset, None
            if not record.clips:
                self._time_of_day(book, batch.session_id, began)
            if offset is None:
                offset = max((c.on_clock(c.end_pts) for c in record.clips), default=Fraction(0))
            return book.add_clip(clip_record(film, batch.session_id, offset))

    def _date(self, book: Book, session: Session, began: Began | None, has_film: bool) -> None:
        """Give a new session the day of its first film, in its title as well where that only named the day."""
        if has_film or (session.date and session.id not in self.day_not_chosen):
            return
        self.day_not_chosen.discard(session.id)
        day = _day(began)
        title = session.title.replace(session.date, day) if session.date else session.title
        if (day, title) != (session.date, session.title):
            book.change_session(replace(session, date=day, title=title))

    def _time_of_day(self, book: Book, session_id: int, began: Began | None) -> None:
        """The time at which a session's first film began, where the camera wrote it on the day of the session."""
        session = book.session(session_id).session
        if began is None or session.time_of_day:
            return
        at, told = began
        if told == "recorded" and session.date == at.date().isoformat():
            book.change_session(replace(session, time_of_day=f"{at:%H:%M}"))


def _day(began: Began | None) -> str:
    """The day on which a film was taken, by this machine's calendar; today where its file does not tell."""
    return (date.today() if began is None else began[0].date()).isoformat()


def _film_began(film: Clip) -> Began | None:
    """When a film began, in this machine's time zone. For a background task."""
    from clipmark.media.filetime import begun

    try:
        told = begun(film.path, film.index.exact_seconds(len(film.index) - 1))
        return told.at.astimezone(), told.told
    except (ClipmarkError, OSError, ValueError, OverflowError):
        return None
