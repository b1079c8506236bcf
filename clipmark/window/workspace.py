"""The session on view and everything that is done to it. Pages read the workspace, and edit through it alone.

`record` is a frozen snapshot of the session; after each edit there is a new one and `recordChanged` is sent.
The place is a Fraction on the session clock; frames and ticks follow from it through each clip's index.
All on the main thread. What another window (or the command line) wrote is picked up within a second.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from clipmark import settings as declared
from clipmark.book.errors import NoSuchThing
from clipmark.book.meaning.calls import calls_by
from clipmark.book.model import Call, ClipRecord, FlagRecord, Mark, Outline, PassRecord, Session, SessionRecord
from clipmark.book.store import Book
from clipmark.errors import ClipmarkError
from clipmark.log import log_file
from clipmark.media.frames.cache import FrameCache
from clipmark.motion.result import Trace
from clipmark.settings import Settings
from clipmark.window.adding import Adding
from clipmark.window.background import TaskRunner

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.picture import Picture

P = ParamSpec("P")
T = TypeVar("T")

_WATCH_MS = 1000
_KEPT_REVIEWERS = 500  # sessions whose reviewer is remembered beside the book


class Workspace(QObject):
    """The book, the session on view, the place in it, what is selected, who reviews.

    Signals:
        sessionChanged: another session (or none) is on view; `recordChanged` follows.
        recordChanged: `record` is a new snapshot.
        placeChanged: `place` or `clip_id` moved.
        selectionChanged: `flag_id` or `mark_id` changed.
        reviewerChanged: `reviewer` changed. mirrorChanged: `mirrored` changed.
        clipReady: the film of this clip id is open (`film(id)` gives it); clipLost: it could not be opened.
        message: text for the message line, and its kind: "note", "done" or "wrong".
        pageWanted: a page asks for another page to be shown (one of PAGES).
    """

    sessionChanged = Signal()
    recordChanged = Signal()
    placeChanged = Signal()
    selectionChanged = Signal()
    reviewerChanged = Signal()
    mirrorChanged = Signal()
    clipReady = Signal(int)
    clipLost = Signal(int, str)
    message = Signal(str, str)
    pageWanted = Signal(str)

    def __init__(self, book: Book, settings: Settings, parent: QObject | None = None):
        super().__init__(parent)
        self.book = book
        self.settings = settings
        self.tasks = TaskRunner(self)
        self.record: SessionRecord | None = None
        self.place = Fraction(0)
        self.clip_id: int | None = None
        self.flag_id: int | None = None
        self.mark_id: int | None = None
        self.mirrored = False
        self.cache: FrameCache[Picture] = FrameCache(settings.get(declared.CACHE_MIB) << 20)
        self._films: dict[int, Clip] = {}
        self._opening: set[int] = set()
        self._lost: dict[int, str] = {}
        self._traces: dict[int, Trace] = {}
        self._shown = 0  # how often another session was put on view
        self.adding = Adding(self, self)
        self.confirm: Callable[[str], bool] = lambda _: True  # asks the keeper; the window puts a question there
        self.leave_sample: Callable[[], None] = lambda: None  # what is begun while the sample is on view leaves it
        self._seen: int | None = book.changed()
        self._unsettled = QTimer(self)
        self._unsettled.setSingleShot(True)
        self._unsettled.timeout.connect(self.refresh)
        self._watch = QTimer(self)
        self._watch.setInterval(_WATCH_MS)
        self._watch.timeout.connect(self.look_again)
        self._watch.start()

    def set_mirrored(self, mirrored: bool) -> None:
        """Swap left and right wherever film is shown, or no longer."""
        if mirrored != self.mirrored:
            self.mirrored = mirrored
            self.mirrorChanged.emit()

    # --- the session on view

    def show_session(self, session_id: int | None, opened: dict[int, Clip] | None = None) -> None:
        """Put a session on view (None: none) and begin to open its film, apart from clips that are `opened`."""
        record = None if session_id is None else self.guard(self.book.session, session_id)
        self._shown += 1
        self.record = record
        named = self.settings.get(declared.REVIEWER)
        if record is not None and named and self._session_key() not in self.settings.get(declared.REVIEWERS):
            self._keep_reviewer(named)
        if record is not None:
            last = self.settings.get(declared.LAST_SESSION)
            if last.get(book := str(self.book.path.absolute())) != record.session.id:
                self.choose(declared.LAST_SESSION, {**last, book: record.session.id})
        self._films, self._opening, self._lost, self._traces = dict(opened or {}), set(), {}, {}
        self.flag_id = self.mark_id = None
        self.clip_id = record.clips[0].id if record and record.clips else None
        self.place = record.clips[0].offset if record and record.clips else Fraction(0)
        self._seen = self.guard(self.book.changed)
        self.sessionChanged.emit()
        self.recordChanged.emit()
        self.selectionChanged.emit()
        self.placeChanged.emit()
        self._open_films()

    def refresh(self) -> None:
        """Read the session anew after a write; drops selections whose thing is gone."""
        self._unsettled.stop()
        if self.record is None:
            self._seen = self.guard(self.book.changed)
            self.recordChanged.emit()
            return
        try:
            self._seen = self.book.changed()
            record = self.book.session(self.record.session.id)
        except NoSuchThing as error:
            self.say(str(error), "wrong")
            self.show_session(None)
            return
        except ClipmarkError as error:
            self._seen = None  # the book could not be read just now: what is shown stays, and is read again soon
            self.say(str(error), "wrong")
            return
        self.record = record
        if self.clip_id not in {c.id for c in record.clips}:
            self.clip_id = record.clips[0].id if record.clips else None
        if self.flag is None:
            self.flag_id = None
        if self.mark is None:
            self.mark_id = None
        self.recordChanged.emit()
        self.selectionChanged.emit()
        self._open_films()

    def look_again(self) -> None:
        """Refresh if anybody wrote to the book meanwhile."""
        now = self._changed_quietly()
        if now is not None and now != self._seen:
            self.refresh()

    def _changed_quietly(self) -> int | None:
        try:
            return self.book.changed()
        except ClipmarkError:
            return None  # locked for a moment; asked again in a second

    def change_book(self, book: Book, session_id: int | None = None) -> None:
        """Work on another book from now on; the one before is closed."""
        self.show_session(None)
        self.book.close()
        self.book = book
        self.show_session(session_id)

    # --- edits

    def guard(self, call: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
        """The call's result; None after an expected failure, whose sentence goes to the message line."""
        try:
            return call(*args, **kwargs)
        except ClipmarkError as error:
            self.say(str(error), "wrong")
            return None

    def guard_done(self, call: Callable[P, object], *args: P.args, **kwargs: P.kwargs) -> bool:
        """Whether a call that gives no result succeeded; why it failed goes to the message line."""
        try:
            call(*args, **kwargs)
        except ClipmarkError as error:
            self.say(str(error), "wrong")
            return False
        return True

    def last_session(self) -> int | None:
        """The session of this book that was on view last, where it is still there."""
        number = self.settings.get(declared.LAST_SESSION).get(str(self.book.path.absolute()))
        rows = self.guard(self.book.sessions) or ()
        return number if any(row.id == number for row in rows) else (rows[0].id if rows else None)

    def edit(self, write: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
        """One write to the book, such as `edit(book.add_call, call)`, then a new snapshot.

        None: it failed, and the reason was said on the message line."""
        result = self.guard(write, *args, **kwargs)
        self.refresh()
        return result

    def edit_soon(self, write: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
        """As `edit`, but the new snapshot comes with the next turn of the event loop (or with `settle`): for what is
        pressed in quick succession, in sessions of thousands of marks."""
        result = self.guard(write, *args, **kwargs)
        self._unsettled.start()
        return result

    def settle(self) -> None:
        """Take the snapshot that an `edit_soon` left for later, if one did."""
        if self._unsettled.isActive():
            self.refresh()

    def undo(self) -> None:
        """Take back what was done last in the session on view (without one: in the book), and name it."""
        step = self.guard(self.book.next_step, self._session_id())
        if step is not None and step.keeps_pass:
            asked = self.tr("Take back the motion pass? Its flags and their calls go with it. Redo brings them back.")
            if not self.confirm(asked):
                return
        elif step is not None and not self.book.is_mine(step.step):
            asked = self.tr("“{0}” was done in another window ({1}). Take it back all the same?")
            if not self.confirm(asked.format(step.label, step.step.by or self.tr("nobody is named"))):
                return
        done = None if step is None else self.guard(self.book.replay_step, step, backwards=True)
        self._stepped(done, self.tr("Undone: {0}"), self.tr("There is nothing to undo."), step is None)

    def redo(self) -> None:
        """Do again what was undone last in the session on view, and name it."""
        step = self.guard(self.book.next_step, self._session_id(), undone=True)
        done = None if step is None else self.guard(self.book.replay_step, step, backwards=False)
        self._stepped(done, self.tr("Redone: {0}"), self.tr("There is nothing to redo."), step is None)

    def undo_labels(self) -> tuple[str, str]:
        """What undo would take back and redo would do again, for the menu; empty for nothing."""
        steps = [self.guard(self.book.next_step, self._session_id(), undone=undone) for undone in (False, True)]
        undo, redo = (step.label if step is not None else "" for step in steps)
        return undo, redo

    def _session_id(self) -> int | None:
        return self.record.session.id if self.record is not None else None

    def _stepped(self, label: str | None, said: str, nothing: str, empty: bool) -> None:
        self.refresh()
        if label is not None:
            self.say(said.format(label), "done")
        elif empty:
            self.say(nothing, "note")

    def say(self, text: str, kind: str = "note") -> None:
        self.message.emit(text, kind)

    def choose(self, setting: declared.Setting, value: object) -> None:
        """Keep a choice of the keeper; where it cannot be written, it holds until the window closes."""
        self.guard(self.settings.put, setting, value)

    # --- place and selection

    def go(self, place: Fraction, clip_id: int | None = None) -> None:
        """Move to a place on the session clock; `clip_id` also makes that clip the current one."""
        self.place = place
        if clip_id is not None:
            self.clip_id = clip_id
        self.placeChanged.emit()

    def go_pts(self, clip_id: int, pts: int) -> None:
        """Move to a tick of a clip."""
        if self.record is not None:
            self.go(self.record.clip(clip_id).on_clock(pts), clip_id)

    def select_flag(self, flag_id: int | None, go: bool = True) -> None:
        self.flag_id, self.mark_id = flag_id, None
        flag = self.flag
        if go and flag is not None:
            self.go_pts(flag.clip_id, flag.onset_pts)
        self.selectionChanged.emit()

    def select_mark(self, mark_id: int | None, go: bool = True) -> None:
        self.mark_id, self.flag_id = mark_id, None
        mark = self.mark
        if go and mark is not None:
            self.go_pts(mark.clip_id, mark.start_pts)
        self.selectionChanged.emit()

    @property
    def clip(self) -> ClipRecord | None:
        """The current clip's record."""
        return self._by_id(self.record.clips if self.record else (), self.clip_id)

    @property
    def flag(self) -> FlagRecord | None:
        return self._by_id(self.record.flags if self.record else (), self.flag_id)

    @property
    def mark(self) -> Mark | None:
        return self._by_id(self.record.marks if self.record else (), self.mark_id)

    @staticmethod
    def _by_id(values: tuple[T, ...], wanted: int | None) -> T | None:
        return next((v for v in values if getattr(v, "id", None) == wanted), None) if wanted is not None else None

    def show_page(self, name: str) -> None:
        self.pageWanted.emit(name)

    # --- reading what belongs to things

    def flag_place(self, flag: FlagRecord) -> Fraction:
        """Onset on the session clock."""
        assert self.record is not None
        return self.record.clip(flag.clip_id).on_clock(flag.onset_pts)

    def call_of(self, flag_id: int, reviewer: str | None = None) -> Call | None:
        """The latest call on a flag by a reviewer (default: the present one)."""
        who = self.reviewer if reviewer is None else reviewer
        calls = self.record.calls if self.record else ()
        return calls_by((c for c in calls if c.flag_id == flag_id), who).get(flag_id)

    def pass_of(self, clip_id: int) -> PassRecord | None:
        """The current motion pass of a clip."""
        passes = self.record.passes if self.record else ()
        return next((p for p in passes if p.clip_id == clip_id and p.current), None)

    def trace(self, clip_id: int) -> Trace | None:
        """The abdomen trace of a clip's current pass, one value a frame; None where no pass was run."""
        current = self.pass_of(clip_id)
        if current is None:
            return None
        if current.id not in self._traces:
            trace = self.guard(self.book.trace_of, current.id)
            if trace is None:
                return None
            self._traces[current.id] = trace
        return self._traces[current.id]

    def outlines_of(self, clip_id: int) -> tuple[Outline, ...]:
        return tuple(o for o in (self.record.outlines if self.record else ()) if o.clip_id == clip_id)

    # --- who reviews

    @property
    def reviewer(self) -> str:
        """Whose marks and calls are made now. Kept for each session on this machine, so that a name that is given in
        one session changes nothing in another; a session seen for the first time takes the name given last."""
        named = self.settings.get(declared.REVIEWERS).get(self._session_key(), "")
        written = self.record.session.reviewer if self.record else ""
        return str(named or self.settings.get(declared.REVIEWER) or written or self.tr("keeper"))

    def _keep_reviewer(self, name: str) -> None:
        kept = {k: v for k, v in self.settings.get(declared.REVIEWERS).items() if k != self._session_key()}
        kept = dict(list(kept.items())[-(_KEPT_REVIEWERS - 1) :])
        self.choose(declared.REVIEWERS, {**kept, self._session_key(): name})

    def _session_key(self) -> str:
        return f"{self.book.path.absolute()} {self.record.session.id}" if self.record else ""

    def name_for_new(self) -> str:
        """Who reviews a session that is begun now."""
        return str(self.settings.get(declared.REVIEWER))

    def set_reviewer(self, name: str) -> None:
        """Let somebody else review the session on view; new sessions begin under this name as well."""
        self.choose(declared.REVIEWER, name.strip())
        if self.record is not None:
            self._keep_reviewer(name.strip())
        self.reviewerChanged.emit()
        self.recordChanged.emit()

    # --- film files

    def film(self, clip_id: int | None) -> Clip | None:
        """The opened film of a clip; None while it is being opened or when it cannot be (see `lost`)."""
        return self._films.get(clip_id) if clip_id is not None else None

    def lost(self, clip_id: int) -> str:
        """Why a clip's film is not there; empty while there is no trouble."""
        return self._lost.get(clip_id, "")

    def add_film(self, path: Path, offset: Fraction | None = None) -> None:
        """Open a film file in the background and add it to the session (a new one where none is on view).

        Without `offset` the first clip sits at 0 and a further one directly after the last."""
        self.leave_sample()
        self.adding.add([path], offset)

    def add_films(self, paths: Sequence[Path]) -> None:
        """Add film files one after another, in the given order; one that cannot be read does not hold up the rest."""
        if paths:
            self.leave_sample()
            self.adding.add(paths)

    def new_session(self) -> bool:
        """Begin another pairing, with nobody in it yet; its day is today until its first film tells another."""
        self.leave_sample()
        today = date.today().isoformat()
        fresh = Session(0, self.tr("Pairing of {0}").format(today), None, None, today, reviewer=self.name_for_new())
        added = self.guard(self.book.add_session, fresh)
        if added is not None:
            self.adding.day_not_chosen.add(added.id)
            self.show_session(added.id)
        return added is not None

    def take_in(self, book: Path, clip: ClipRecord, film: Clip) -> None:
        """A film was added to a session: show it, unless another session or book is on view by now."""
        if self.book.path != book:
            return
        if self.record is None:
            self.show_session(clip.session_id, {clip.id: film})
        elif self.record.session.id != clip.session_id:
            said = self.tr("{0} was added to its session, which is not on view.")
            self.say(said.format(film.path.name), "note")
            return
        self._films[clip.id] = film
        self.clip_id = clip.id
        self.refresh()
        self.clipReady.emit(clip.id)
        self.go(clip.offset, clip.id)
        for note in film.notes:
            self.say(note, "note")

    def say_wrong(self, error: object) -> None:
        """Say what went wrong; of a fault of ours, where the log lies that tells more."""
        if isinstance(error, ClipmarkError):
            self.say(str(error), "wrong")
        else:
            said = self.tr("Something in clipmark went wrong ({0}). More is in the log, “{1}”.")
            self.say(said.format(error, log_file()), "wrong")

    def _open_films(self) -> None:
        for clip in self.record.clips if self.record else ():
            if clip.id not in self._films and clip.id not in self._opening and clip.id not in self._lost:
                self._open_film(clip)

    def reopen(self, clip_id: int) -> None:
        """Try a lost film again, after it was found or copied back."""
        self._lost.pop(clip_id, None)
        self._films.pop(clip_id, None)
        self._open_films()

    def lose_film(self, clip_id: int, why: str) -> None:
        """A film that was open can be read no further; `reopen` tries it again."""
        self._films.pop(clip_id, None)
        self._lost[clip_id] = why
        self.say(why, "wrong")
        self.clipLost.emit(clip_id, why)

    def _open_film(self, clip: ClipRecord) -> None:
        from clipmark.book.film.intake import FilmChanged, same_film
        from clipmark.media.clip import open_clip

        self._opening.add(clip.id)
        shown = self._shown  # numbers of clips repeat from book to book: a late answer counts for its own view alone

        def opened(film: Clip) -> None:
            if shown != self._shown:
                return
            self._opening.discard(clip.id)
            if not same_film(film, clip):
                failed(FilmChanged(clip.path))
            elif self.record is not None and clip.id in {c.id for c in self.record.clips}:
                self._films[clip.id] = film
                self.clipReady.emit(clip.id)

        def failed(error: Exception) -> None:
            if shown != self._shown:
                return
            self._opening.discard(clip.id)
            self._lost[clip.id] = str(error)
            self.say_wrong(error)
            self.clipLost.emit(clip.id, str(error))

        path = Path(clip.path)
        self.tasks.run(self.tr("Opening {0}").format(path.name), lambda p: open_clip(path, p), opened, failed)

    def shut(self) -> None:
        """Stop what runs; for the closing window."""
        self._watch.stop()
        self._unsettled.stop()
        self.tasks.shut()
