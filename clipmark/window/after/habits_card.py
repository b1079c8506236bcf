"""What the keeper's own marks and calls say of a kind and of a male: which signs went with sacs, and his rhythm."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QGridLayout

from clipmark.book.model import SessionRecord
from clipmark.progress import Progress
from clipmark.window.shared.parts import Card, button, clear, label
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.reading.cycles.his_rhythm import MaleRhythm
    from clipmark.reading.cycles.sign_outcomes import SpeciesSigns


@dataclass(frozen=True, slots=True, eq=False)
class Habits:
    signs: tuple[SpeciesSigns, ...]
    males: tuple[MaleRhythm, ...]


def read_habits(path: Path, listen: bool, progress: Progress) -> Habits:
    """Read every session of a book, for a background task; `listen` opens films that were not listened to yet.

    Raises:
        ClipmarkError: the book cannot be read. Cancelled: through `progress`.
    """
    from clipmark.book.store import Book
    from clipmark.reading.cycles.his_rhythm import male_rhythms
    from clipmark.reading.cycles.sign_outcomes import sign_outcomes
    from clipmark.report.films.beats import beats
    from clipmark.report.films.opened import Films

    with Book.open(path, read_only=True) as book:
        ids, records = [row.id for row in book.sessions()], []
        for number, record in enumerate(book.records(ids)):
            progress.advance(number, len(ids))
            records.append(record)
        females = {record.female.id for record in records if record.female is not None}
        lives = {female: book.life(female) for female in females}
    drummed = [r for r in records if r.male is not None and any(mark.act == "drumming" for mark in r.marks)]
    with Films() as films:
        found = {r.session.id: beats(r, films if listen else None, progress) for r in drummed}
    return Habits(sign_outcomes(records, lives), male_rhythms(records, found))


class HabitsCard(Card):
    """Read beside the window when the session is shown; the last figures stay until new ones are there."""

    def __init__(self, workspace: Workspace):
        super().__init__(QCoreApplication.translate("HabitsCard", "What your own calls and marks say"))
        self.workspace = workspace
        self.habits: Habits | None = None
        self._of: tuple[Path, int] | None = None
        self._reading = False
        self.listen = button(
            self.tr("Listen to the films"), lambda: self.read(listen=True),
            self.tr("For the rate of his drumming; a film is listened to once"),
        )  # fmt: skip
        self.head.addWidget(self.listen)

    def show_record(self, record: SessionRecord) -> None:
        """Show what is known for her kind and this male."""
        if self.isVisible() or self.habits is None:
            self.read()
        self._show(record)

    def read(self, listen: bool = False) -> None:
        """Read the book's sessions, unless nothing was written since the last time."""
        changed = self.workspace.guard(self.workspace.book.changed)
        wanted = (self.workspace.book.path, changed or 0)
        if self._reading or changed is None or (self._of == wanted and not listen):
            return
        self._reading, path = True, self.workspace.book.path

        def done(habits: Habits) -> None:
            self._reading, self._of, self.habits = False, wanted, habits
            if self.workspace.record is not None:
                self._show(self.workspace.record)

        def failed(error: Exception) -> None:
            self._reading = False
            self.workspace.say(str(error), "wrong")

        def stopped() -> None:
            self._reading = False

        title = self.tr("Listening to his drumming") if listen else self.tr("Reading your calls by kind")
        self.workspace.tasks.run(title, lambda p: read_habits(path, listen, p), done, failed, stopped)

    def _show(self, record: SessionRecord) -> None:
        clear(self.body)
        if self.habits is None:
            self.body.addWidget(label(self.tr("Not read yet."), "faint"))
            return
        self._signs(record)
        self._rhythm(record)

    def _signs(self, record: SessionRecord) -> None:
        from clipmark.reading.kinds.species import levels

        assert self.habits is not None
        written = " ".join(record.female.species.split()) if record.female is not None else ""
        known = levels(written)[0] if written else None
        name = known.name if known is not None and known.level == "species" else written
        mine = next((one for one in self.habits.signs if one.species == name and name), None)
        self.body.addWidget(label(self.tr("Which signs went with sacs in {0}").format(name or "?"), "heading"))
        if mine is None:
            words = self.tr(
                "No settled cycle of this kind has calls with stated signs yet. State the signs with each call, and "
                "note what came of it."
            )
            self.body.addWidget(label(words, "faint"))
            return
        grid = QGridLayout()
        for column, head in enumerate((self.tr("sign"), self.tr("a sac with it"), self.tr("without it"))):
            grid.addWidget(label(head, "faint"), 0, column)
        for number, one in enumerate(mine.signs, 1):
            for column, text in enumerate((str(one.sign), one.with_it.text, one.without_it.text)):
                grid.addWidget(label(text), number, column)
        self.body.addLayout(grid)
        self.body.addWidget(label(mine.note, "faint"))

    def _rhythm(self, record: SessionRecord) -> None:
        from clipmark.reading.cycles.his_rhythm import beside

        assert self.habits is not None
        if record.male is None:
            return
        self.body.addWidget(label(self.tr("His rhythm: {0}").format(record.male.name), "heading"))
        him = next((m for m in self.habits.males if m.animal_id == record.male.id), None)
        if him is None or not him.bouts:
            words = self.tr("No drumming of his is marked. Mark his bouts on the Film page.")
            self.body.addWidget(label(words, "faint"))
            return
        self.body.addWidget(label(f"{him.text}."))
        for session in him.sessions:
            if session.bouts:
                when = str(session.on) if session.on else session.title
                often = f", {session.per_minute:.1f} a minute" if session.per_minute is not None else ""
                words = self.tr("{0}: {1} bouts{2}; {3}").format(when, len(session.bouts), often, session.trend)
                self.body.addWidget(label(words, "faint"))
        self.body.addWidget(label(beside(him, self.habits.males)))
        words = self.tr("Each male has his own rhythm (common practice, no source).")
        self.body.addWidget(label(words, "faint"))
