"""The Pulls page."""

from __future__ import annotations

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from clipmark.window.workspace import Workspace


class PullsPage(QWidget):
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
        called = sum(1 for f in record.flags if self.workspace.call_of(f.id) is not None)
        self.told.setText(self.tr("{0} of {1} called").format(called, len(record.flags)))
