"""The log roll on the session in the workspace: shows its state, turns what the keeper points at into edits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QTimer, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QMenu, QToolButton, QVBoxLayout, QWidget

from clipmark import settings as declared
from clipmark.book.model import ClipRecord, Mark
from clipmark.motion.result import Floats, Trace
from clipmark.motion.rhythm.agreement import doubt_folded
from clipmark.motion.rhythm.values import Bout
from clipmark.progress import Progress
from clipmark.report.films.listening import Heard, listen, rhythms
from clipmark.report.films.seeing import kept_seen
from clipmark.review.lanes import at, lanes
from clipmark.review.moving_lanes import MovingLane
from clipmark.review.roll_model import Curve, build
from clipmark.window.roll.bouts import HeardBout, placed
from clipmark.window.roll.told import told
from clipmark.window.roll.view import Roll
from clipmark.window.shared.parts import Elided
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.media.clip import Clip


class LogRoll(QWidget):
    """Reads and edits through the workspace alone; takes nothing else. `roll` is the drawn surface.

    Signals: listened(): `bouts`, the rhythms heard and seen in the session's film, may have changed."""

    listened = Signal()

    def __init__(self, workspace: Workspace):
        super().__init__()
        self.workspace = workspace
        self.roll = Roll()
        self._stale = True
        self._framed: tuple[int, Fraction] | None = None
        self.bouts: tuple[HeardBout, ...] = ()
        self._sounds: dict[str, tuple[Heard, tuple[Bout, ...]] | None] = {}
        self.holds_back: Callable[[int], bool] = lambda clip_id: False  # a clip that is not to be listened to yet
        self._lay_out()
        workspace.recordChanged.connect(self._refresh)
        workspace.sessionChanged.connect(self.roll.show_whole)
        workspace.reviewerChanged.connect(self._refresh)
        workspace.placeChanged.connect(self._show_place)
        workspace.selectionChanged.connect(self._show_selection)
        workspace.clipReady.connect(lambda _: self._refresh())
        self.roll.placeWanted.connect(self._go)
        self.roll.selected.connect(self._select)
        self.roll.activated.connect(self._show_on_film)
        self.roll.endDragged.connect(self._move_end)
        self.roll.menuWanted.connect(self._menu)

    def _lay_out(self) -> None:
        self.told = Elided("faint")
        row = QHBoxLayout()
        row.addWidget(self.told, 1)
        for sign, tip, do in (
            ("−", self.tr("Further: more of the session at one look (−)"), lambda: self.roll.zoom(1 / 1.5)),
            ("+", self.tr("Closer: up to single frames (+)"), lambda: self.roll.zoom(1.5)),
            (self.tr("All"), self.tr("The whole session at one look (*)"), self.roll.show_whole),
        ):
            button = QToolButton()
            button.setText(sign)
            button.setToolTip(tip)
            button.setAccessibleName(tip)
            button.setAutoRaise(True)
            button.clicked.connect(lambda _=False, do=do: do())
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.roll, 1)
        column.addLayout(row)
        self.setFocusProxy(self.roll)

    # showing

    def _refresh(self) -> None:
        """Once for many changes, and only while somebody can see it."""
        if not self._stale:
            self._stale = True
            if self.isVisible():
                QTimer.singleShot(0, self.rebuild)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._stale:
            self.rebuild()

    def rebuild(self) -> None:
        """Draw the present state of the session."""
        self._stale = False
        record = self.workspace.record
        if record is None:
            from clipmark.review.roll_model import EMPTY

            self.roll.set_model(EMPTY)
            self.bouts = ()
            self.roll.set_sound((), np.empty(0))
            self.listened.emit()
            return
        others = not self.workspace.settings.get(declared.BLIND)
        before = self.roll.model
        self.roll.set_model(build(record, self._traces(), self.workspace.reviewer, others=others, before=before))
        self._show_place()
        self._show_selection()
        self.show_sound()

    def _traces(self) -> dict[int, tuple[Trace, NDArray[np.int64]]]:
        found = {}
        for clip in self.workspace.record.clips if self.workspace.record else ():
            film, trace = self.workspace.film(clip.id), self.workspace.trace(clip.id)
            if film is not None and trace is not None and len(film.index.pts) == len(trace.pull):
                found[clip.id] = (trace, film.index.pts)
        return found

    def _show_place(self) -> None:
        if self._stale or self.workspace.record is None:
            return
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        if clip is not None and film is not None and self._framed != (clip.id, clip.offset):
            self._framed = (clip.id, clip.offset)
            self.roll.set_frames(_on_clock(clip, film.index.pts))
        self.roll.set_place(self.workspace.place)

    def _show_selection(self) -> None:
        if self._stale:
            return
        mark, flag = self.workspace.mark, self.workspace.flag
        self.roll.select(*(("mark", mark.id) if mark else ("flag", flag.id) if flag else ("", 0)))
        item = self.roll.selection
        self.told.set_text(told(item) if item else "")

    def show_sound(self) -> None:
        """Sound levels are computed once a film file, beside the window."""
        record = self.workspace.record
        for clip in record.clips if record else ():
            film = self.workspace.film(clip.id)
            if film is None or film.sound is None or clip.fingerprint in self._sounds or self.holds_back(clip.id):
                continue
            self._sounds[clip.fingerprint] = None
            self.workspace.tasks.run(
                self.tr("Listening to {0}").format(film.path.name),
                partial(_listened, film),
                partial(self._heard, clip.fingerprint),
                lambda error: self.workspace.say(str(error), "note"),
            )
        self._heard("", None)

    def _heard(self, fingerprint: str, heard: tuple[Heard, tuple[Bout, ...]] | None) -> None:
        if fingerprint:
            self._sounds[fingerprint] = heard
        record = self.workspace.record
        curves, taps, bouts = [], [np.empty(0)], []
        for clip in record.clips if record else ():
            known = self._sounds.get(clip.fingerprint)
            if known is not None:
                sound, rhythm = known
                curves.append(Curve(sound.times + float(clip.offset), sound.levels))
                taps.append(sound.onsets + float(clip.offset))
                bouts += [placed(bout, float(clip.offset)) for bout in rhythm]
            film = self.workspace.film(clip.id)
            seen = kept_seen(clip.fingerprint) if film is not None and self.workspace.trace(clip.id) else None
            if film is not None and seen:
                seen_here = doubt_folded(list(seen), list(known[1] if known else ()), film.index.seconds())
                bouts += [placed(bout, float(clip.offset)) for bout in seen_here]
        self.bouts = tuple(sorted(bouts, key=lambda bout: bout.start))
        self.roll.set_sound(tuple(curves), np.concatenate(taps), self.bouts)
        self.listened.emit()

    def show_moving(self, lanes: tuple[MovingLane, ...]) -> None:
        """Draw how much moves along the ruler."""
        self.roll.set_moving(lanes)

    # what the keeper wants

    def _clip_at(self, place: Fraction) -> int | None:
        """The clip that has film at a time: the current one where it has, else the first that has."""
        here = [c for c in (self.workspace.record.clips if self.workspace.record else ()) if _covers(c, place)]
        if any(clip.id == self.workspace.clip_id for clip in here):
            return self.workspace.clip_id
        return here[0].id if here else None

    def _go(self, place: Fraction) -> None:
        self.workspace.go(place, self._clip_at(place))

    def _select(self, kind: str, id: int) -> None:
        if kind == "flag":
            self.workspace.select_flag(id, go=False)
        else:
            self.workspace.select_mark(id if kind else None, go=False)

    def _show_on_film(self, kind: str, id: int) -> None:
        (self.workspace.select_flag if kind == "flag" else self.workspace.select_mark)(id)
        self.workspace.show_page("film")

    def _move_end(self, mark_id: int, end: str, place: Fraction) -> None:
        record = self.workspace.record
        mark = next((m for m in record.marks if m.id == mark_id), None) if record else None
        if mark is None or record is None:
            return
        pts = self._nearest_pts(record.clip(mark.clip_id), place)
        moved = moved_end(mark, end, pts)
        if moved != mark:
            self.workspace.edit(self.workspace.book.change_mark, moved)

    def _nearest_pts(self, clip: ClipRecord, place: Fraction) -> int:
        record = self.workspace.record
        if place >= clip.on_clock(clip.end_pts) and record is not None:
            # the camera cut its film into files: an act goes on into the next
            lane = next((lane for lane in lanes(record.clips) if any(c.id == clip.id for c in lane)), ())
            later = at(lane, place)
            if later is not None and later.id != clip.id:
                return clip.pts_at(later.on_clock(self._nearest_pts(later, place)))
        film = self.workspace.film(clip.id)
        if film is None:
            return clip.pts_at(place)
        pts = film.index.pts
        return int(pts[int(np.argmin(np.abs(_on_clock(clip, pts) - float(place))))])

    def _menu(self, kind: str, id: int, at: QPoint) -> None:
        menu = QMenu(self)
        menu.addAction(self.tr("Show on the film"), lambda: self._show_on_film(kind, id))
        if kind == "flag":
            menu.addAction(self.tr("Go to its call"), lambda: self.workspace.show_page("pulls"))
        else:
            menu.addAction(
                self.tr("Take this mark off"), lambda: self.workspace.edit(self.workspace.book.remove_mark, id)
            )
        menu.popup(at)


def _listened(film: Clip, progress: Progress) -> tuple[Heard, tuple[Bout, ...]] | None:
    """What is heard in a film and the rhythms in it; None where it has no sound. For a background task."""
    heard = listen(film, progress)
    return None if heard is None else (heard, rhythms(film, heard))


def moved_end(mark: Mark, end: str, pts: int) -> Mark:
    """The mark with one end moved; an end never passes the other one."""
    if end == "start":
        latest = mark.end_pts if mark.end_pts is not None else pts
        return replace(mark, start_pts=min(pts, latest))
    return replace(mark, end_pts=max(pts, mark.start_pts))


def _covers(clip: ClipRecord, place: Fraction) -> bool:
    return clip.offset <= place < clip.on_clock(clip.end_pts)


def _on_clock(clip: ClipRecord, pts: NDArray[np.int64]) -> Floats:
    return np.asarray(float(clip.offset) + (pts - clip.first_pts) * float(clip.time_base), dtype=np.float64)
