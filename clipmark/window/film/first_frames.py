"""What can wait until the first frame of a clip is on the screen: where it moves, what is heard."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

from clipmark.window.play.player import Player
from clipmark.window.workspace import Workspace

PATIENCE_MS = 1500  # for film that nobody looks at yet, or whose first frame does not come


class FirstFrames(QObject):
    """Signals: over(int): the first frame of this clip is shown, or was waited for long enough; once an opening."""

    over = Signal(int)

    def __init__(self, workspace: Workspace, player: Player, parent: QObject | None = None):
        super().__init__(parent)
        self._awaited: dict[int, QTimer] = {}
        workspace.clipReady.connect(self._await)
        workspace.sessionChanged.connect(self.forget)
        player.shown.connect(self._shown)

    def awaits(self, clip_id: int) -> bool:
        """Whether the first frame of this clip is still to come."""
        return clip_id in self._awaited

    def _await(self, clip_id: int) -> None:
        if clip_id not in self._awaited:
            timer = self._awaited[clip_id] = QTimer(self)
            timer.setSingleShot(True)
            timer.timeout.connect(lambda: self._end(clip_id))
            timer.start(PATIENCE_MS)

    def _shown(self, clip_id: int, picture: object, exact: bool) -> None:
        if exact and clip_id in self._awaited:
            self._awaited[clip_id].start(0)  # it is painted first

    def _end(self, clip_id: int) -> None:
        timer = self._awaited.pop(clip_id, None)
        if timer is not None:
            timer.deleteLater()
            self.over.emit(clip_id)

    def forget(self) -> None:
        """Wait for none any more: another session is shown, or the window closes."""
        for timer in self._awaited.values():
            timer.stop()
            timer.deleteLater()
        self._awaited = {}
