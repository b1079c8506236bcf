"""Acts placed on the film by one key each: a moment at once, a lasting act begun by one press and ended by the next.

A mark belongs to the frame that was on the screen at the key press, not to one that was asked for.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication

from clipmark.book.model import Act, ClipRecord, Mark
from clipmark.review import lanes
from clipmark.timebase import clock
from clipmark.window.play.player import Player
from clipmark.window.workspace import Workspace


def _tr(text: str) -> str:
    return QCoreApplication.translate("Marking", text)


class Marking:
    def __init__(self, workspace: Workspace, player: Player):
        self.workspace, self.player = workspace, player

    def open_marks(self) -> tuple[Mark, ...]:
        """Lasting acts of this reviewer that have not ended yet, oldest first."""
        self.workspace.settle()
        record = self.workspace.record
        who = self.workspace.reviewer
        marks = record.marks if record else ()
        return tuple(m for m in marks if m.lasting and m.end_pts is None and m.reviewer == who)

    def press(self, act: Act) -> Mark | None:
        """What an act's key does: place the moment, begin the lasting act, or end it where it is open."""
        self.workspace.settle()
        for mark in self.open_marks():
            if mark.act == act.code:
                return self.end(mark)
        here = self._here()
        if here is None:
            return None
        clip, pts = here
        mark = Mark(0, clip.id, act.code, act.actor, pts, None, act.lasting, self.workspace.reviewer)
        added = self.workspace.edit_soon(self.workspace.book.add_mark, mark)
        if added is not None:
            self._select(added.id)
            said = _tr("{0}: begun at {1}") if act.lasting else _tr("{0}: marked at {1}")
            self.workspace.say(said.format(act.label, clock(clip.on_clock(pts))), "done")
        return added

    def end(self, mark: Mark) -> Mark | None:
        """End an open act with the frame on the screen: the first in which it is over. On the frame where it began
        the act lasts that one frame; before it nothing is changed."""
        record = self.workspace.record
        if record is None:
            return None
        clip = record.clip(mark.clip_id)
        pts = self._end_pts(mark, clip)
        if pts is None:
            return None
        ended = self.workspace.edit_soon(self.workspace.book.close_mark, mark.id, pts)
        if ended is not None:
            self._select(mark.id)
            label = self._label(mark)
            long = float((pts - mark.start_pts) * clip.time_base)
            self.workspace.say(_tr("{0}: ended, {1:.2f} s").format(label, long), "done")
        return ended

    def _select(self, mark_id: int) -> None:
        # told to the others with the snapshot that knows the mark
        self.workspace.mark_id, self.workspace.flag_id = mark_id, None

    def end_all(self) -> None:
        self.workspace.settle()
        for mark in self.open_marks():
            self.end(mark)

    def _end_pts(self, mark: Mark, clip: ClipRecord) -> int | None:
        film, number = self.workspace.film(clip.id), self._number(clip)
        if number is None or film is None:
            if self.player.place >= lanes.end_of(clip):
                return self._over_the_seam(clip)
            self._say_before(mark, clip)
            return None
        pts = int(film.index.pts[number])
        if pts > mark.start_pts:
            return pts
        if pts < mark.start_pts:
            self._say_before(mark, clip)
            return None
        return int(film.index.pts[number + 1]) if number + 1 < len(film.index) else clip.end_pts

    def _over_the_seam(self, clip: ClipRecord) -> int | None:
        """The frame on the screen in a later clip of the same camera, as a tick of the clip in which the act began:
        a camera that cuts its film into files does not end what the animals do. Else the clip's end."""
        lane = next((lane for lane in self.player.lanes if any(one.id == clip.id for one in lane)), ())
        later = lanes.at(lane, self.player.place)
        if later is None:
            return clip.end_pts  # the film ran out before the act did
        film, number = self.workspace.film(later.id), self._number(later)
        if film is None or number is None:
            self.workspace.say(_tr("The frame itself is not shown yet. Press again when it is."), "note")
            return None
        return clip.pts_at(later.on_clock(int(film.index.pts[number])))

    def _say_before(self, mark: Mark, clip: ClipRecord) -> None:
        began = clock(clip.on_clock(mark.start_pts))
        self.workspace.say(
            _tr("“{0}” began at {1}; it cannot end before that. Go on in the film, or take the mark off.").format(
                self._label(mark), began
            ),
            "wrong",
        )

    def _label(self, mark: Mark) -> str:
        act = self.workspace.record.act(mark.act) if self.workspace.record else None
        return act.label if act else mark.act

    def _here(self) -> tuple[ClipRecord, int] | None:
        """The current clip and the tick of its frame on the screen."""
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None:
            self.workspace.say(_tr("There is no film to mark yet. Add one with Ctrl+O, or drop it here."), "note")
            return None
        number = self._number(clip)
        if number is None:
            self.workspace.say(_tr("The frame itself is not shown yet. Press again when it is."), "note")
            return None
        return clip, int(film.index.pts[number])

    def _number(self, clip: ClipRecord) -> int | None:
        shown = self.player.shown_number(clip.id)
        if self.player.running:
            return shown
        # standing still: the place is exact; a frame on its way (shown: a preview, or the one before) does not count
        number = self.player.number(clip)
        source = self.player.source(clip.id)
        broken = number is not None and source is not None and source.damaged(number)
        return number if number is not None and (number == shown or broken) else None
