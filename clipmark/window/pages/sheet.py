"""The Sheet page."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from clipmark.window.workspace import Workspace


class SheetPage(QWidget):
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
        self.told.setText(self.tr("{0} marks, {1} flags").format(len(record.marks), len(record.flags)))
