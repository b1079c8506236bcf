"""The session's film: add clips, order them, put them on the session clock, find footage that was moved."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QFileDialog, QHeaderView, QTableWidget, QTableWidgetItem

from clipmark.book.model import ClipRecord
from clipmark.errors import ClipmarkError
from clipmark.media.filetime import Begun, begun, offsets
from clipmark.progress import Progress
from clipmark.timebase import TimeUnreadable, clock, parse_clock
from clipmark.window.pair.align_panel import clip_name
from clipmark.window.shared.parts import Card, button, label, row
from clipmark.window.workspace import Workspace

_FILE, _CAMERA, _BEGINS, _ENDS, _STATE = range(5)
_ID = int(Qt.ItemDataRole.UserRole)


class ClipsCard(Card):
    """Signals:
    alignWanted(): put two cameras on one clock."""

    alignWanted = Signal()

    def __init__(self, workspace: Workspace):
        super().__init__(self.tr("Film"))
        self.workspace = workspace
        self._filling = False
        self._lay_out()
        workspace.clipReady.connect(lambda _: self.refresh())
        workspace.clipLost.connect(lambda *_: self.refresh())

    def _lay_out(self) -> None:
        self.add = button(self.tr("Add film…"), self.choose, self.tr("Or drop film files anywhere on the window"))
        self.head.addWidget(self.add)
        self.table = QTableWidget(0, 5)
        self.table.setHorizontalHeaderLabels(
            [self.tr("File"), self.tr("Camera"), self.tr("Begins"), self.tr("Ends"), self.tr("State")]
        )
        self.table.verticalHeader().setVisible(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setAccessibleName(self.tr("Clips of this session"))
        self.table.setAccessibleDescription(self.tr("Camera and the time at which a clip begins can be typed over."))
        self.table.setTabKeyNavigation(False)
        self.table.verticalHeader().setDefaultSectionSize(round(1.7 * self.fontMetrics().height()))
        self.table.setFixedHeight(10 * self.fontMetrics().height())
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(_FILE, QHeaderView.ResizeMode.Stretch)
        self.table.itemChanged.connect(self._typed)
        self.table.itemSelectionChanged.connect(self._show_buttons)
        self.hint = label(self.tr("No film yet: press “Add film…”, or drop files on the window."), "faint")
        self.earlier = button(
            self.tr("↑ Earlier"), lambda: self.shift_order(-1), self.tr("Put it before the clip above")
        )
        self.later = button(self.tr("↓ Later"), lambda: self.shift_order(1), self.tr("Put it after the clip below"))
        self.by_time = button(
            self.tr("By file times"),
            self.place_by_times,
            self.tr("Put all clips on the clock as their files tell it"),
        )
        self.in_row = button(
            self.tr("One after another"), self.place_in_row, self.tr("Each clip begins where the one above ends")
        )
        self.align = button(
            self.tr("Two cameras…"), self.alignWanted.emit, self.tr("By one common moment, or from the sound of both")
        )
        self.find_button = button(
            self.tr("Find again…"), self.choose_folder, self.tr("Look for footage that was moved")
        )
        self.take_off = button(self.tr("Take off"), self.remove, self.tr("Out of the session; the file stays"))
        self.body.addWidget(self.hint)
        self.body.addWidget(self.table, 1)
        self.body.addLayout(row(self.earlier, self.later, self.in_row, 1))
        self.body.addLayout(row(self.by_time, self.align, self.find_button, self.take_off, 1))

    # showing

    def refresh(self) -> None:
        """Show the clips as they are now."""
        record = self.workspace.record
        clips = record.clips if record else ()
        self._filling = True
        chosen = self.chosen
        self.table.setRowCount(len(clips))
        for number, clip in enumerate(clips):
            self._fill(number, clip)
            if chosen is not None and clip.id == chosen.id:
                self.table.selectRow(number)
        self._filling = False
        self.hint.setVisible(not clips)
        self.table.setVisible(bool(clips))
        self._show_buttons()

    def _fill(self, number: int, clip: ClipRecord) -> None:
        lost = self.workspace.lost(clip.id)
        state = (
            self.tr("not found") if lost else self.tr("ready") if self.workspace.film(clip.id) else self.tr("opening")
        )
        file = clip.path.replace("\\", "/").rsplit("/", 1)[-1]
        texts = (file, clip.camera, clock(clip.offset), clock(clip.on_clock(clip.end_pts)), state)
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            item.setData(_ID, clip.id)
            item.setToolTip(lost or clip.path)
            if column not in (_CAMERA, _BEGINS):
                item.setFlags(item.flags() & ~Qt.ItemFlag.ItemIsEditable)
            self.table.setItem(number, column, item)

    @property
    def chosen(self) -> ClipRecord | None:
        """The clip of the selected row."""
        item = self.table.item(self.table.currentRow(), _FILE) if self.table.currentRow() >= 0 else None
        record = self.workspace.record
        if item is None or record is None:
            return None
        return next((clip for clip in record.clips if clip.id == item.data(_ID)), None)

    def _show_buttons(self) -> None:
        record = self.workspace.record
        count = len(record.clips) if record else 0
        for one in (self.by_time, self.in_row, self.align):
            one.setEnabled(count > 1)
        for one in (self.earlier, self.later):
            one.setEnabled(count > 1 and self.chosen is not None)
        self.take_off.setEnabled(self.chosen is not None)
        self.find_button.setEnabled(any(self.workspace.lost(clip.id) for clip in (record.clips if record else ())))

    # what the keeper does

    def choose(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self, self.tr("Add film"))
        self.add_films([Path(name) for name in names])

    def add_films(self, paths: list[Path]) -> None:
        """Add films one after another in the given order."""
        self.workspace.add_films(paths)

    def _typed(self, item: QTableWidgetItem) -> None:
        record = self.workspace.record
        if self._filling or record is None:
            return
        clip = record.clip(int(item.data(_ID)))
        if item.column() == _CAMERA and item.text().strip() != clip.camera:
            self.workspace.edit(self.workspace.book.change_clip, replace(clip, camera=item.text().strip()))
        elif item.column() == _BEGINS:
            try:
                offset = parse_clock(item.text())
            except TimeUnreadable as error:
                self.workspace.say(str(error), "wrong")
                self.refresh()
                return
            if clock(offset) != clock(clip.offset):
                self.workspace.edit(self.workspace.book.move_clip, clip.id, offset)

    def shift_order(self, by: int) -> None:
        """Swap the chosen clip with its neighbour, and lay all one after another in the new order."""
        record, clip = self.workspace.record, self.chosen
        if record is None or clip is None:
            return
        order = list(record.clips)
        here = order.index(clip)
        there = here + by
        if 0 <= there < len(order):
            order[here], order[there] = order[there], order[here]
            self._lay(order)
            self.table.selectRow(there)

    def place_in_row(self) -> None:
        record = self.workspace.record
        if record is not None:
            self._lay(list(record.clips))

    def _lay(self, order: list[ClipRecord]) -> None:
        at = min((clip.offset for clip in order), default=Fraction(0))
        places = {}
        for clip in order:
            places[clip.id] = at
            at += (clip.end_pts - clip.first_pts) * clip.time_base
        self._place(places, self.tr("lay the clips one after another"))

    def _place(self, places: dict[int, Fraction], label_text: str) -> None:
        record, book = self.workspace.record, self.workspace.book
        if record is None:
            return

        def write() -> bool:
            with book.together(label_text):
                for clip in record.clips:
                    if places[clip.id] != clip.offset:
                        book.move_clip(clip.id, places[clip.id])
            return True

        self.workspace.edit(write)

    def place_by_times(self) -> None:
        """Put all clips on the clock as their files tell it."""
        record = self.workspace.record
        if record is None:
            return
        found: list[Begun] = []
        for clip in record.clips:
            try:
                found.append(begun(Path(clip.path), (clip.end_pts - clip.first_pts) * clip.time_base))
            except (OSError, ClipmarkError):
                words = self.tr("“{0}” is not there, so its time cannot be read. Find it again first.")
                self.workspace.say(words.format(clip_name(clip)), "wrong")
                return
        at = offsets([one.at for one in found])
        self._place(
            {clip.id: place for clip, place in zip(record.clips, at, strict=True)}, self.tr("place by file times")
        )
        if all(one.told == "recorded" for one in found):
            words = self.tr(
                "Placed as the cameras recorded it. Their clocks seldom agree to the second: look at both."
            )
        else:
            words = self.tr("Placed by the files' own times, as no recording time was in them: look whether it fits.")
        self.workspace.say(words, "done")

    def remove(self) -> None:
        clip = self.chosen
        if clip is None:
            return
        self.workspace.edit(self.workspace.book.remove_clip, clip.id)
        record = self.workspace.record
        if record is None or clip.id not in {one.id for one in record.clips}:
            said = self.tr("“{0}” was taken off with its marks and flags. Undo brings it back.")
            self.workspace.say(said.format(clip_name(clip)), "done")

    # moved footage

    def choose_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self, self.tr("Where may the footage be?"))
        if name:
            self.search(Path(name))

    def search(self, folder: Path) -> None:
        """Look below a folder for the files of the lost clips: by size first, then by fingerprint."""
        record = self.workspace.record
        lost = [clip for clip in (record.clips if record else ()) if self.workspace.lost(clip.id)]
        if lost:
            self.workspace.tasks.run(
                self.tr("Looking for moved footage"),
                lambda progress: find_moved(folder, lost, progress),
                lambda found: self._found(lost, found),
                lambda error: self.workspace.say(str(error), "wrong"),
            )

    def _found(self, lost: list[ClipRecord], found: dict[int, Path]) -> None:
        for clip_id, path in found.items():
            if self.workspace.edit(self.workspace.book.relink_clip, clip_id, path) is not None:
                self.workspace.reopen(clip_id)
        if len(found) == len(lost):
            self.workspace.say(self.tr("All footage was found again."), "done")
        else:
            words = self.tr("{0} of {1} clips were found there. Choose another folder for the rest.")
            self.workspace.say(words.format(len(found), len(lost)), "note")


def find_moved(folder: Path, lost: list[ClipRecord], progress: Progress) -> dict[int, Path]:
    """For clips that are not where the book says, the file below `folder` with their size and fingerprint.

    Raises:
        Cancelled: through `progress`.
    """
    from clipmark.media.fingerprint import fingerprint

    sizes = {clip.size for clip in lost}
    found: dict[int, Path] = {}
    for number, path in enumerate(_files(folder)):
        progress.advance(number, 0)
        try:
            if path.stat().st_size not in sizes:
                continue
            mark = fingerprint(path)
        except OSError:
            continue
        for clip in lost:
            if clip.id not in found and clip.fingerprint == mark:
                found[clip.id] = path
        if len(found) == len(lost):
            break
    return found


def _files(folder: Path) -> Iterator[Path]:
    """Every file below a folder; folders that may not be read are passed over."""
    for place, _, names in os.walk(folder):
        for name in names:
            yield Path(place) / name
