"""The card of the selected mark: when it begins and ends, who did it, a note. Typed times land on frames."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFormLayout, QFrame, QHBoxLayout, QLabel, QLineEdit, QToolButton, QWidget

from clipmark.book.model import Actor, ClipRecord, Mark
from clipmark.errors import ClipmarkError
from clipmark.media.index.frame_index import FrameIndex
from clipmark.timebase import clock, parse_clock
from clipmark.window.workspace import Workspace


class EndBeforeStart(ClipmarkError):
    def __init__(self, start: Fraction, end: Fraction):
        super().__init__(f"It cannot end at {clock(end)}, before it begins at {clock(start)}. Type a later end.")


class OutsideFilm(ClipmarkError):
    def __init__(self, place: Fraction, clip: ClipRecord):
        first, last = clock(clip.offset), clock(clip.on_clock(clip.end_pts))
        super().__init__(f"{clock(place)} is not in this clip, which runs from {first} to {last}.")


def typed_pts(text: str, clip: ClipRecord, index: FrameIndex | None) -> int:
    """The tick of the frame on screen at a typed session time; exactly the clip's end is allowed.

    Raises:
        TimeUnreadable, OutsideFilm.
    """
    place = parse_clock(text)
    pts = clip.first_pts + round((place - clip.offset) / clip.time_base)
    if not clip.first_pts <= pts <= clip.end_pts:
        raise OutsideFilm(place, clip)
    if index is None or pts == clip.end_pts:
        return pts
    # times are shown to the millisecond: a typed one means the frame that it names, were it rounded either way
    near = int(np.argmin(np.abs(index.pts - pts)))
    shown = clock(clip.on_clock(int(index.pts[near])))
    return int(index.pts[near if shown == clock(place) else index.at_or_before(pts)])


class MarkCard(QFrame):
    """Signals: removeWanted(int): the mark of this id is to be taken off."""

    removeWanted = Signal(int)

    def __init__(self, workspace: Workspace, parent: QWidget | None = None):
        super().__init__(parent)
        self.workspace = workspace
        self.setProperty("role", "card")
        self.title = QLabel()
        self.title.setProperty("role", "heading")
        self.title.setWordWrap(True)
        self.begins, self.ends, self.note = QLineEdit(), QLineEdit(), QLineEdit()
        self.begins.setAccessibleName(self.tr("Begins at"))
        self.ends.setAccessibleName(self.tr("Ends at"))
        self.note.setAccessibleName(self.tr("Note"))
        self.note.setPlaceholderText(self.tr("Note"))
        self.who = QComboBox()
        self.who.setAccessibleName(self.tr("Who"))
        names = {
            Actor.HIM: self.tr("he"), Actor.HER: self.tr("she"), Actor.BOTH: self.tr("both"),
            Actor.KEEPER: self.tr("the keeper"), Actor.NOBODY: self.tr("nobody"),
        }  # fmt: skip
        for actor, name in names.items():
            self.who.addItem(name, actor)
        remove = QToolButton()
        remove.setText(self.tr("Take off"))
        remove.setToolTip(self.tr("Remove this mark; undo brings it back."))
        remove.clicked.connect(self._remove)
        form = QFormLayout(self)
        form.setContentsMargins(8, 6, 8, 6)
        form.setVerticalSpacing(4)
        form.addRow(self.title)
        form.addRow(self.tr("Begins"), self.begins)
        form.addRow(self.tr("Ends"), self.ends)
        last = QHBoxLayout()
        last.addWidget(self.who, 1)
        last.addWidget(remove)
        form.addRow(self.tr("Who"), last)
        form.addRow(self.note)
        self.begins.editingFinished.connect(self._keep_times)
        self.ends.editingFinished.connect(self._keep_times)
        self.note.editingFinished.connect(self._keep_note)
        self.who.activated.connect(self._keep_who)
        workspace.selectionChanged.connect(self.show_mark)
        workspace.recordChanged.connect(self.show_mark)
        self.show_mark()

    def show_mark(self) -> None:
        """Show the selected mark; nothing where none is selected."""
        mark, record = self.workspace.mark, self.workspace.record
        self.setVisible(mark is not None)
        if mark is None or record is None:
            return
        clip, act = record.clip(mark.clip_id), record.act(mark.act)
        self.title.setText(act.label if act else mark.act)
        self.begins.setText(clock(clip.on_clock(mark.start_pts)))
        self.ends.setEnabled(mark.lasting)
        end = mark.end_pts
        self.ends.setText(clock(clip.on_clock(end)) if end is not None else "")
        self.ends.setPlaceholderText(self.tr("still open") if mark.lasting else self.tr("a moment"))
        self.who.setCurrentIndex(self.who.findData(mark.actor))
        if not self.note.hasFocus() or not self.note.isModified():
            self.note.setText(mark.note)

    def edit_note(self) -> None:
        if self.workspace.mark is not None:
            self.note.setFocus()
            self.note.selectAll()

    def _remove(self) -> None:
        if self.workspace.mark is not None:
            self.removeWanted.emit(self.workspace.mark.id)

    def _keep_times(self) -> None:
        mark, record = self.workspace.mark, self.workspace.record
        if mark is None or record is None or not (self.begins.isModified() or self.ends.isModified()):
            return
        changed = self.workspace.guard(self._typed, mark, record.clip(mark.clip_id))
        if changed is not None and changed != mark:
            self.workspace.edit(self.workspace.book.change_mark, changed)
        self.show_mark()

    def _typed(self, mark: Mark, clip: ClipRecord) -> Mark:
        film = self.workspace.film(clip.id)
        index = film.index if film else None
        start, end = mark.start_pts, mark.end_pts
        if self.begins.isModified():
            start = typed_pts(self.begins.text(), clip, index)
        if self.ends.isModified():
            end = typed_pts(self.ends.text(), clip, index) if self.ends.text().strip() else None
        if end is not None and end <= start:
            raise EndBeforeStart(clip.on_clock(start), clip.on_clock(end))
        return replace(mark, start_pts=start, end_pts=end)

    def _keep_note(self) -> None:
        mark = self.workspace.mark
        if mark is not None and self.note.isModified():
            self.note.setModified(False)
            if self.note.text() != mark.note:
                self.workspace.edit(self.workspace.book.change_mark, replace(mark, note=self.note.text()))

    def _keep_who(self) -> None:
        mark, actor = self.workspace.mark, self.who.currentData()
        if mark is not None and actor != mark.actor:
            self.workspace.edit(self.workspace.book.change_mark, replace(mark, actor=Actor(actor)))
