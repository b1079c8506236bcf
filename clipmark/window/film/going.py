"""Going to places of the film: a frame's number, a typed time, the next act, flag, cut or bare shot; and loops."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PySide6.QtCore import QObject

from clipmark.review.jumps import next_place
from clipmark.timebase import parse_clock
from clipmark.window.film.moving import Moving
from clipmark.window.film.outlining import seen_alone, without_outline
from clipmark.window.play.player import Player
from clipmark.window.workspace import Workspace


class Going(QObject):
    """What the keys that go somewhere do; where there is nowhere to go, it is said."""

    def __init__(self, workspace: Workspace, player: Player, moving: Moving, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace, self.player, self.moving = workspace, player, moving

    def to_number(self, number: int) -> None:
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        if clip is not None and film is not None:
            self.player.pause()
            number = number if number >= 0 else len(film.index) - 1
            self.player.go(clip.on_clock(int(film.index.pts[number])), clip.id)

    def to_typed(self, text: str) -> None:
        place = self.workspace.guard(parse_clock, text)
        if place is not None:
            # shown times are rounded to the millisecond; half of one more finds the frame that was read off
            self.player.go(place + Fraction(1, 2000))

    def to_mark(self, way: int) -> None:
        record = self.workspace.record
        if record is None:
            return
        places = [(record.clip(m.clip_id).on_clock(m.start_pts), m.id) for m in record.marks]
        found = next_place(places, self.player.place, way, self.workspace.mark_id)
        if found is None:
            self.workspace.say(self.tr("There is no further mark that way."), "note")
        else:
            self.workspace.select_mark(found)

    def to_flag(self, way: int) -> None:
        record = self.workspace.record
        if record is None:
            return
        places = [(self.workspace.flag_place(f), f.id) for f in record.flags if f.flagged]
        found = next_place(places, self.player.place, way, self.workspace.flag_id)
        if found is None:
            self.workspace.say(self.tr("There is no further flag that way. F5 runs the motion pass."), "note")
        else:
            self.workspace.select_flag(found)

    def to_cut(self, way: int) -> None:
        record, clip = self.workspace.record, self.workspace.clip
        shots = [s for s in (record.shots if record else ()) if clip and s.clip_id == clip.id]
        if clip is None or len(shots) < 2:
            self.workspace.say(self.tr("No cuts are known in this clip. The motion pass (F5) finds them."), "note")
            return
        places = [(clip.on_clock(seen_alone(record, s)), s.id) for s in shots if record]
        found = next_place(places, self.player.place, way, None)
        if found is not None:
            self.player.go(next(place for place, which in places if which == found), clip.id)

    def to_moving(self, way: int) -> None:
        place = self.moving.neighbour(self.player.place, way)
        if place is not None:
            self.player.go(place)
        elif self.moving.stretches():
            self.workspace.say(self.tr("Nothing moves further that way."), "note")
        else:
            self.workspace.say(self.tr("Nothing is known yet of where something moves in this film."), "note")

    def to_next_bare(self) -> None:
        clip, number = self.workspace.clip, self.player.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            return
        bare = without_outline(self.workspace, clip)
        if not bare:
            self._to_bare_clip()
            return
        here = int(film.index.pts[number])
        start = next((span[0] for span in bare if span[0] > here), bare[0][0])
        self.player.go(clip.on_clock(int(film.index.pts[int(np.searchsorted(film.index.pts, start))])), clip.id)

    def _to_bare_clip(self) -> None:
        """On in the next clip of the session that lacks an outline; it is said where none does."""
        record = self.workspace.record
        for other in record.clips if record else ():
            spans = without_outline(self.workspace, other)
            if spans:
                self.player.go(other.on_clock(spans[0][0]), other.id)
                return
        self.workspace.say(self.tr("Her abdomen is outlined in every shot of every clip."), "done")

    # --- loops

    def toggle_loop(self) -> None:
        if self.player.loop is not None:
            self.player.set_loop(None)
            return
        self.player.set_loop(self._span_to_repeat())
        self.player.play()

    def _span_to_repeat(self) -> tuple[Fraction, Fraction]:
        """The selected act or flag with half a second round it, else a second to each side."""
        workspace, half = self.workspace, Fraction(1, 2)
        record, mark, flag = workspace.record, workspace.mark, workspace.flag
        if record is not None and mark is not None:
            clip = record.clip(mark.clip_id)
            return clip.on_clock(mark.start_pts) - half, clip.on_clock(mark.end_pts or mark.start_pts) + half
        if record is not None and flag is not None:
            clip = record.clip(flag.clip_id)
            return clip.on_clock(flag.onset_pts) - half, clip.on_clock(flag.release_pts or flag.full_pts) + half
        return self.player.place - 1, self.player.place + 1

    def set_loop(self, start: Fraction | None = None, end: Fraction | None = None) -> None:
        old = self.player.loop
        start = start if start is not None else (old[0] if old else self.player.place - 2)
        end = end if end is not None else (old[1] if old and old[1] > start else start + 2)
        self.player.set_loop((start, end))

    def end_of_frame(self) -> Fraction:
        clip, number = self.workspace.clip, self.player.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            return self.player.place
        after = int(film.index.pts[number + 1]) if number + 1 < len(film.index) else clip.end_pts
        return clip.on_clock(after)
