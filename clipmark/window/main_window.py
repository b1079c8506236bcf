"""The window: five pages under a row of tabs, and a line at the foot for messages and what runs."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QByteArray, QRect, QSettings, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QImage, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QHBoxLayout,
    QMainWindow,
    QMessageBox,
    QSizePolicy,
    QStackedWidget,
    QTabBar,
    QVBoxLayout,
    QWidget,
)

from clipmark import settings as declared
from clipmark.book.store import Book
from clipmark.review.pages import PAGES
from clipmark.review.sample_book import open_sample
from clipmark.window import theme
from clipmark.window.after.page import AfterPage
from clipmark.window.commands import BY_NAME, Keys, make_actions
from clipmark.window.film.page import FilmPage
from clipmark.window.keyboard import FocusFirst
from clipmark.window.pair.page import PairPage
from clipmark.window.print.saving import Saving
from clipmark.window.pulls.moment_view import as_image
from clipmark.window.pulls.page import PullsPage
from clipmark.window.shared.key_sheet import KeySheet
from clipmark.window.shared.messages import MessageLine
from clipmark.window.shared.parts import Elided
from clipmark.window.sheet.page import SheetPage
from clipmark.window.start.introduction import Introduction
from clipmark.window.start.page import StartPage
from clipmark.window.start.sample_banner import SampleBanner
from clipmark.window.workspace import Workspace

PAGE_CLASSES = {
    "start": StartPage, "pair": PairPage, "film": FilmPage, "pulls": PullsPage, "sheet": SheetPage,
    "after": AfterPage,
}  # fmt: skip


FILM_ENDINGS = (
    ".mp4",
    ".mov",
    ".m4v",
    ".mkv",
    ".webm",
    ".avi",
    ".mts",
    ".m2ts",
    ".ts",
    ".mpg",
    ".wmv",
    ".3gp",
    ".flv",
)


class PageStack(QStackedWidget):
    """Asks for the room of the page on view, not for that of the widest page."""

    def minimumSizeHint(self) -> QSize:
        page = self.currentWidget()
        return page.minimumSizeHint() if page is not None else super().minimumSizeHint()


class MainWindow(QMainWindow):
    """A page is a widget made of the workspace. It may have `entered()` and `left()` (it comes to the front, it
    goes), `handlers()` (name of a command in the table -> what it does), `bound(actions)` (its commands were made,
    to be put on buttons) and `shut()` (the window closes)."""

    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        workspace.setParent(self)
        self.keys = Keys(workspace.settings)
        self._was_maximised = False
        self._own_book: Path | None = None  # while the sample session is on view: where to go back to
        self.setWindowTitle("clipmark")
        self.setAcceptDrops(True)
        self.pages: dict[str, QWidget] = {name: PAGE_CLASSES[name](workspace) for name in PAGES}
        self._lay_out()
        self.actions_by_name = make_actions(self, "", self._handlers(), self.keys)
        for name, page in self.pages.items():
            handlers = getattr(page, "handlers", None)
            made = make_actions(page, name, handlers() if handlers is not None else {}, self.keys)
            self.actions_by_name.update(made)
            _tell(page, "bound", made)
        self._make_menu()
        self._connect()
        self._restore_geometry()
        self._show_title()

    # --- putting together

    def _lay_out(self) -> None:
        self.tabs = QTabBar()
        self.tabs.setExpanding(False)
        self.tabs.setDrawBase(False)
        self.tabs.setUsesScrollButtons(False)
        self.tabs.setElideMode(Qt.TextElideMode.ElideNone)
        self.tabs.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.tabs.setAccessibleName(self.tr("Pages"))
        self.stack = PageStack()
        for name in PAGES:
            self.tabs.addTab(BY_NAME[f"page.{name}"].text)
            self.tabs.setTabToolTip(self.tabs.count() - 1, BY_NAME[f"page.{name}"].told)
            self.stack.addWidget(self.pages[name])
        self.title = Elided("faint")
        self.title.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.messages = MessageLine()
        top = QHBoxLayout()
        top.addWidget(self.tabs)
        top.addWidget(self.title, 1)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(8, 4, 8, 6)
        column.setSpacing(6)
        self.banner = SampleBanner()
        column.addWidget(self.banner)
        column.addLayout(top)
        column.addWidget(self.stack, 1)
        column.addWidget(self.messages)
        self.setCentralWidget(whole)
        self._whole = whole
        self.key_sheet = KeySheet(self.keys, whole)
        self.introduction = Introduction(whole)

    def _connect(self) -> None:
        self.tabs.currentChanged.connect(self._enter)
        self.workspace.message.connect(self.messages.say)
        self.workspace.tasks.started.connect(self.messages.tasks.show_task)
        self.workspace.pageWanted.connect(self.show_page)
        self.workspace.recordChanged.connect(self._show_title)
        self.workspace.reviewerChanged.connect(self._show_title)
        self.key_sheet.changed.connect(self._rekey)
        self.key_sheet.refused.connect(self._say_wrong)
        self.key_sheet.closed.connect(self._focus_page)
        self.introduction.pageWanted.connect(self.show_page)
        self.introduction.done.connect(self._introduced)
        self.banner.leaveWanted.connect(self.show_own_book)
        self.workspace.leave_sample = self._leave_sample
        self.workspace.confirm = self._confirm
        start = self.pages["start"]
        assert isinstance(start, StartPage)
        start.filmWanted.connect(self.choose_film)
        start.newWanted.connect(self._new_session)
        start.sampleWanted.connect(self.show_sample)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self._focus_first = FocusFirst(app, self)
        film = self.pages["film"]
        if isinstance(film, FilmPage):
            film.player.key_held = lambda: self._focus_first.held
            film.aloneWanted.connect(self.show_alone)

    def _handlers(self) -> dict[str, Callable[[], object]]:
        return {
            **{f"page.{name}": partial(self.show_page, name) for name in PAGES},
            "film.add": self.choose_film,
            "session.new": self._new_session,
            "edit.undo": self.workspace.undo,
            "edit.redo": self.workspace.redo,
            "look.theme": self.change_theme,
            "help.keys": self.toggle_keys,
            "help.introduction": self.show_sample,
            "book.own": self.show_own_book,
            "window.close": self.close,
        }

    def _make_menu(self) -> None:
        bar = self.menuBar()
        for title, names in (
            (self.tr("&Book"), ("session.new", "film.add", "book.own", "window.close")),
            (self.tr("&Edit"), ("edit.undo", "edit.redo")),
            (self.tr("&Go"), tuple(f"page.{name}" for name in PAGES)),
            (self.tr("&View"), ("look.theme",)),
            (self.tr("&Help"), ("help.keys", "help.introduction")),
        ):
            menu = bar.addMenu(title)
            if "edit.undo" in names:
                menu.aboutToShow.connect(self._name_undo)
            for name in names:
                menu.addAction(self.actions_by_name[name])
            if "film.add" in names:
                self.saving = Saving(self.workspace, self, self._picture_on_view)
                self.saving.fill(menu.addMenu(self.tr("&Save and print")))

    def _rekey(self) -> None:
        for name, action in self.actions_by_name.items():
            action.setShortcut(QKeySequence(self.keys.of(name)))

    # --- what it does

    def _new_session(self) -> None:
        pair = self.pages["pair"]
        assert isinstance(pair, PairPage)
        pair.new_session()

    def _name_undo(self) -> None:
        """Name in the menu what undo would take back and redo would do again."""
        for name, label in zip(("edit.undo", "edit.redo"), self.workspace.undo_labels(), strict=True):
            text = BY_NAME[name].text
            self.actions_by_name[name].setText(f"{text}: {label}" if label else text)

    def _confirm(self, question: str) -> bool:
        yes, no = QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.No
        return QMessageBox.question(self, "clipmark", question, yes | no, no) == yes

    def begin(self, films: list[Path], page: str | None) -> None:
        """Open the given films as a new session, else the session that was on view last; then the page: the start
        page where none is named."""
        if films:
            self.add_films(films)
        else:
            self.workspace.show_session(self.workspace.last_session())
        self.show_page(page or ("film" if films else "start"))

    def show_sample(self) -> None:
        """The invented session, in a book of its own so that nothing invented gets into the keeper's, with the
        introduction; leaving that leads back to the keeper's own book."""
        self._own_book = self._own_book or Path(self.workspace.book.path)
        sample = self.workspace.guard(open_sample)
        if sample is None:
            return
        book, session_id = sample
        self._change_book(book, session_id)
        self.banner.show()
        self.show_page("film")
        film = self.pages["film"]
        record = self.workspace.record
        if isinstance(film, FilmPage) and record is not None and not record.passes:
            film.passes.begin(record.clips[0])
        self.introduction.begin()
        self._place_sheets()

    def show_own_book(self) -> None:
        """Back from the sample session to the keeper's own book, with the session that was on view there last."""
        if self._to_own_book():
            self.workspace.show_session(self.workspace.last_session())
            self.show_page("start")
            self.messages.say(self.tr("This is your own book. Help → Sample session brings the other back."), "note")

    def _to_own_book(self) -> bool:
        if self._own_book is None:
            return False
        book = self.workspace.guard(Book.open, self._own_book)
        if book is None:
            return False
        self._own_book = None
        self.banner.hide()
        if self.introduction.isVisible():
            self.introduction.leave()
        self._change_book(book, None)
        return True

    def _leave_sample(self) -> None:
        """Film and sessions that are begun while the sample is on view go into the keeper's own book."""
        if self._to_own_book():
            self.messages.say(self.tr("This goes into your own book; the sample stays as it is."), "note")

    def _change_book(self, book: Book, session_id: int | None) -> None:
        self.workspace.change_book(book, session_id)
        start = self.pages["start"]
        assert isinstance(start, StartPage)
        start.forget()

    def show_alone(self, alone: bool) -> None:
        """Film, roll and keys alone on the whole screen (F11), or the window as it was."""
        film = self.pages["film"]
        if isinstance(film, FilmPage):
            film.show_alone(alone)
        for part in (self.menuBar(), self.tabs, self.title):
            part.setVisible(not alone)
        if alone:
            self._was_maximised = self.isMaximized()
            self.showFullScreen()
        elif self.isFullScreen():
            self.showMaximized() if self._was_maximised else self.showNormal()

    def show_page(self, name: str) -> None:
        if name != "film" and self.isFullScreen():
            self.show_alone(False)
        number = PAGES.index(name)
        if self.tabs.currentIndex() == number:
            self._enter(number)
        else:
            self.tabs.setCurrentIndex(number)

    @property
    def page(self) -> str:
        return PAGES[self.tabs.currentIndex()]

    def _enter(self, number: int) -> None:
        page, before = self.pages[PAGES[number]], self.stack.currentWidget()
        if before is not None and before is not page:
            _tell(before, "left")
        self.stack.setCurrentWidget(page)
        _tell(page, "entered")
        if self.key_sheet.isVisible():
            self._show_keys()
        elif not self.introduction.isVisible():
            self._focus_page()

    def _focus_page(self) -> None:
        self.pages[self.page].setFocus(Qt.FocusReason.OtherFocusReason)

    def toggle_keys(self) -> None:
        if self.key_sheet.isVisible():
            self.key_sheet.leave()
        else:
            self._show_keys()

    def _show_keys(self) -> None:
        record = self.workspace.record
        self.key_sheet.show_page(self.page, BY_NAME[f"page.{self.page}"].text, record.acts if record else ())
        self._place_sheets()

    def change_theme(self) -> None:
        """Light becomes dark, dark light; the choice is kept."""
        name = "light" if theme.current().dark else "dark"
        self.workspace.choose(declared.THEME, name)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        theme.apply(app, theme.choose(name))

    def _introduced(self) -> None:
        self.workspace.choose(declared.INTRODUCED, True)
        self._focus_page()

    def _say_wrong(self, text: str) -> None:
        self.messages.say(text, "wrong")

    def choose_film(self) -> None:
        kinds = " ".join(f"*{ending}" for ending in FILM_ENDINGS)
        sorts = self.tr("Film ({0});;All files (*)").format(kinds)
        folder = str(self.workspace.settings.get(declared.FILM_FOLDER))
        names, _ = QFileDialog.getOpenFileNames(self, self.tr("Add film"), folder, sorts)
        if names:
            self.workspace.choose(declared.FILM_FOLDER, str(Path(names[0]).parent))
        self.add_films([Path(name) for name in names])

    def _picture_on_view(self) -> QImage | None:
        """The frame that the Film page shows, whole, in the film's own size."""
        film = self.pages["film"]
        picture = film.cameras.current.picture if isinstance(film, FilmPage) else None
        return as_image(picture.rgb()) if picture is not None else None

    def add_films(self, paths: list[Path]) -> None:
        """Add film files one after another, in the given order; one that cannot be read does not hold up the rest.
        From the start page they make a session of their own."""
        if paths and self.page == "start":
            self.workspace.show_session(None)
        self.workspace.add_films(paths)
        if paths and self.page == "start":
            self.show_page("film")

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        if not paths:
            self.messages.say(
                self.tr("Only files on this machine can be dropped here. Save the film first."), "wrong"
            )
        self.add_films(paths)

    def _show_title(self) -> None:
        record = self.workspace.record
        name = record.session.title if record else self.tr("no session on view")
        whole = self.tr("{0} · reviewed by {1}").format(name, self.workspace.reviewer) if record else name
        self.title.set_text(whole)
        self.setWindowTitle(f"{name} – clipmark" if record else "clipmark")

    # --- geometry

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        QTimer.singleShot(0, self, self._place_sheets)

    def _place_sheets(self) -> None:
        """The key sheet over most of the page; the introduction as a card at its foot."""
        whole = self._whole.rect()
        em = self.fontMetrics().height()
        margin = min(3 * em, whole.width() // 12)
        self.key_sheet.setGeometry(whole.adjusted(margin, 2 * em, -margin, -margin))
        wide = min(38 * em, whole.width() - 2 * margin)
        high = max(self.introduction.heightForWidth(wide), self.introduction.sizeHint().height(), 9 * em)
        self.introduction.setGeometry(QRect(margin, whole.height() - high - 6 * em, wide, high))

    def _store(self) -> QSettings:
        return QSettings(str(declared.config_dir() / "window.ini"), QSettings.Format.IniFormat)

    def _restore_geometry(self) -> None:
        kept = self._store().value("geometry")
        if not (isinstance(kept, QByteArray) and self.restoreGeometry(kept)):
            self.resize(1280, 720)

    def closeEvent(self, event: QCloseEvent) -> None:
        self._store().setValue("geometry", self.saveGeometry())
        for page in self.pages.values():
            _tell(page, "shut")
        self.workspace.shut()
        event.accept()


def _tell(page: QWidget, what: str, *values: object) -> None:
    """Call what a page may have."""
    told = getattr(page, what, None)
    if told is not None:
        told(*values)
