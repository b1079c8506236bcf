"""What all sessions of the book say together: outcomes against what film showed, and how good the flags were."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from PySide6.QtCore import QCoreApplication, QDate
from PySide6.QtSvgWidgets import QSvgWidget
from PySide6.QtWidgets import QDateEdit, QGridLayout, QVBoxLayout

from clipmark.progress import Progress
from clipmark.window.shared.parts import Card, clear, label, row
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.reading.cycles.flag_quality import FlagQuality
    from clipmark.reading.cycles.outcomes import Comparison, Outcomes


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    outcomes: Outcomes
    flags: tuple[FlagQuality, ...]
    pictures: tuple[str, ...] = ()


def read_together(path: Path, progress: Progress, asked: date | None = None) -> Together:
    """Read every session of a book as of a day of asking; for a background task, which opens the book for itself and
    only reads.

    Raises:
        ClipmarkError: the book cannot be read. Cancelled: through `progress`.
    """
    from clipmark.book.store import Book
    from clipmark.reading.advice.sac_windows import sac_windows
    from clipmark.reading.cycles.flag_quality import flag_quality
    from clipmark.reading.cycles.outcomes import outcomes
    from clipmark.report.pictures.comparisons import cycles_svg, pulls_svg, waiting_svg

    with Book.open(path, read_only=True) as book:
        ids, records = [row.id for row in book.sessions()], []
        for number, record in enumerate(book.records(ids)):
            progress.advance(number, len(ids))
            records.append(record)
        females = {record.female.id for record in records if record.female is not None}
        lives, loans = {female: book.life(female) for female in females}, book.loans()
        own = book.species_notes()
    read = outcomes(records, lives, asked, loans)
    pictures = (waiting_svg(read), cycles_svg(read, sac_windows(read, lives, own)), pulls_svg(records))
    return Together(read, flag_quality(records), tuple(svg for svg in pictures if svg))


class TogetherCard(Card):
    """`read` computes it beside the window; what was shown before stays until the new figures are there."""

    def __init__(self, workspace: Workspace):
        super().__init__(QCoreApplication.translate("TogetherCard", "What your sessions say together"))
        self.workspace = workspace
        self.together: Together | None = None
        self._of: tuple[Path, int, date] | None = None
        self._reading = False
        self.asked = QDateEdit(QDate.currentDate())
        self.asked.setCalendarPopup(True)
        self.asked.setDisplayFormat("yyyy-MM-dd")
        self.asked.setAccessibleName(self.tr("Day of asking"))
        self.asked.setToolTip(
            self.tr("Who has no sac by this day still waits on it. Nothing dated later is looked at.")
        )
        self.asked.dateChanged.connect(lambda _: self.read())
        self.body.addLayout(row(label(self.tr("Day of asking")), self.asked))
        self.told = QVBoxLayout()
        self.body.addLayout(self.told)
        self.told.addWidget(label(self.tr("Not read yet."), "faint"))

    def read(self) -> None:
        """Read the book's sessions together, unless nothing was written since the last time."""
        book = self.workspace.book
        changed = self.workspace.guard(book.changed)
        if self._reading or changed is None or self._of == (book.path, changed, self._day()):
            return
        asked = self._day()
        self._reading, wanted = True, (book.path, changed, asked)

        def done(together: Together) -> None:
            self._reading, self._of = False, wanted
            self.show_together(together)
            if self.isVisible():
                self.read()  # where something was written meanwhile

        def failed(error: Exception) -> None:
            self._reading = False
            self.workspace.say(str(error), "wrong")

        def stopped() -> None:
            self._reading = False

        title, path = self.tr("Reading all sessions together"), book.path
        self.workspace.tasks.run(title, lambda progress: read_together(path, progress, asked), done, failed, stopped)

    def _day(self) -> date:
        chosen = self.asked.date()
        return date(chosen.year(), chosen.month(), chosen.day())

    def show_together(self, together: Together) -> None:
        self.together = together
        clear(self.told)
        read = together.outcomes
        count = self.tr("Sessions with a date and a female: {0}. Females: {1}. Cycles between moults: {2}.")
        self.told.addWidget(label(count.format(read.sessions, read.females, len(read.cases))))
        if read.ends:
            states = ", ".join(f"{state} {number}" for state, number in read.ends.items())
            told = self.tr("On {0}: {1}.").format(read.asked.isoformat(), states)
            self.told.addWidget(label(told))
        self._comparisons([one for one in read.signs if one.with_it.n], self.tr("A sac came, where film showed"))
        self._comparisons([read.young] if read.young.with_it.n else [], self.tr("Young came, where film showed"))
        self._waiting(read)
        for svg in together.pictures:
            self.told.addWidget(_drawn(svg))
        self._flags(together.flags)
        if read.notes:
            self.told.addWidget(label(self.tr("To be said beside it"), "heading"))
        for note in read.notes:
            self.told.addWidget(label(f"⚠ {note}", "faint"))

    def _comparisons(self, shown: list[Comparison], title: str) -> None:
        if not shown:
            return
        self.told.addWidget(label(title, "heading"))
        grid = QGridLayout()
        for column, head in enumerate((self.tr("sign"), self.tr("with it"), self.tr("without it"))):
            grid.addWidget(label(head, "faint"), 0, column)
        for number, one in enumerate(shown, 1):
            cells = (one.sign, one.with_it.text, one.without_it.text)
            for column, text in enumerate(cells):
                cell = label(text)
                cell.setToolTip(one.text)
                cell.setAccessibleDescription(one.text)
                grid.addWidget(cell, number, column)
        for column, stretch in enumerate((4, 5, 5)):
            grid.setColumnStretch(column, stretch)
        self.told.addLayout(grid)

    def _waiting(self, read: Outcomes) -> None:
        from clipmark.reading.cycles.said import waits_said

        """Days to the sac and how many nymphs came of the eggs; both with the number of cases that they rest on."""
        for told in (*waits_said(read), *read.nymphs.told):
            self.told.addWidget(label(told))

    def _flags(self, rows: tuple[FlagQuality, ...]) -> None:
        if not rows:
            return
        self.told.addWidget(label(self.tr("How good the flags were, by your calls"), "heading"))
        for one in rows:
            told = self.tr(
                "{0}: insertions {1} that could be judged. Attempts {2}, false {3}, not seen {4}, uncalled {5}."
            )
            name = one.parameters or self.tr("without a name")
            figures = (one.insertions.text, one.attempts, one.false, one.not_seen, one.uncalled)
            self.told.addWidget(label(told.format(name, *figures)))
            if one.watched_in_full_s:
                minutes = float(one.watched_in_full_s) / 60
                told = self.tr("In {0:.1f} min that were watched in full it found {1}.").format(
                    minutes, one.recall.text
                )
            else:
                told = self.tr("What it missed is not known: no film was watched in full.")
            self.told.addWidget(label(told, "faint"))


def _drawn(svg: str) -> QSvgWidget:
    """A picture on white paper in its own size, for both themes."""
    drawn = QSvgWidget()
    drawn.load(svg.encode("utf-8"))
    size = drawn.renderer().defaultSize()
    drawn.setMinimumSize(size)
    drawn.setMaximumSize(size)
    drawn.setStyleSheet("background: white")
    root = ElementTree.fromstring(svg)
    told = {one.tag.rpartition("}")[2]: one.text or "" for one in root if one.tag.endswith(("title", "desc"))}
    drawn.setAccessibleName(told.get("title", ""))
    drawn.setAccessibleDescription(told.get("desc", ""))
    return drawn
