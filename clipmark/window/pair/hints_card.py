"""Do they seem ready? Hints with reason and source, and what to think of before. Nothing here locks anything."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QCoreApplication

from clipmark.book.model import Animal, LifeEvent
from clipmark.reading.advice.readiness import Hint, always
from clipmark.settings import THRESHOLDS
from clipmark.window.shared.parts import Card, clear, label
from clipmark.window.workspace import Workspace

# shape and word carry the meaning; the colour only repeats it
_SIGNS = {"for": "✓", "against": "!", "unknown": "?"}


class HintsCard(Card):
    def __init__(self, workspace: Workspace) -> None:
        super().__init__(QCoreApplication.translate("HintsCard", "Do they seem ready?"))
        self.workspace = workspace

    def show_pair(
        self,
        female: Animal | None,
        her_life: Sequence[LifeEvent],
        male: Animal | None,
        his_life: Sequence[LifeEvent],
        on: date,
        session: int = 0,
    ) -> None:
        """What speaks for and against pairing these two on a day; `session` is the one at hand."""
        clear(self.body)
        if female is None and male is None:
            self.body.addWidget(
                label(self.tr("Choose or enter both animals and note their dates: hints stand here."), "faint")
            )
            return
        words = {
            "for": self.tr("speaks for it"),
            "against": self.tr("speaks against it"),
            "unknown": self.tr("not known"),
        }
        for hint in (*self._hints(female, her_life, male, his_life, on, session), *always()):
            if (hint.whom == "her" and female is None) or (hint.whom == "him" and male is None):
                continue
            text = label(f"{_SIGNS.get(hint.speaks, '·')}  {hint.text}")
            text.setAccessibleName(f"{words.get(hint.speaks, '')}: {hint.text}")
            reason = self.tr("{0}. Rule: {1}. Source: {2}").format(words.get(hint.speaks, ""), hint.rule, hint.source)
            text.setToolTip(reason)
            self.body.addWidget(text)
            self.body.addWidget(label(self.tr("    {0} · {1}").format(hint.rule, hint.source), "faint"))

    def _hints(
        self,
        female: Animal | None,
        her_life: Sequence[LifeEvent],
        male: Animal | None,
        his_life: Sequence[LifeEvent],
        on: date,
        session: int,
    ) -> Sequence[Hint]:
        from clipmark.reading.advice.his_past import his_past
        from clipmark.reading.advice.readiness import readiness
        from clipmark.reading.advice.thresholds import chosen, for_kind

        book, guard = self.workspace.book, self.workspace.guard
        own = guard(book.species_notes) or ()
        base = chosen(self.workspace.settings.get(THRESHOLDS))
        hers = for_kind(base, female.species if female else "", own)
        his = for_kind(base, male.species if male else "", own)
        held = (guard(book.sessions_of, male.id) or ()) if male is not None else ()
        found = (guard(book.session, one.id) for one in held)
        past = his_past([r for r in found if r is not None], male.id if male else None, on, session)
        return readiness(her_life, his_life, on, hers, past, his)
