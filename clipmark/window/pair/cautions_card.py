"""Before they meet: every caution by its title, its text folded away until it is pressed."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QLabel, QSizePolicy, QToolButton

from clipmark.window.shared.parts import Card, clear, label


class CautionsCard(Card):
    def __init__(self) -> None:
        super().__init__(QCoreApplication.translate("CautionsCard", "Before they meet"))
        self.texts: dict[str, QLabel] = {}
        self.titles: dict[str, QToolButton] = {}

    def show_species(self, species: str) -> None:
        """The cautions for a species."""
        from clipmark.reading.kinds.notices import before_pairing

        unfolded = {key for key, text in self.texts.items() if not text.isHidden()}
        clear(self.body)
        self.texts, self.titles = {}, {}
        for notice in before_pairing(species):
            title = QToolButton()
            title.setText(notice.title)
            title.setAutoRaise(True)
            title.setCheckable(True)
            title.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
            title.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            title.setAccessibleDescription(notice.text)
            text = label(f"{notice.text} [{', '.join(notice.sources)}]", "faint")
            text.setVisible(notice.key in unfolded)
            title.setChecked(notice.key in unfolded)
            title.setArrowType(Qt.ArrowType.DownArrow if notice.key in unfolded else Qt.ArrowType.RightArrow)
            title.toggled.connect(lambda on, t=text, b=title: _unfold(t, b, on))
            self.texts[notice.key], self.titles[notice.key] = text, title
            self.body.addWidget(title)
            self.body.addWidget(text)


def _unfold(text: QLabel, title: QToolButton, on: bool) -> None:
    text.setVisible(on)
    title.setArrowType(Qt.ArrowType.DownArrow if on else Qt.ArrowType.RightArrow)
