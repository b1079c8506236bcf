"""The card of a view in which nobody drew her: the program found her outline by itself; confirm it, or redraw it."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from clipmark.book.meaning.shots import View, view_at
from clipmark.book.model import Outline
from clipmark.window.film.drawing import Drawing
from clipmark.window.film.pass_runner import PassRunner
from clipmark.window.shared.parts import button, label, row
from clipmark.window.workspace import Workspace


class FoundCard(QFrame):
    """Shown only while the film stands in such a view. Redrawing repeats the pass for that shot alone."""

    def __init__(self, workspace: Workspace, drawing: Drawing, passes: PassRunner, parent: QWidget | None = None):
        super().__init__(parent)
        self.workspace, self.drawing, self.passes = workspace, drawing, passes
        self._view: View | None = None
        self._redrawn: View | None = None
        self.setProperty("role", "card")
        self.words = label(self.tr("Nobody drew her in this view: she was found by the program. Check her outline."))
        self.yes = button(self.tr("Confirm"), self.confirm, self.tr("Her outline is right: keep it as your own"))
        self.no = button(
            self.tr("Redraw"), self.redraw, self.tr("Draw it yourself; the pass is repeated for this shot alone")
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 8, 6)
        column.addWidget(self.words)
        column.addLayout(row(self.yes, self.no, 1))
        drawing.keptAt.connect(self._outlined)
        self.hide()

    def show_at(self, clip_id: int, pts: int) -> None:
        """The film stands at a tick of a clip."""
        record = self.workspace.record
        view = view_at(record, clip_id, pts) if record is not None else None
        self._view = view if view is not None and view.to_check else None
        self.setVisible(self._view is not None)

    def confirm(self) -> None:
        """Take over the outline that was found, as the keeper's own; what was followed stays as it is."""
        view = self._view
        if view is None or view.region is None:
            return
        one = view.region
        made = Outline(0, view.clip.id, one.pts, one.x, one.y, one.w, one.h)
        if self.workspace.edit(self.workspace.book.add_outline, made) is not None:
            self.workspace.say(self.tr("Her outline in this view is confirmed."), "done")

    def redraw(self) -> None:
        """Draw her outline on the frame on view."""
        self._redrawn = self._view
        self.drawing.draw("abdomen")

    def _outlined(self, clip_id: int, pts: int) -> None:
        view, self._redrawn = self._redrawn, None
        if view is not None and clip_id == view.clip.id and view.shot.start_pts <= pts < view.shot.end_pts:
            self.passes.begin_shot(view.clip, view.shot.start_pts, view.shot.end_pts)
