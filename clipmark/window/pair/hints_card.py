"""Do they seem ready? Hints with reason and source, and what to think of before. Nothing here locks anything."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QCoreApplication

from clipmark.book.model import Animal, LifeEvent
from clipmark.window.shared.parts import Card, clear, label

# shape and word carry the meaning; the colour only repeats it
_SIGNS = {"for": "✓", "against": "!", "unknown": "?"}


class HintsCard(Card):
    def __init__(self) -> None:
        super().__init__(QCoreApplication.translate("HintsCard", "Do they seem ready?"))

    def show_pair(
        self,
        female: Animal | None,
        her_life: Sequence[LifeEvent],
        male: Animal | None,
        his_life: Sequence[LifeEvent],
        on: date,
    ) -> None:
        """What speaks for and against pairing these two on a day."""
        clear(self.body)
        if female is None and male is None:
            self.body.addWidget(
                label(self.tr("Choose or enter both animals and note their dates: hints stand here."), "faint")
            )
            return
        from clipmark.reading.advice.notices import before_pairing
        from clipmark.reading.advice.readiness import readiness

        words = {
            "for": self.tr("speaks for it"),
            "against": self.tr("speaks against it"),
            "unknown": self.tr("not known"),
        }
        for hint in readiness(her_life, his_life, on):
            if (hint.whom == "her" and female is None) or (hint.whom == "him" and male is None):
                continue
            text = label(f"{_SIGNS.get(hint.speaks, '·')}  {hint.text}")
            text.setAccessibleName(f"{words.get(hint.speaks, '')}: {hint.text}")
            reason = self.tr("{0}. Rule: {1}. Source: {2}").format(words.get(hint.speaks, ""), hint.rule, hint.source)
            text.setToolTip(reason)
            self.body.addWidget(text)
            self.body.addWidget(label(self.tr("    {0} · {1}").format(hint.rule, hint.source), "faint"))
        species = female.species if female else male.species if male else ""
        for notice in before_pairing(species):
            one = label(f"{notice.title}: {notice.text}", "faint")
            one.setToolTip(self.tr("Source: {0}").format(", ".join(notice.sources)))
            self.body.addWidget(one)
