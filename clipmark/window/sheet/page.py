"""The Sheet page: the log roll large, the reading beside it, and the printed sheet."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QHeaderView,
    QSplitter,
    QStackedWidget,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from clipmark import settings as declared
from clipmark.book.meaning.calls import own_reader, people
from clipmark.book.model import SessionRecord, SpeciesNote
from clipmark.progress import Progress
from clipmark.reading.figure import Figure
from clipmark.reading.kinds.notices import STANDING
from clipmark.reading.kinds.signs import expected, species_of
from clipmark.reading.session.by_act import ActReading
from clipmark.reading.session.how_sure import Sureness
from clipmark.reading.session.measures import Reading, read
from clipmark.review.roll_model import exact_seconds
from clipmark.window.roll.bouts import HeardBout
from clipmark.window.roll.log_roll import LogRoll
from clipmark.window.shared.parts import Card, Empty, button, label, row
from clipmark.window.sheet.sureness import add_text, compute, fill_expected, fill_sureness
from clipmark.window.workspace import Workspace

_FIGURE = int(Qt.ItemDataRole.UserRole)
_BOUT = _FIGURE + 1
_BEFORE_RHYTHM = 3  # groups
_ACT_FIGURES = ("count", "per_minute", "duration", "share", "mean", "longest", "interval", "gap", "bouts")
Groups = tuple[tuple[str, tuple[str, ...]], ...]


class SheetPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.reading: Reading | None = None
        self.own: tuple[SpeciesNote, ...] = ()
        self.sure: QTreeWidgetItem | None = None
        self.rhythm: QTreeWidgetItem | None = None
        self.seen: QTreeWidgetItem | None = None
        self._listed: tuple[HeardBout, ...] = ()
        self._rhythm_open = True
        self.written: Path | None = None
        self._stale = True
        self._turn: tuple[str, int] = ("", -1)
        self._lay_out()
        workspace.recordChanged.connect(self._changed)
        workspace.reviewerChanged.connect(self._changed)
        self._changed()

    def _lay_out(self) -> None:
        self.empty = Empty(
            self.tr("Nothing to read yet. Add film on the Pair page, then mark what happens on the Film page."),
            self.tr("Go to the Pair page"),
            lambda: self.workspace.show_page("pair"),
        )
        self.roll = LogRoll(self.workspace)
        self.roll.listened.connect(self._show_rhythm)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(self.roll)
        split.addWidget(self._right())
        split.setStretchFactor(0, 3)
        split.setStretchFactor(1, 2)
        split.setChildrenCollapsible(False)
        self.split = split
        self.stack = QStackedWidget()
        self.stack.addWidget(self.empty)
        self.stack.addWidget(split)
        QVBoxLayout(self).addWidget(self.stack)

    def _right(self) -> QWidget:
        head = Card(self.tr("What the film shows"))
        self.sentence = label()
        self.ending = label()
        self.reviewers = QComboBox()
        self.reviewers.setAccessibleName(self.tr("Whose marks and calls"))
        self.reviewers.setToolTip(self.tr("Every figure is of one person. Choose whose marks and calls are read."))
        self.reviewers.activated.connect(lambda _: self.refresh())
        head.body.addWidget(self.reviewers)
        head.body.addWidget(self.sentence)
        head.body.addWidget(self.ending)
        self.tree = QTreeWidget()
        self.tree.setColumnCount(2)
        self.tree.setHeaderHidden(True)
        self.tree.setRootIsDecorated(True)
        self.tree.setUniformRowHeights(False)
        self.tree.setWordWrap(True)
        self.tree.header().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.tree.setAccessibleName(self.tr("The reading"))
        self.tree.currentItemChanged.connect(lambda item, _: self._explain(item))
        self.tree.itemClicked.connect(lambda item, _: self.show_source(item))
        self.tree.itemActivated.connect(lambda item, _: self.show_source(item))
        self.explained = label("", "faint")
        self.explained.setMinimumHeight(3 * self.fontMetrics().height())
        self.explained.setAlignment(Qt.AlignmentFlag.AlignTop)
        paper = Card(self.tr("The sheet, to print or to pass on"))
        self.where = label(self.tr("One page with pictures that opens in any browser."), "faint")
        paper.body.addWidget(self.where)
        self.write_button = button(self.tr("Write the sheet"), self.write, self.tr("As one HTML file"))
        self.pdf_button = button(self.tr("As PDF"), self.write_pdf, self.tr("Write the sheet and print it to a PDF"))
        self.open_button = button(self.tr("Open it"), self.open_it, self.tr("In your browser"))
        self.open_button.setEnabled(False)
        self.elsewhere = button(self.tr("Elsewhere…"), self.choose_place, self.tr("Choose where to write it"))
        line = row(self.write_button, self.pdf_button, self.open_button, self.elsewhere)
        paper.body.addLayout(line)
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(head)
        column.addWidget(self.tree, 1)
        column.addWidget(self.explained)
        column.addWidget(paper)
        column.addWidget(label(STANDING.text, "faint"))
        return made

    def handlers(self) -> dict[str, Callable[[], None]]:
        return {"sheet.write": self.write, "sheet.pdf": self.write_pdf, "sheet.open": self.open_it}

    # showing

    def entered(self) -> None:
        if self._stale:
            self.refresh()

    def _changed(self) -> None:
        """The reading is made anew when somebody looks at it."""
        self._stale = True
        if self.isVisible():
            self.refresh()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.PaletteChange:
            self._changed()  # colours of another theme
        super().changeEvent(event)

    def refresh(self) -> None:
        self._stale = False
        record = self.workspace.record
        if record is None or not record.clips:
            self.stack.setCurrentWidget(self.empty)
            return
        self.stack.setCurrentWidget(self.split)
        self._offer(record)
        self.own = self.workspace.guard(self.workspace.book.species_notes) or ()
        self.reading = read(record, self.reviewer, self.own)
        words = self.reading.insertions.sentence
        self.sentence.setText(self.tr("Insertions: {0}.").format(words[:1].lower() + words[1:]))
        self.ending.setText(self.tr("How it ended: {0}").format(self.reading.ending.sentence))
        self._fill(self.reading)

    @property
    def reviewer(self) -> str:
        """Whose reading is shown: the one chosen, else who works at the window where that person has marked or called
        something here; "" for the session's own."""
        chosen = str(self.reviewers.currentData() or "") if not self._blind() else ""
        record = self.workspace.record
        made = people(record) if record is not None else ()
        if chosen in made:
            return chosen
        return self.workspace.reviewer if self.workspace.reviewer in made else ""

    def _blind(self) -> bool:
        return bool(self.workspace.settings.get(declared.BLIND))

    def _offer(self, record: SessionRecord) -> None:
        """All who marked or called here, where more than one did and others are not hidden."""
        shown, names = self.reviewer, people(record)
        self.reviewers.clear()
        for name in names:
            self.reviewers.addItem(self.tr("By {0}").format(name), name)
        self.reviewers.setCurrentIndex(self.reviewers.findData(shown or own_reader(record)))
        self.reviewers.setVisible(len(names) > 1 and not self._blind())

    def _fill(self, reading: Reading) -> None:
        groups = [self.tree.topLevelItem(number) for number in range(self.tree.topLevelItemCount())]
        open_before = {group.text(0) for group in groups if group is not None and group.isExpanded()}
        first = not self.tree.topLevelItemCount()
        self._explain(None)
        self._forget_rhythm()
        self._listed = ()
        self.tree.clear()
        for title, figures in self._groups(reading):
            group = self._group(title)
            for figure in figures:
                group.addChild(self._item(figure.label, figure))
            group.setExpanded(first or title in open_before)
        self._show_rhythm()
        if reading.acts:
            title = self.tr("Each act")
            acts = self._group(title)
            for act in reading.acts:
                acts.addChild(self._act(act))
            acts.setExpanded(first or title in open_before)
        if reading.notes:
            title = self.tr("To be said beside it")
            notes = self._group(title)
            for note in reading.notes:
                add_text(notes, note)
            notes.setExpanded(first or title in open_before)
        record = self.workspace.record
        if record is not None:
            title = self.tr("Signs to expect")
            signs = self._group(title)
            fill_expected(signs, expected(species_of(record), self.own))
            signs.setExpanded(title in open_before)
        title = self.tr("How sure is this")
        self.sure = self._group(title)
        self.sure.addChild(QTreeWidgetItem([self.tr("being computed…")]))
        self.sure.setExpanded(title in open_before)
        compute(self.workspace, reading, lambda rows: self._show_sure(reading, rows))

    def _show_sure(self, reading: Reading, rows: tuple[Sureness, ...]) -> None:
        """What the tests say, unless something else is read by now."""
        if self.reading is reading and self.sure is not None:
            fill_sureness(self.sure, rows)

    def _show_rhythm(self) -> None:
        """The rhythms heard in the sound and seen in the picture, a group each; they come when the film has been
        listened to, and with a motion pass."""
        bouts = self.roll.bouts
        if bouts == self._listed:
            return
        self._forget_rhythm()
        if not bouts or self.reading is None:
            return
        self._listed = bouts
        self.seen = self._rhythm_group(self.tr("Rhythm seen in the picture"), [b for b in bouts if b.seen])
        self.rhythm = self._rhythm_group(self.tr("Rhythm heard in the sound"), [b for b in bouts if not b.seen])

    def _forget_rhythm(self) -> None:
        for group in (self.seen, self.rhythm):
            if group is not None:
                self._rhythm_open = group.isExpanded()
                self.tree.takeTopLevelItem(self.tree.indexOfTopLevelItem(group))
        self.rhythm = self.seen = None

    def _rhythm_group(self, title: str, bouts: list[HeardBout]) -> QTreeWidgetItem | None:
        if not bouts:
            return None
        group = self._group(title, _BEFORE_RHYTHM)
        for bout in bouts:
            item = QTreeWidgetItem([bout.span, bout.figures])
            item.setData(0, _BOUT, bout)
            for column in (0, 1):
                item.setToolTip(column, bout.told)
            group.addChild(item)
        group.setExpanded(self._rhythm_open)
        return group

    def _groups(self, reading: Reading) -> list[tuple[str, list[Figure]]]:
        groups: Groups = (
            (self.tr("Insertions"), ("insertions.", "time.inserted")),
            (self.tr("How long until"), ("latency.",)),
            (self.tr("Answers"), ("answers.",)),
            (self.tr("Parting"), ("parting.", "time.clasped", "ending")),
            (self.tr("Film and time"), ("time.filmed", "time.observed", "time.watched", "time.frame")),
        )
        return [
            (title, [figure for figure in reading.figures if figure.key.startswith(starts)])
            for title, starts in groups
        ]

    def _group(self, title: str, place: int | None = None) -> QTreeWidgetItem:
        item = QTreeWidgetItem([title])
        font = self.font()
        font.setBold(True)
        item.setFont(0, font)
        self.tree.insertTopLevelItem(self.tree.topLevelItemCount() if place is None else place, item)
        item.setFirstColumnSpanned(True)
        return item

    def _item(self, name: str, figure: Figure) -> QTreeWidgetItem:
        item = QTreeWidgetItem([name, figure.text])
        item.setData(0, _FIGURE, figure)
        linked = bool(figure.marks or figure.flags)
        item.setToolTip(0, figure.explanation)
        item.setToolTip(1, figure.explanation)
        if linked:
            item.setForeground(1, self.palette().link())
            font = self.font()
            font.setUnderline(True)
            item.setFont(1, font)
        return item

    def _act(self, act: ActReading) -> QTreeWidgetItem:
        item = self._item(act.label, act.count)
        item.setText(1, self.tr("{0} ×").format(act.count.text))
        for name in _ACT_FIGURES[1:]:
            figure = getattr(act, name)
            if figure.value is not None:
                item.addChild(self._item(figure.label, figure))
        return item

    def _explain(self, item: QTreeWidgetItem | None) -> None:
        figure = item.data(0, _FIGURE) if item is not None else None
        bout = item.data(0, _BOUT) if item is not None else None
        if bout is not None:
            words = self.tr(
                "Regular strikes: he or she drums, or something else beats in the room. Enter goes there; listen."
            )
            if bout.seen:
                words = self.tr("Something moves there at an even rate. Enter goes there; look what it is.")
            self.explained.setText(f"{bout.told}. {words}")
            return
        if figure is None:
            self.explained.setText(self.tr("Choose a figure to see how it comes about and to go to its marks."))
            return
        count = len(figure.marks) + len(figure.flags)
        words = figure.explanation
        if count > 1:
            words += " " + self.tr("Made of {0} places: press Enter again for the next.").format(count)
        self.explained.setText(words)

    def show_source(self, item: QTreeWidgetItem) -> None:
        """Select what a figure was made of: the first thing, with each further press the next."""
        figure, bout = item.data(0, _FIGURE), item.data(0, _BOUT)
        if bout is not None:
            self.workspace.go(exact_seconds(bout.start))
            self.roll.roll.show_span(bout.start - 1, bout.end + 1)
        if figure is None:
            return
        sources = self._sources(figure)
        if not sources:
            self.workspace.say(self.tr("This figure is made of no single mark."), "note")
            return
        last = self._turn[1] if self._turn[0] == figure.key else -1
        number = (last + 1) % len(sources)
        self._turn = (figure.key, number)
        kind, id = sources[number]
        (self.workspace.select_flag if kind == "flag" else self.workspace.select_mark)(id)
        item_on_roll = self.roll.roll.selection
        if item_on_roll is not None:
            self.roll.roll.show_span(item_on_roll.start - 2, max(item_on_roll.end, item_on_roll.start + 4) + 2)

    def _sources(self, figure: Figure) -> list[tuple[str, int]]:
        """Marks and flags of a figure that exist, by time."""
        record = self.workspace.record
        if record is None:
            return []
        placed = [
            (record.clip(m.clip_id).on_clock(m.start_pts), "mark", m.id) for m in record.marks if m.id in figure.marks
        ]
        placed += [
            (record.clip(f.clip_id).on_clock(f.onset_pts), "flag", f.id) for f in record.flags if f.id in figure.flags
        ]
        return [(kind, id) for _, kind, id in sorted(placed)]

    # the printed sheet

    def place(self) -> Path:
        """Where the sheet is written without asking: beside the book, named after date and title."""
        record = self.workspace.record
        title = record.session.title if record else ""
        date = record.session.date if record else ""
        name = re.sub(r"[^\w]+", "-", f"{date} {title}".strip()).strip("-") or "session"
        return declared.data_dir() / "sheets" / f"{name[:80]}.html"

    def write(self, out: Path | None = None) -> None:
        """Write the sheet beside the window (HTML, or PDF where `out` ends so), with a book of its own that only
        reads."""
        record = self.workspace.record
        if record is None:
            self.workspace.say(self.tr("There is no session to write a sheet of. Add film first."), "wrong")
            return
        target, book_path, session = out or self.place(), self.workspace.book.path, record.session.id
        reviewer = self.reviewer

        def work(progress: Progress) -> Path:
            from clipmark.book.store import Book
            from clipmark.report.sheets.pdf import write_sheet_pdf
            from clipmark.report.sheets.sheet import write_sheet

            target.parent.mkdir(parents=True, exist_ok=True)
            written = write_sheet_pdf if target.suffix.lower() == ".pdf" else write_sheet
            with Book.open(book_path, read_only=True) as book:
                return written(book, session, target, progress, reviewer)

        self._busy(True)
        self.workspace.tasks.run(
            self.tr("Writing the sheet"), work, self._was_written, self._failed, lambda: self._busy(False)
        )

    def write_pdf(self) -> None:
        self.write(self.place().with_suffix(".pdf"))

    def _was_written(self, path: Path) -> None:
        self._busy(False)
        self.written = path
        self.open_button.setEnabled(True)
        self.where.setText(str(path))
        self.where.setToolTip(str(path))
        self.workspace.say(self.tr("The sheet was written: {0}").format(path), "done")

    def _failed(self, error: Exception) -> None:
        self._busy(False)
        self.workspace.say(str(error), "wrong")

    def _busy(self, on: bool) -> None:
        for one in (self.write_button, self.pdf_button, self.elsewhere):
            one.setEnabled(not on)

    def open_it(self) -> None:
        if self.written is None:
            self.workspace.say(self.tr("Write the sheet first."), "note")
        elif not QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.written))):
            self.workspace.say(
                self.tr("Nothing here opens it by itself. It lies at {0}").format(self.written), "note"
            )

    def choose_place(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, self.tr("Write the sheet"), str(self.place()), "HTML (*.html);;PDF (*.pdf)"
        )
        if name:
            self.write(Path(name))
