"""Where the film stands and how it runs: one session clock, every camera's frame on it.

Stepping and jumping go by the index of the current clip. While it runs, a master clock says which frame is due: the
sound device at 1x where the clip has sound, else a timer. Silent film waits for a frame that is not there yet (no
frame is skipped in the current clip at 1x and slower). Faster than it can be decoded it goes on from keyframe to
keyframe. The speed that was really reached is told.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Qt, QTimer, Signal

from clipmark.book.model import ClipRecord
from clipmark.review import lanes
from clipmark.window.play.clock import RunClock
from clipmark.window.play.frames import FrameSource
from clipmark.window.play.hearing import Hearing
from clipmark.window.play.stills import Stills
from clipmark.window.workspace import Workspace

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.picture import Picture

SPEEDS = tuple(Fraction(text) for text in ("1/16", "1/8", "1/4", "1/2", "1", "2", "4", "8"))
_TELL_EVERY_S = 0.05  # while it runs the other widgets are told of the place at most so often
_LATE = Fraction(1, 20)  # seconds that the screen may lag behind
_FAR_BEHIND = Fraction(3, 10)  # seconds that it lags behind, faster than 1x, when it goes on from a later keyframe


class Player(QObject):
    """Shows the workspace's place, and runs it.

    Signals:
        shown(clip_id, Picture, exact): this frame of this clip is to be shown now.
        off(clip_id): no frame of this clip belongs to the place.
        missing(clip_id, number): the frame is damaged and cannot be shown.
        nearby(clip_id): frames close to the place came into the cache.
        moved(): the place or the current clip changed (each frame while it runs).
        changed(): running, speed or loop changed.
    """

    shown = Signal(int, object, bool)
    off = Signal(int)
    missing = Signal(int, int)
    nearby = Signal(int)
    moved = Signal()
    changed = Signal()

    def __init__(self, workspace: Workspace, parent: QObject | None = None):
        super().__init__(parent)
        self.workspace = workspace
        self.awake = False
        self.running = False
        self.speed = Fraction(1)
        self.loop: tuple[Fraction, Fraction] | None = None
        self.hearing = Hearing(self)
        self.hearing.failed.connect(self._sound_failed)
        self.clock = RunClock()
        self.key_held: Callable[[], bool] = lambda: False  # whether a step comes from a key that is held down
        self.skipping = False  # leave out where nothing moves, while it runs
        self.skip: Callable[[Fraction], Fraction | None] = lambda place: None  # where to go on from a still place
        # in which size a clip's frames are drawn, in pixels of the screen
        self.drawn_size: Callable[[int], tuple[int, int] | None] = lambda clip_id: None
        self._stills: dict[str, Stills] = {}  # by fingerprint: kept while the page is away
        self._held_up = False
        self._leap: int | None = None  # the keyframe that is waited for, faster than the film can be decoded
        self._sources: dict[int, FrameSource] = {}
        self._on_screen: dict[int, int] = {}
        self._own_move = False
        self._told = 0.0
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._tick)
        workspace.placeChanged.connect(self._follow)
        workspace.sessionChanged.connect(self._drop_all)
        workspace.recordChanged.connect(self._drop_gone)
        workspace.clipReady.connect(self._film_came)

    # --- what is there

    @property
    def place(self) -> Fraction:
        return self.workspace.place

    @property
    def lanes(self) -> tuple[lanes.Lane, ...]:
        record = self.workspace.record
        return lanes.lanes(record.clips) if record else ()

    def source(self, clip_id: int) -> FrameSource | None:
        """The frames of a clip; None while its film is not open, or nobody looks."""
        film = self.workspace.film(clip_id)
        if film is None or not self.awake:
            return None
        if clip_id not in self._sources:
            stills = self._stills.setdefault(film.fingerprint, Stills(film.index))
            source = FrameSource(film, self.workspace.cache, max(len(self.lanes), 1), self, stills=stills)
            source.arrived.connect(lambda picture, exact, c=clip_id: self._arrived(c, picture, exact))
            source.lost.connect(lambda number, c=clip_id: self.missing.emit(c, number))
            source.nearby.connect(lambda c=clip_id: self.nearby.emit(c))
            source.failed.connect(lambda text, c=clip_id: self._source_failed(c, text))
            source.stumbled.connect(lambda text: self.workspace.say(text, "wrong"))
            self._sources[clip_id] = source
        return self._sources[clip_id]

    def _source_failed(self, clip_id: int, text: str) -> None:
        """The film's file was changed or taken away while it was open: it counts as lost until it is opened again."""
        source = self._sources.pop(clip_id, None)
        if source is not None:
            source.stop()
            source.deleteLater()
            self._on_screen.pop(clip_id, None)
            self.workspace.lose_film(clip_id, text)

    def number(self, clip: ClipRecord | None = None, place: Fraction | None = None) -> int | None:
        """Frame of a clip (default: the current one) at a place (default: the present); None where there is none."""
        clip = clip or self.workspace.clip
        place = self.place if place is None else place
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or not lanes.covers(clip, place):
            return None
        return film.index.at_or_before(clip.pts_at(place))

    def shown_number(self, clip_id: int) -> int | None:
        """The frame of a clip that was put on the screen last; what a mark made now belongs to."""
        return self._on_screen.get(clip_id)

    # --- moving

    def wake(self) -> None:
        """Begin to show; for the page that comes to the front."""
        self.awake = True
        self.show_place()

    def sleep(self) -> None:
        """Stop running and give the decode threads back; for the page that goes."""
        self.pause()
        self.awake = False
        self._drop_all()

    def go(self, place: Fraction, clip_id: int | None = None, direction: int = 0) -> None:
        """Show the frame on screen at a session time; between clips the nearest one."""
        record = self.workspace.record
        if record is None or not record.clips:
            return
        wanted = record.clip(clip_id) if clip_id is not None else self.workspace.clip
        if wanted is None or not lanes.covers(wanted, place):
            running = [clip for clip in record.clips if lanes.covers(clip, place)]
            found = lanes.nearest(running or record.clips, place)
            assert found is not None
            wanted, place = found
        self._set_place(self._snapped(wanted, place), wanted.id)
        if self.running:
            self._restart_clock()
        self.show_place(direction)

    def _keeps_up(self) -> bool:
        """Whether a step may be taken. A held key waits until its last frame is shown, else the place runs ahead."""
        clip = self.workspace.clip
        source, number = (self.source(clip.id), self.number(clip)) if clip else (None, None)
        if not self.key_held() or clip is None or source is None or number is None:
            return True
        return self._on_screen.get(clip.id) == number or source.damaged(number)

    def step(self, frames: int) -> None:
        """Go on (or back) by frames of the current clip; past its end into the same camera's next clip."""
        self.pause()
        if not self._keeps_up():
            return
        clip, number = self.workspace.clip, self.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            return
        wanted = number + frames
        if not 0 <= wanted < len(film.index):
            neighbour = self._neighbour(clip, frames)
            if neighbour is not None:
                edge = neighbour.offset if frames > 0 else lanes.end_of(neighbour) - neighbour.time_base
                self.go(edge, neighbour.id, 1 if frames > 0 else -1)
                return
        wanted = min(max(wanted, 0), len(film.index) - 1)
        self.go(clip.on_clock(int(film.index.pts[wanted])), clip.id, 1 if frames > 0 else -1)

    def step_seconds(self, seconds: Fraction) -> None:
        self.pause()
        if not self._keeps_up():
            return
        record = self.workspace.record
        if record and record.clips:
            first = min(clip.offset for clip in record.clips)
            self.go(max(self.place + seconds, first), direction=1 if seconds > 0 else -1)

    def show_place(self, direction: int = 0) -> None:
        """Ask every camera for its frame at the place; what is held is shown at once."""
        if not self.awake:
            return
        for lane in self.lanes:
            clip = lanes.at(lane, self.place)
            for other in lane:
                if clip is None or other.id != clip.id:
                    self._on_screen.pop(other.id, None)
                    self.off.emit(other.id)
            if clip is not None:
                self._ask(clip, direction)

    def _ask(self, clip: ClipRecord, direction: int) -> None:
        source, number = self.source(clip.id), self.number(clip)
        if source is None or number is None:
            return
        picture = source.ask(number, direction, self.drawn_size(clip.id))
        if picture is not None:
            self._show(clip.id, picture)

    def _show(self, clip_id: int, picture: Picture, exact: bool = True) -> None:
        if exact:
            self._on_screen[clip_id] = picture.number
        self.shown.emit(clip_id, picture, exact)

    def _arrived(self, clip_id: int, picture: Picture, exact: bool) -> None:
        if self.running and exact and picture.number != self._on_screen.get(clip_id):
            if self._held_up:
                self._held_up = False
                self._restart_clock()
            self._tick()
            return
        self._show(clip_id, picture, exact)

    def _snapped(self, clip: ClipRecord, place: Fraction) -> Fraction:
        """The exact session time of the frame that is on screen at a place."""
        film = self.workspace.film(clip.id)
        if film is None:
            return place
        return clip.on_clock(int(film.index.pts[film.index.at_or_before(clip.pts_at(place))]))

    def _neighbour(self, clip: ClipRecord, way: int) -> ClipRecord | None:
        lane = next((lane for lane in self.lanes if clip in lane), (clip,))
        position = lane.index(clip) + (1 if way > 0 else -1)
        return lane[position] if 0 <= position < len(lane) else None

    def _set_place(self, place: Fraction, clip_id: int, tell: bool = True) -> None:
        self._own_move = True
        try:
            now = time.monotonic()
            if tell or now - self._told >= _TELL_EVERY_S:
                self._told = now
                self.workspace.go(place, clip_id)
            else:
                self.workspace.place, self.workspace.clip_id = place, clip_id
        finally:
            self._own_move = False
        self.moved.emit()

    def _follow(self) -> None:
        """Somebody else moved the place: the roll, a list, another page."""
        if not self._own_move and self.awake:
            self.go(self.place, self.workspace.clip_id)

    def _film_came(self, clip_id: int) -> None:
        if self.awake:
            self.go(self.place, self.workspace.clip_id)

    # --- running

    def toggle(self) -> None:
        if self.running:
            self.pause()
        else:
            self.play()

    def play(self) -> None:
        """Run from the place on, in the loop if one is set; at the end of all film, from its beginning."""
        record = self.workspace.record
        if self.running or record is None or not record.clips or not self.awake:
            return
        if self.loop and not self.loop[0] <= self.place < self.loop[1]:
            self.go(self.loop[0])
        elif self._at_the_end():
            self.go(min(clip.offset for clip in record.clips))
        self.running = True
        self._leap = None
        self.clock.forget_speed()
        self._restart_clock()
        self.changed.emit()
        self._tick()

    def pause(self) -> None:
        if not self.running:
            return
        self.running = False
        self._timer.stop()
        self.hearing.stop()
        self._own_move = True  # the others are told where it stopped; the picture is there already
        try:
            self.workspace.placeChanged.emit()
        finally:
            self._own_move = False
        self.changed.emit()

    def set_speed(self, speed: Fraction) -> None:
        """One of SPEEDS; takes effect at once."""
        self.speed = speed
        self.clock.forget_speed()
        if self.running:
            self._restart_clock()
        self.changed.emit()

    def faster(self, steps: int) -> None:
        position = SPEEDS.index(self.speed) if self.speed in SPEEDS else SPEEDS.index(Fraction(1))
        self.set_speed(SPEEDS[min(max(position + steps, 0), len(SPEEDS) - 1)])

    def set_loop(self, span: tuple[Fraction, Fraction] | None) -> None:
        """Repeat [start, end) of the session clock; None: no more."""
        self.loop = span if span and span[1] > span[0] else None
        if self.loop and self.running and not self.loop[0] <= self.place < self.loop[1]:
            self.go(self.loop[0])
        self.changed.emit()

    def _on_last_frame(self, clip: ClipRecord) -> bool:
        film = self.workspace.film(clip.id)
        return film is None or self.number(clip) in (None, len(film.index) - 1)

    def _at_the_end(self) -> bool:
        clip = self.workspace.clip
        return bool(clip and self._on_last_frame(clip) and self._next_film(lanes.end_of(clip)) is None)

    def _next_film(self, place: Fraction) -> Fraction | None:
        """The place, where a camera runs then; else where the next clip begins; None after the last."""
        clips = self.workspace.record.clips if self.workspace.record else ()
        if any(lanes.covers(clip, place) for clip in clips):
            return place
        return min((clip.offset for clip in clips if clip.offset > place), default=None)

    def _restart_clock(self) -> None:
        self.clock.start(self.place)
        self.hearing.stop()
        clip = self.workspace.clip
        film = self.workspace.film(clip.id) if clip else None
        if self.running and self.speed == 1 and clip is not None and film is not None:
            self.hearing.start(film, self.place - clip.offset)

    def _due(self) -> Fraction:
        """The session time that the master clock says."""
        return self.clock.due(self.speed, self.hearing.played_s())

    def _tick(self) -> None:
        if not self.running:
            return
        due = self._due()
        end = self.loop[1] if self.loop else None
        if end is not None and due >= end:
            assert self.loop is not None
            self.go(self.loop[0], direction=1)
            self._timer.start(1)
            return
        onwards = self.skip(due) if self.skipping and self.loop is None else None
        if onwards is not None:
            self.go(onwards, direction=1)
            self._timer.start(1)
            return
        clip = self.workspace.clip
        if clip is None or (due >= lanes.end_of(clip) and self._on_last_frame(clip)):
            if not self._turn_over(due):
                return
        else:
            self._advance(clip, min(due, lanes.end_of(clip) - clip.time_base))
        self._timer.start(self._wait_ms())

    def _turn_over(self, due: Fraction) -> bool:
        """The current clip has ended: go on in what runs then; False when all film is over."""
        place = self._next_film(due)
        if self.loop and (place is None or place >= self.loop[1]):
            self.go(self.loop[0], direction=1)  # the loop ends past the film's end
            return True
        if place is None:
            self.pause()
            return False
        self.go(place, direction=1)
        return True

    def _advance(self, clip: ClipRecord, due: Fraction) -> None:
        source, here, there = self.source(clip.id), self.number(clip), self.number(clip, due)
        film = self.workspace.film(clip.id)
        if source is None or film is None or here is None or there is None or there <= here:
            return
        if self._leap is not None:
            if here < self._leap and not source.ready(self._leap) and not source.damaged(self._leap):
                return
            self._leap = None
        if not self.hearing.sounding and self.speed <= 1:
            there = self._patient(clip, film, here, there, due)
        held = next((n for n in range(there, here, -1) if source.ready(n)), None)
        self._leap = self._leap_from(film, here if held is None else held, there, due - clip.offset)
        if self._leap is not None:
            source.ask(self._leap, 1)
            return
        damaged = held is None and source.damaged(here + 1)
        if held is None and not damaged:
            source.ask(here + 1 if not self.hearing.sounding else there, 1)
            if self.speed <= 1:
                self._wait_for_picture()
            return
        number = held if held is not None else here + 1
        place = clip.on_clock(int(film.index.pts[number]))
        self._set_place(place, clip.id, tell=False)
        self.clock.shown(place)
        picture = source.ask(number, 1, self.drawn_size(clip.id))
        if picture is not None:
            self._show(clip.id, picture)
        for lane in self.lanes:
            other = lanes.at(lane, place)
            if other is not None and other.id != clip.id:
                self._ask(other, 1)

    def _leap_from(self, film: Clip, shown: int, there: int, due: Fraction) -> int | None:
        """Faster than 1x, where the film cannot be decoded that fast: the keyframe to go on from, so that the speed
        is kept. `due`: seconds from the clip's first frame."""
        if self.speed <= 1 or (due - film.index.exact_seconds(shown)) / self.speed <= _FAR_BEHIND:
            return None
        keys = np.flatnonzero(film.index.keyframe[shown + 1 : there + 1])
        return shown + 1 + int(keys[-1]) if len(keys) else None

    def _patient(self, clip: ClipRecord, film: Clip, here: int, there: int, due: Fraction) -> int:
        """The frame to show in silent film that is not fast: the next one, late if need be. Only where the screen
        cannot keep up at 1x are frames left out; slower than that the clock waits for the screen."""
        late = (due - clip.on_clock(int(film.index.pts[here + 1]))) / self.speed
        if late <= _LATE:
            return here + 1
        if self.speed < 1:
            self.clock.start(clip.on_clock(int(film.index.pts[here + 1])))
            return here + 1
        return there

    def _wait_ms(self) -> int:
        """Until the next frame of the current clip is due."""
        clip, number = self.workspace.clip, self.number()
        film = self.workspace.film(clip.id) if clip else None
        if clip is None or film is None or number is None:
            return 15
        following = int(film.index.pts[number + 1]) if number + 1 < len(film.index) else film.index.end_pts
        wait = (clip.on_clock(following) - self._due()) / self.speed
        return min(max(round(wait * 1000), 1), 40)

    # --- sound

    def toggle_sound(self) -> None:
        """Hear the film at 1x, or not; says so where there is nothing to hear."""
        self.hearing.muted = not self.hearing.muted
        if self.running:
            self._restart_clock()
        if self.hearing.muted:
            said = self.tr("The sound is off.")
        elif not self.hearing.possible:
            said = self.tr("This machine has no sound output that clipmark can use; the film runs silent.")
        else:
            said = self.tr("The sound is on; it is heard at 1×.")
        self.workspace.say(said, "note")
        self.changed.emit()

    def _sound_failed(self, text: str) -> None:
        self.workspace.say(text, "wrong")
        if self.running:
            self._restart_clock()

    def _wait_for_picture(self) -> None:
        """The picture cannot follow: hold the clock (and the sound with it) until the frame is there."""
        self.hearing.stop()
        self.clock.start(self.place)
        self._held_up = True

    # --- giving back

    def _drop_all(self) -> None:
        self.pause()
        for source in self._sources.values():
            source.stop()
            source.deleteLater()
        self._sources, self._on_screen = {}, {}

    def _drop_gone(self) -> None:
        there = {clip.id for clip in self.workspace.record.clips} if self.workspace.record else set()
        for clip_id in [c for c in self._sources if c not in there]:
            source = self._sources.pop(clip_id)
            source.stop()
            source.deleteLater()
            self._on_screen.pop(clip_id, None)
