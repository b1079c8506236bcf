"""The start page: the sessions of the book, newest first; search, open, begin, remove. The sample stands apart."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QModelIndex, QTimer, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLineEdit,
    QListView,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from clipmark.errors import ClipmarkError
from clipmark.review.session_list import make_still, still_place
from clipmark.window.shared.parts import Card, button, label, row
from clipmark.window.start.session_rows import ROW, SessionPainter, SessionRows
from clipmark.window.workspace import Workspace

_SEARCH_MS = 150
_STILLS_AT_ONCE = 1


class StartPage(QWidget):
    """Signals:
    filmWanted(): choose film for a session of its own.
    newWanted(): begin a session without film.
    sampleWanted(): show the sample session.
    """

    filmWanted = Signal()
    newWanted = Signal()
    sampleWanted = Signal()

    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.model = SessionRows(self._want_still)
        self._stills_wanted: list[int] = []
        self._stills_tried: set[int] = set()
        self._making = 0
        self._stale = True
        self._lay_out()
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(_SEARCH_MS)
        self._later.timeout.connect(self.refresh)
        self.search.textChanged.connect(lambda _: self._later.start())
        self._opened = True  # another session was put on view: its row is the highlighted one
        workspace.sessionChanged.connect(self._session_changed)
        workspace.recordChanged.connect(self._changed)

    def _lay_out(self) -> None:
        self.search = QLineEdit()
        self.search.setPlaceholderText(self.tr("Search titles, names, kinds, dates"))
        self.search.setClearButtonEnabled(True)
        self.search.setAccessibleName(self.tr("Search the sessions"))
        self.search.returnPressed.connect(self._open_first)
        self.add = button(self.tr("Add film…"), self.filmWanted.emit, self.tr("A new session with film of yours"))
        self.add.setProperty("role", "main")
        self.fresh = button(self.tr("New session"), self.newWanted.emit, self.tr("A pairing without film so far"))
        self.list = QListView()
        self.list.setModel(self.model)
        self.list.setItemDelegate(SessionPainter(self.list))
        self.list.setUniformItemSizes(True)
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setAccessibleName(self.tr("Sessions of the book"))
        self.list.activated.connect(self.open_at)
        self.list.selectionModel().currentChanged.connect(lambda *_: self._show_buttons())
        self.open = button(self.tr("Open"), self.open_chosen, self.tr("Or press Enter in the list"))
        self.remove = button(self.tr("Remove"), self.remove_chosen, self.tr("Undo brings it back; film files stay"))
        self.nothing = label("", "faint")
        listed = QWidget()
        column = QVBoxLayout(listed)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.list, 1)
        column.addWidget(self.nothing)
        column.addLayout(row(self.open, self.remove, 1))
        self.stack = QStackedWidget()
        self.stack.addWidget(listed)
        self.stack.addWidget(self._first())
        self.head = QWidget()
        line = QHBoxLayout(self.head)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.search, 1)
        line.addWidget(self.add)
        line.addWidget(self.fresh)
        whole = QVBoxLayout(self)
        whole.addWidget(self.head)
        whole.addWidget(self.stack, 1)
        self.setFocusProxy(self.list)

    def _first(self) -> QWidget:
        """What somebody sees whose book is empty."""
        own = Card(self.tr("Your film"))
        own.body.addWidget(
            label(self.tr("Drop the film of a pairing on this window, or choose it. Nothing is uploaded or changed."))
        )
        self.first_add = button(self.tr("Choose film…"), self.filmWanted.emit)
        self.first_add.setProperty("role", "main")
        own.body.addLayout(row(self.first_add, 1))
        trial = Card(self.tr("The sample"))
        trial.body.addWidget(
            label(self.tr("A made-up pairing to try everything on. It lies in a book of its own; yours stays empty."))
        )
        self.first_sample = button(self.tr("Show the sample session"), self.sampleWanted.emit)
        trial.body.addLayout(row(self.first_sample, 1))
        inner = QWidget()
        inner.setMaximumWidth(44 * self.fontMetrics().height())
        column = QVBoxLayout(inner)
        head = label(self.tr("No session yet"), "title")
        column.addStretch(1)
        for part in (head, own, trial):
            column.addWidget(part)
        column.addStretch(2)
        outer = QWidget()
        line = QHBoxLayout(outer)
        line.addStretch(1)
        line.addWidget(inner, 3)
        line.addStretch(1)
        return outer

    # --- showing

    def entered(self) -> None:
        if self._stale:
            self.refresh()

    def _session_changed(self) -> None:
        self._opened = True

    def _changed(self) -> None:
        self._stale = True
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Read the list anew; the session on view stays highlighted."""
        self._stale = False
        text = self.search.text()
        rows = self.workspace.guard(self.workspace.book.sessions, text) or ()
        record = self.workspace.record
        before = self.chosen
        self.model.show_rows(rows)
        empty = not rows and not text.strip()
        self.stack.setCurrentIndex(int(empty))
        self.head.setVisible(not empty)
        self.nothing.setVisible(not rows)
        self.nothing.setText(self.tr("No session has all these words.") if not rows else "")
        on_view = record.session.id if record else None
        kept = on_view if before is None or (self._opened and on_view is not None) else before
        self._opened = False
        place = self.model.place_of(kept) if kept is not None else QModelIndex()
        self.list.setCurrentIndex(place if place.isValid() else self.model.index(0))
        self._show_buttons()

    @property
    def chosen(self) -> int | None:
        """The session of the highlighted row."""
        index = self.list.currentIndex()
        return index.data(ROW).id if index.isValid() and index.row() < len(self.model.rows) else None

    def _show_buttons(self) -> None:
        for one in (self.open, self.remove):
            one.setEnabled(self.chosen is not None)

    # --- what the keeper does

    def handlers(self) -> dict[str, Callable[[], object]]:
        return {"sessions.search": self.search.setFocus, "sessions.remove": self.remove_chosen}

    def open_at(self, index: QModelIndex) -> None:
        """Put the session of a row on view and go on where the work is: its film, else its pair."""
        found = index.data(ROW)
        record = self.workspace.record
        if record is None or record.session.id != found.id:
            self.workspace.show_session(found.id)
        self.workspace.show_page("film" if found.clips else "pair")

    def open_chosen(self) -> None:
        index = self.list.currentIndex()
        if index.isValid():
            self.open_at(index)

    def _open_first(self) -> None:
        """Enter in the search field opens what was found, if that is one session; else it goes into the list."""
        self._later.stop()
        self.refresh()
        if len(self.model.rows) == 1:
            self.open_at(self.model.index(0))
        else:
            self.list.setFocus()

    def remove_chosen(self) -> None:
        chosen = self.list.currentIndex()
        if not chosen.isValid():
            return
        found, record = chosen.data(ROW), self.workspace.record
        if record is not None and record.session.id == found.id:
            self.workspace.show_session(None)
        if self.workspace.guard_done(self.workspace.book.remove_session, found.id):
            said = self.tr("“{0}” was removed from the book; its film files stay. Undo brings it back.")
            self.workspace.say(said.format(found.title), "done")
        self.workspace.refresh()
        self.refresh()

    # --- stills

    def _want_still(self, session_id: int) -> None:
        if session_id in self._stills_tried:
            return
        self._stills_tried.add(session_id)
        self._stills_wanted.append(session_id)
        QTimer.singleShot(0, self, self._make_next)

    def _make_next(self) -> None:
        if self._making >= _STILLS_AT_ONCE or not self._stills_wanted:
            return
        session_id = self._stills_wanted.pop()  # what came on view last comes first
        try:
            place = still_place(self.workspace.book.session(session_id))
        except ClipmarkError:
            return self._make_next()
        if place is None:
            return self._make_next()
        self._making += 1
        self.workspace.tasks.run(
            self.tr("Making a still"), partial(make_still, place), partial(self._made, session_id),
            lambda _: self._ended(), self._ended,
        )  # fmt: skip

    def _made(self, session_id: int, path: object) -> None:
        self.model.put_still(session_id, QImage(str(path)))
        self._ended()

    def _ended(self) -> None:
        self._making -= 1
        self._make_next()

    def forget(self) -> None:
        """Another book is open: its sessions have other stills."""
        self.model.forget_stills()
        self._stills_tried, self._stills_wanted = set(), []
        self.list.setCurrentIndex(QModelIndex())
        self._changed()
