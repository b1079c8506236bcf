"""The numbers that the outlook goes by, each with its source; the keeper may put his own in and take them back."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QCoreApplication, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QSpinBox, QToolButton, QWidget

from clipmark.settings import THRESHOLDS
from clipmark.window.shared.parts import Card, button, label
from clipmark.window.workspace import Workspace

_NONE = -1  # in a field: the species' own
_MOST = 36_500


class _Number(QSpinBox):
    """The wheel changes it only while it has the focus: who scrolls the page must not change a number in passing."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class ThresholdsCard(Card):
    """Folded away until it is wanted. Signals: changed(): the setting holds other numbers now."""

    changed = Signal()

    def __init__(self, workspace: Workspace):
        super().__init__(QCoreApplication.translate("ThresholdsCard", "What the outlook goes by"))
        self.workspace = workspace
        self.fields: dict[str, QSpinBox] = {}
        self.sources: dict[str, QLabel] = {}
        self.resets: dict[str, QToolButton] = {}
        self.unfold = button(self.tr("Change…"), self.toggle, self.tr("Show or hide the numbers"))
        self.reset_all = button(
            self.tr("All as they came"), self._reset_all, self.tr("Take all your own numbers back")
        )
        self.head.addWidget(self.reset_all)
        self.head.addWidget(self.unfold)
        self.form = QWidget()
        self._lay_out(QGridLayout(self.form))
        self.form.hide()
        self.told = label("", "faint")
        self.body.addWidget(self.told)
        self.body.addWidget(self.form)
        self.refresh()

    def _lay_out(self, grid: QGridLayout) -> None:
        from clipmark.reading.advice.thresholds import DEFAULT, names

        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(0, 3)
        grid.setColumnStretch(2, 2)
        words = self._words()
        for number, name in enumerate(names()):
            field, text = _Number(), words.get(name, name)
            own = getattr(DEFAULT, name) is None
            field.setRange(_NONE if own else 0, _MOST)
            if own:
                field.setSpecialValueText(self.tr("the species' own"))
            field.setKeyboardTracking(False)
            field.setAccessibleName(text)
            field.valueChanged.connect(partial(self._put, name))
            off = QToolButton()
            off.setText("↺")
            off.setAutoRaise(True)
            off.setToolTip(self.tr("As it came"))
            off.setAccessibleName(self.tr("As it came: {0}").format(text))
            off.clicked.connect(lambda _=False, name=name: self._reset(name))
            self.fields[name], self.sources[name], self.resets[name] = field, label("", "faint"), off
            for column, part in enumerate((label(text), field, self.sources[name], off)):
                grid.addWidget(part, number, column)

    def _words(self) -> dict[str, str]:
        return {
            "enough_confirmed": self.tr("Confirmed insertions that are enough"),
            "usual_pairings": self.tr("Sessions usual with one female"),
            "again_after_days": self.tr("Next try after, days"),
            "again_within_days": self.tr("Next try within, days"),
            "moult_wait_days": self.tr("From her moult to the first try, days"),
            "cycle_months": self.tr("Her whole moult cycle, months"),
            "late_months": self.tr("End of the cycle not to pair in, months"),
            "male_rest_days": self.tr("From his last moult to the first try, days"),
            "male_fertile_months": self.tr("He is fertile as a rule for, months"),
            "sac_first_days": self.tr("A sac may come after, days"),
            "sac_last_days": self.tr("A sac may come until, days"),
            "pull_first_days": self.tr("Pull the sac after, days"),
            "pull_last_days": self.tr("Pull the sac before, days"),
        }

    def toggle(self) -> None:
        self.form.setVisible(self.form.isHidden())
        self.unfold.setText(self.tr("Change…") if self.form.isHidden() else self.tr("Fold away"))

    def refresh(self) -> None:
        """Show the numbers in use, where each is from, and how many are the keeper's own."""
        from clipmark.reading.advice.outlook import explain
        from clipmark.reading.advice.thresholds import chosen

        kept = 0
        for name, value, source in explain(chosen(self.workspace.settings.get(THRESHOLDS))):
            with QSignalBlocker(self.fields[name]):
                self.fields[name].setValue(value if isinstance(value, int) else _NONE)
            own = source == "your own"
            self.sources[name].setText(self.tr("your own") if own else source)
            self.fields[name].setAccessibleDescription(self.tr("Source: {0}").format(self.sources[name].text()))
            self.resets[name].setEnabled(own)
            kept += own
        self.reset_all.setVisible(kept > 0)
        told = self.tr("{0} numbers, {1} of them your own.").format(len(self.fields), kept)
        self.told.setText(
            told if kept else self.tr("{0} numbers with their sources, none changed.").format(len(self.fields))
        )

    def _put(self, name: str, value: int) -> None:
        from clipmark.reading.advice.thresholds import DEFAULT

        if value == _NONE or value == getattr(DEFAULT, name):
            self._reset(name)
        else:
            self._keep({**self.workspace.settings.get(THRESHOLDS), name: value})

    def _reset(self, name: str) -> None:
        kept = self.workspace.settings.get(THRESHOLDS)
        self._keep({known: value for known, value in kept.items() if known != name})

    def _reset_all(self) -> None:
        self._keep({})

    def _keep(self, values: dict[str, int]) -> None:
        self.workspace.choose(THRESHOLDS, values)
        self.refresh()
        self.changed.emit()
