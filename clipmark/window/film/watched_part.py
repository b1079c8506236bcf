"""Which stretches of film the reviewer watched in full: only there is a pull that nobody proposed a miss."""

from __future__ import annotations

from fractions import Fraction
from functools import partial

from PySide6.QtWidgets import QToolButton, QVBoxLayout, QWidget

from clipmark.book.model import ClipRecord, Reviewed
from clipmark.timebase import clock
from clipmark.window.shared.parts import button, clear, label, row
from clipmark.window.workspace import Workspace


class WatchedPart(QWidget):
    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self._from: tuple[int, Fraction] | None = None
        self.known = QVBoxLayout()
        self.start = button(self.tr("From here"), self.begin, self.tr("The stretch begins where the film stands now"),
                            self.tr("Watched in full from here"))  # fmt: skip
        self.end = button(self.tr("To here"), self.finish, self.tr("The stretch ends where the film stands now"),
                          self.tr("Watched in full to here"))  # fmt: skip
        self.whole = button(self.tr("Whole film"), self.all_of_it, self.tr("You watched every frame of this film"),
                            self.tr("Watched the whole film in full"))  # fmt: skip
        tip = self.tr(
            "Note what you watched in full: only there does a pull that the pass did not propose count as missed."
        )
        self.title = button(self.tr("Watched in full…"), self.unfold, tip)
        self.inner = QWidget()
        inside = QVBoxLayout(self.inner)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.addLayout(self.known)
        inside.addLayout(row(self.start, self.end, self.whole))
        self.inner.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addWidget(self.inner)
        workspace.recordChanged.connect(self.refresh)
        workspace.reviewerChanged.connect(self.refresh)
        self.refresh()

    def unfold(self) -> None:
        """Show the stretches and the buttons, or fold them away."""
        self.inner.setVisible(self.inner.isHidden())

    def refresh(self) -> None:
        """Show the stretches of the reviewer in the session on view."""
        clear(self.known)
        record = self.workspace.record
        mine = [one for one in record.reviewed if one.reviewer == self.workspace.reviewer] if record else []
        for one in mine:
            assert record is not None
            clip = record.clip(one.clip_id)
            words = self.tr("{0} to {1}").format(
                clock(clip.on_clock(one.start_pts), 1), clock(clip.on_clock(one.end_pts), 1)
            )
            off = QToolButton()
            off.setText("×")
            off.setAutoRaise(True)
            off.setToolTip(self.tr("Take this stretch out; undo brings it back"))
            off.setAccessibleName(self.tr("Take out: watched in full {0}").format(words))
            off.clicked.connect(partial(self._drop, one.id))
            self.known.addLayout(row(label(words, "faint", wrap=False), 1, off))
        if not mine:
            self.known.addWidget(label(self.tr("Nothing yet: what the pass missed is not known."), "faint"))
        seconds = (
            sum((one.end_pts - one.start_pts) * record.clip(one.clip_id).time_base for one in mine) if record else 0
        )
        self.title.setText(
            self.tr("Watched in full: {0}…").format(clock(seconds, 0)) if mine else self.tr("Watched in full…")
        )
        for part in (self.title, self.start, self.end, self.whole):
            part.setEnabled(record is not None and bool(record.clips))

    def _clip(self) -> ClipRecord | None:
        record = self.workspace.record
        if record is None or self.workspace.clip_id is None:
            return None
        return record.clip(self.workspace.clip_id)

    def begin(self) -> None:
        """Remember where the stretch begins."""
        clip = self._clip()
        if clip is not None:
            self._from = (clip.id, self.workspace.place)
            said = self.tr("Watched in full from {0}. Go to its end and press “To here”.")
            self.workspace.say(said.format(clock(self.workspace.place, 1)), "note")

    def finish(self) -> None:
        """Keep the stretch from the remembered place to here."""
        clip = self._clip()
        if clip is None:
            return
        if self._from is None or self._from[0] != clip.id:
            self.workspace.say(
                self.tr("Press “From here” where you began to watch this film, then come back."), "wrong"
            )
            return
        first, last = sorted((self._from[1], self.workspace.place))
        self._keep(clip, clip.pts_at(first), clip.pts_at(last))

    def all_of_it(self) -> None:
        """Keep the whole film as watched in full."""
        clip = self._clip()
        if clip is not None:
            self._keep(clip, clip.first_pts, clip.end_pts)

    def _keep(self, clip: ClipRecord, start: int, end: int) -> None:
        start, end = max(start, clip.first_pts), min(end, clip.end_pts)
        if end <= start:
            self.workspace.say(
                self.tr("That stretch has no length. Go on to its end, then press “To here”."), "wrong"
            )
            return
        made = Reviewed(0, clip.id, self.workspace.reviewer, start, end)
        if self.workspace.edit(self.workspace.book.add_reviewed, made) is not None:
            self._from = None

    def _drop(self, stretch_id: int) -> None:
        self.workspace.edit(self.workspace.book.remove_reviewed, stretch_id)
