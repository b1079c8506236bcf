"""Each sac of the pairing with its stages: what was noted, what may come and when, how it is kept."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QGridLayout

from clipmark.reading.advice.stages import SacView, StageView
from clipmark.window.shared.parts import Card, clear, label


class SacsCard(Card):
    """Out of sight until a sac is noted."""

    def __init__(self) -> None:
        super().__init__(QCoreApplication.translate("SacsCard", "After the sac"))
        self.hide()

    def show_sacs(self, sacs: Sequence[SacView]) -> None:
        """Show the sacs of the session on view."""
        clear(self.body)
        self.setVisible(bool(sacs))
        for sac in sacs:
            laid = str(sac.laid) if sac.laid is not None else self.tr("day not noted")
            head = self.tr("Sac {0}, laid: {1}").format(sac.number, laid)
            self.body.addWidget(label(f"{head}, {sac.ended}" if sac.ended else head, "heading"))
            for text, source in () if sac.ended else sac.warnings:
                self.body.addWidget(label(f"!  {text}"))
                self.body.addWidget(label(f"    {source}", "faint"))
            self._stages(sac)
            if sac.conditions:
                self.body.addWidget(label(self.tr("Kept: {0}").format("; ".join(sac.conditions))))
            elif not sac.ended:
                words = self.tr("How it is kept is not noted. Note temperature, humidity and who incubates it.")
                self.body.addWidget(label(words, "faint"))
            for text in sac.contradictions:
                self.body.addWidget(label(f"⚠ {text}", "wrong"))

    def _stages(self, sac: SacView) -> None:
        grid = QGridLayout()
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(0, 3)
        grid.setColumnStretch(1, 5)
        for number, view in enumerate(sac.stages):
            title = label(f"{'✓' if view.on is not None else '·'}  {view.stage.title}")
            title.setToolTip(f"{view.stage.look} {view.stage.source}".strip())
            grid.addWidget(title, number, 0)
            grid.addWidget(label(self._said(view), "" if view.on is not None else "faint"), number, 1)
        self.body.addLayout(grid)

    def _said(self, view: StageView) -> str:
        if view.on is not None:
            after = self.tr(", day {0}").format(view.after_days) if view.after_days is not None else ""
            counts = "".join(f", {number} {stage}" for stage, number in view.counts)
            return f"{view.on}{after}{counts}"
        if view.expected:
            return "\n".join(f"{w.text}: {w.source}" + (f" ({w.note})" if w.note else "") for w in view.expected)
        return view.asks or self.tr("not noted")
