"""The log roll: time runs down, his acts left of the line, hers right. (First version: the marks as a list.)"""

from __future__ import annotations

from PySide6.QtWidgets import QListWidget, QVBoxLayout, QWidget

from clipmark.timebase import clock
from clipmark.window.workspace import Workspace


class LogRoll(QWidget):
    """Reads and edits through the workspace alone; takes nothing else."""

    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.list = QListWidget()
        QVBoxLayout(self).addWidget(self.list)
        workspace.recordChanged.connect(self._fill)

    def _fill(self) -> None:
        self.list.clear()
        record = self.workspace.record
        if record is None:
            return
        for mark in record.marks:
            self.list.addItem(f"{clock(record.clip(mark.clip_id).on_clock(mark.start_pts))}  {mark.act}")
