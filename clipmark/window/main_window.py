"""The window: five pages under a row of tabs, a line for messages, a strip for what runs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QStackedWidget,
    QTabBar,
    QVBoxLayout,
    QWidget,
)

from clipmark import settings as declared
from clipmark.window.commands import BY_NAME, Keys, make_actions
from clipmark.window.pages.after import AfterPage
from clipmark.window.pages.film import FilmPage
from clipmark.window.pages.pair import PairPage
from clipmark.window.pages.pulls import PullsPage
from clipmark.window.pages.sheet import SheetPage
from clipmark.window.workspace import PAGES, Workspace

PAGE_CLASSES = {"pair": PairPage, "film": FilmPage, "pulls": PullsPage, "sheet": SheetPage, "after": AfterPage}


class MainWindow(QMainWindow):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        workspace.setParent(self)
        self.keys = Keys(workspace.settings)
        self.setWindowTitle("clipmark")
        self.setAcceptDrops(True)
        self.pages: dict[str, QWidget] = {name: PAGE_CLASSES[name](workspace) for name in PAGES}
        self._lay_out()
        self.actions_by_name = make_actions(self, "", self._handlers(), self.keys)
        for name, page in self.pages.items():
            made = make_actions(page, name, page.handlers() if hasattr(page, "handlers") else {}, self.keys)
            self.actions_by_name.update(made)
            if hasattr(page, "bound"):
                page.bound(made)
        self._make_menu()
        workspace.message.connect(self._show_message)
        workspace.pageWanted.connect(self.show_page)
        workspace.recordChanged.connect(self._show_title)
        self._restore_geometry()

    # --- putting together

    def _lay_out(self) -> None:
        self.tabs = QTabBar()
        self.tabs.setExpanding(False)
        self.tabs.setDrawBase(False)
        self.tabs.setAccessibleName(self.tr("Pages"))
        self.stack = QStackedWidget()
        for name in PAGES:
            self.tabs.addTab(BY_NAME[f"page.{name}"].text)
            self.stack.addWidget(self.pages[name])
        self.title = QLabel()
        self.title.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.messages = QLabel()
        self.messages.setWordWrap(True)
        self.messages.setAccessibleName(self.tr("Messages"))
        top = QHBoxLayout()
        top.addWidget(self.tabs)
        top.addWidget(self.title, 1)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.addLayout(top)
        column.addWidget(self.stack, 1)
        column.addWidget(self.messages)
        self.setCentralWidget(whole)
        self.tabs.currentChanged.connect(self._enter)

    def _handlers(self) -> dict[str, Callable[[], None]]:
        pages = {f"page.{name}": lambda n=name: self.show_page(n) for name in PAGES}
        return {
            **pages,
            "film.add": self.choose_film,
            "edit.undo": self.workspace.undo,
            "edit.redo": self.workspace.redo,
            "help.keys": lambda: None,
            "window.close": lambda: (self.close(), None)[1],
        }

    def _make_menu(self) -> None:
        bar = self.menuBar()
        for title, names in (
            (self.tr("&Book"), ("film.add", "window.close")),
            (self.tr("&Edit"), ("edit.undo", "edit.redo")),
            (self.tr("&Go to"), tuple(f"page.{name}" for name in PAGES)),
            (self.tr("&Help"), ("help.keys",)),
        ):
            menu = bar.addMenu(title)
            for name in names:
                menu.addAction(self.actions_by_name[name])

    # --- what it does

    def begin(self, films: list[Path], page: str | None) -> None:
        """Open the given films, or the session that was on view last; then the page."""
        sessions = self.workspace.guard(self.workspace.book.sessions) or ()
        if films:
            self.add_films(films)
        elif sessions:
            self.workspace.show_session(sessions[0].id)
        self.show_page(page or "film")

    def show_page(self, name: str) -> None:
        self.tabs.setCurrentIndex(PAGES.index(name))
        self._enter(self.tabs.currentIndex())

    def _enter(self, number: int) -> None:
        page = self.pages[PAGES[number]]
        before = self.stack.currentWidget()
        leave = getattr(before, "left", None)
        if before is not page and leave is not None:
            leave()
        self.stack.setCurrentWidget(page)
        entered = getattr(page, "entered", None)
        if entered is not None:
            entered()

    def choose_film(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self, self.tr("Add film"))
        self.add_films([Path(name) for name in names])

    def add_films(self, paths: list[Path]) -> None:
        """Add film files one after another, in the given order."""
        if paths:
            self.workspace.add_film(paths[0], then=lambda: self.add_films(paths[1:]))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        self.add_films(paths)

    def _show_message(self, text: str, kind: str) -> None:
        self.messages.setText(text)
        self.messages.setProperty("role", kind)
        self.messages.style().polish(self.messages)

    def _show_title(self) -> None:
        record = self.workspace.record
        self.title.setText(record.session.title if record else self.tr("no session on view"))

    # --- geometry

    def _store(self) -> QSettings:
        return QSettings(str(declared.config_dir() / "window.ini"), QSettings.Format.IniFormat)

    def _restore_geometry(self) -> None:
        kept = self._store().value("geometry")
        if not (isinstance(kept, QByteArray) and self.restoreGeometry(kept)):
            self.resize(1280, 720)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._store().setValue("geometry", self.saveGeometry())
        for page in self.pages.values():
            shut = getattr(page, "shut", None)
            if shut is not None:
                shut()
        self.workspace.shut()
        event.accept()
