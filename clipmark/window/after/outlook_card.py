"""What comes next, with every reason and source: when a sac may come, when to pull it, whether to pair again."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import partial

from PySide6.QtCore import QCoreApplication, Signal

from clipmark.book.model import LifeEvent, SessionRecord
from clipmark.reading.advice.contradictions import doubts
from clipmark.reading.advice.outlook import Outlook
from clipmark.reading.kinds.species import GENERAL
from clipmark.settings import THRESHOLDS
from clipmark.window.shared.parts import Card, button, clear, label, row
from clipmark.window.workspace import Workspace


class OutlookCard(Card):
    """Signals:
    dateWanted(str, str): take a day (ISO) and its text over as a reminder."""

    dateWanted = Signal(str, str)

    def __init__(self, workspace: Workspace):
        super().__init__(QCoreApplication.translate("OutlookCard", "What comes next"))
        self.workspace = workspace
        self.seen: Outlook | None = None

    def show_record(self, record: SessionRecord, today: date | None = None) -> None:
        """The outlook of a session, as of today."""
        from clipmark.reading.advice.outlook import outlook
        from clipmark.reading.advice.thresholds import chosen

        clear(self.body)
        own = self.workspace.guard(self.workspace.book.species_notes) or ()
        view = outlook(record, self._life(record.session.female_id), self._life(record.session.male_id),
                       self._others(record), today, chosen(self.workspace.settings.get(THRESHOLDS)),
                       own)  # fmt: skip
        self.seen = view
        for text in doubts(record, self._life(record.session.female_id), self._life(record.session.male_id), today):
            self.body.addWidget(label(f"⚠ {text}", "wrong"))
        self.body.addWidget(label(view.status_text))
        if view.start is not None:
            counted = self.tr("Counted from {0} ({1}).").format(view.start_said, view.start)
            self.body.addWidget(label(counted, "faint"))
        self._windows(self.tr("A sac may come"), ((w.text, w.source) for w in view.sac))
        if view.latest is not None:
            self._windows(self.tr("The longest wait that was told of"), ((view.latest.text, view.latest.source),))
        for text, source in view.pull_warnings:
            self.body.addWidget(label(f"!  {text}"))
            self.body.addWidget(label(f"    {source}", "faint"))
        self._windows(self.tr("When to pull the sac"), ((w.text, w.source) for w in view.pull))
        self._windows(self.tr("Young may come out if it is left"), ((w.text, w.source) for w in view.emergence))
        hints = (*view.moult, *((view.male,) if view.male else ()))
        self._windows(self.tr("Her moult and his time"), ((h.text, h.source) for h in hints))
        self._reasons(view.pair_again, [(r.speaks, r.text, r.rule, r.source) for r in view.reasons])
        if view.dates:
            self.body.addWidget(label(self.tr("Days to look"), "heading"))
        for due in view.dates:
            words = label(f"{due.on}   {due.text}")
            words.setToolTip(self.tr("Source: {0}").format(due.source))
            take = button(
                self.tr("Remind me"),
                partial(self.dateWanted.emit, due.on.isoformat(), due.text),
                name=self.tr("Remind me on {0}: {1}").format(due.on, due.text),
            )
            line = row(words, take)
            line.setStretch(0, 1)
            self.body.addLayout(line)
        self._kind(view)
        for notice in view.notices:
            one = label(f"{notice.title}: {notice.text}", "faint")
            one.setToolTip(self.tr("Source: {0}").format(", ".join(notice.sources)))
            self.body.addWidget(one)

    def _kind(self, view: Outlook) -> None:
        """What is known of the sac and the young of her kind, the particular first."""
        everything = view.kind.everything
        title = self.tr("Known of {0}").format(everything.species) if everything.species else self.tr("Known of all")
        lines = [(s.text, s.cited) for part in everything.sections if part.key in ("sac", "young")
                 for s in part.statements if s.level != GENERAL]  # fmt: skip
        if not lines:
            lines = [(self.tr("Of its sac and young nothing is written down. The ranges above are general."), "")]
        self._windows(title, lines)

    def _windows(self, title: str, lines: Iterable[tuple[str, str]]) -> None:
        found = list(lines)
        if found:
            self.body.addWidget(label(title, "heading"))
        for text, source in found:
            self.body.addWidget(label(text))
            self.body.addWidget(label(f"    {source}", "faint"))

    def _reasons(self, title: str, reasons: list[tuple[str, str, str, str]]) -> None:
        if not reasons:
            return
        self.body.addWidget(label(self.tr("Pair again?"), "heading"))
        self.body.addWidget(label(title))
        words = {"for": self.tr("for it"), "against": self.tr("against it")}
        for speaks, text, rule, source in reasons:
            told = label(f"{'+' if speaks == 'for' else '−'}  {text}")
            told.setAccessibleName(f"{words.get(speaks, '')}: {text}")
            self.body.addWidget(told)
            self.body.addWidget(label(f"    {rule} · {source}", "faint"))

    def _life(self, animal_id: int | None) -> tuple[LifeEvent, ...]:
        if animal_id is None:
            return ()
        return self.workspace.guard(self.workspace.book.life, animal_id) or ()

    def _others(self, record: SessionRecord) -> list[SessionRecord]:
        """Her other sessions, which decide what cycle this one belongs to; his, which say what he did since; and
        the outcomes of those of her kind, whose sacs say how long it takes."""
        book, guard = self.workspace.book, self.workspace.guard
        animals = (record.session.female_id, record.session.male_id)
        ids = {s.id for animal in animals if animal is not None for s in guard(book.sessions_of, animal) or ()}
        pair = guard(lambda: list(book.records(sorted(ids - {record.session.id})))) or []
        species = record.female.species if record.female is not None else ""
        kin = guard(book.sacs_of_kind, species) or ()
        return [*pair, *(one for one in kin if one.session.id not in ids | {record.session.id})]
