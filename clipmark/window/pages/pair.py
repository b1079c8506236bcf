"""The Pair page."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from clipmark.window.workspace import Workspace


class PairPage(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.told = QLabel()
        self.told.setWordWrap(True)
        QVBoxLayout(self).addWidget(self.told)
        workspace.recordChanged.connect(self.entered)

    def entered(self) -> None:
        record = self.workspace.record
        if record is None:
            self.told.setText(self.tr("No session is on view. Add a film on the Film page."))
            return
        names = (record.female.name if record.female else "–", record.male.name if record.male else "–")
        self.told.setText(f"{record.session.title}: {names[0]} × {names[1]}")
