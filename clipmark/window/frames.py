"""Frames of one clip on their way to the screen: a decode thread fills a bounded window round the place.

Why: decoding forward takes a few milliseconds a frame, but a step backwards or a jump may have to decode a whole
group of pictures first. So frames are decoded ahead of need, more of them in the direction of travel, backwards in
blocks.
How a request runs:
  1. `ask(number)` numbers the request and answers at once when the frame is held.
  2. Otherwise the thread leaves what it does, unless that leads to the frame anyway.
  3. Where many frames lie between keyframe and frame, the keyframe is sent ahead as a preview.
  4. It decodes from the keyframe on, keeps what the window wants, and sends the frame when it comes out.
  5. An answer whose request is no longer the last one is dropped on arrival.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal, Slot

from clipmark.errors import ClipmarkError

if TYPE_CHECKING:
    from clipmark.media.cache import FrameCache
    from clipmark.media.clip import Clip
    from clipmark.media.picture import Picture
    from clipmark.media.reader import Reader

PREVIEW_FROM = 8  # frames between keyframe and frame from which a preview is worth its time
NEARBY = 8  # frames round the place whose arrival is reported


@dataclass(frozen=True, slots=True)
class Room:
    """How many frames to hold: `ahead` in the direction of travel, `behind` against it, `block` for going back."""

    ahead: int
    behind: int
    block: int


def room(limit_bytes: int, frame_bytes: int, sharing: int = 1) -> Room:
    """Share out the cache: together the three stay below nine tenths of what fits."""
    frames = max(limit_bytes // max(frame_bytes, 1) // max(sharing, 1), 6)
    return Room(ahead=max(min(frames * 3 // 10, 90), 2), behind=max(min(frames // 8, 30), 1),
                block=max(min(frames * 45 // 100, 250), 2))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Run:
    """Frames [keep, stop) are to be held; decoding begins at the start of keep's group."""

    keep: int
    stop: int


def plan(
    number: int,
    direction: int,
    count: int,
    room: Room,
    held: Callable[[int], bool],
    group_start: Callable[[int], int],
) -> Run | None:
    """What to decode next for somebody who stands at `number` and goes in `direction` (-1, 0, +1); None: nothing.

    Going back, the next block is begun while half a block is still in hand."""
    if not held(number):
        if direction < 0:
            return Run(max(group_start(number), number + 1 - room.block), number + 1)
        return Run(max(group_start(number), number - room.behind), min(number + 1 + room.behind, count))
    ahead, behind = (room.ahead, room.behind) if direction >= 0 else (room.behind, room.block // 2)
    on = next((n for n in range(number + 1, min(number + 1 + ahead, count)) if not held(n)), None)
    back = next((n for n in range(number - 1, max(number - 1 - behind, -1), -1) if not held(n)), None)
    forward = None if on is None else Run(on, min(number + 1 + ahead, count))
    size = room.block if direction < 0 else room.behind
    backward = None if back is None else Run(max(group_start(back), back + 1 - size), back + 1)
    return (backward or forward) if direction < 0 else (forward or backward)


@dataclass(frozen=True, slots=True)
class _Wish:
    request: int
    number: int
    direction: int


class FrameSource(QObject):
    """The frames of one clip. All calls on the main thread; one decode thread of its own until `stop`.

    Signals:
        arrived(Picture, exact): the answer to the last `ask`; not exact: the keyframe before it, as a preview.
        nearby(): frames close to the place came in.
        lost(int): the frame that was asked for does not come out of the file.
        failed(str): the file cannot be read any more; the sentence says why.
    """

    arrived = Signal(object, bool)
    nearby = Signal()
    lost = Signal(int)
    failed = Signal(str)
    _answer = Signal(int, object, bool)
    _missing = Signal(int, int)

    def __init__(self, clip: Clip, cache: FrameCache[Picture], sharing: int = 1, parent: QObject | None = None):
        super().__init__(parent)
        self.clip = clip
        self._cache, self._sharing = cache, sharing
        self._request = 0
        self._answer.connect(self._take)
        self._missing.connect(self._take_missing)
        self._thread = _Decoder(self)
        self._thread.start()

    def ask(self, number: int, direction: int = 0) -> Picture | None:
        """Frame `number` if it is held, else None: it comes through `arrived`. Tells where the keeper is going."""
        self._request += 1
        held = self.picture(number)
        self._thread.wish(_Wish(self._request, number, direction))
        if held is None and number in self._thread.damaged:
            self._missing.emit(self._request, number)
        return held

    def picture(self, number: int) -> Picture | None:
        """A frame that is held; None otherwise. Asks for nothing."""
        return self._cache.get((self.clip.fingerprint, number))

    def ready(self, number: int) -> bool:
        return (self.clip.fingerprint, number) in self._cache

    def damaged(self, number: int) -> bool:
        """Whether the frame was tried and does not come out of the file."""
        return number in self._thread.damaged

    def stop(self) -> None:
        """End the thread and wait for it."""
        self._thread.end()

    @Slot(int, object, bool)
    def _take(self, request: int, picture: Picture, exact: bool) -> None:
        if request == self._request:
            self.arrived.emit(picture, exact)

    @Slot(int, int)
    def _take_missing(self, request: int, number: int) -> None:
        if request == self._request:
            self.lost.emit(number)


class _Decoder(threading.Thread):
    def __init__(self, source: FrameSource):
        super().__init__(name=f"frames of {source.clip.path.name}", daemon=True)
        self._source, self._clip, self._cache = source, source.clip, source._cache
        self._sharing = source._sharing
        self._starts = np.flatnonzero(source.clip.index.keyframe)
        self._changed = threading.Condition()
        self._wish: _Wish | None = None
        self._ended = False
        self._at = -2  # the frame that the reader gave last
        self._frame_bytes = source.clip.width * source.clip.height * 3 // 2
        self._reader: Reader | None = None
        self._quick: Reader | None = None
        self.damaged: set[int] = set()

    def wish(self, wish: _Wish) -> None:
        with self._changed:
            self._wish = wish
            self._changed.notify()

    def end(self) -> None:
        with self._changed:
            self._ended = True
            self._changed.notify()
        self.join()

    def run(self) -> None:
        from clipmark.media.reader import Reader

        try:
            with Reader(self._clip) as self._reader:
                while True:
                    found = self._next()
                    if found is None:
                        return
                    self._decode(*found)
        except ClipmarkError as error:
            self._source.failed.emit(str(error))
        finally:
            if self._quick is not None:
                self._quick.close()

    def _next(self) -> tuple[_Wish, Run] | None:
        with self._changed:
            while not self._ended:
                if self._wish is not None:
                    run = self._plan(self._wish)
                    if run is not None:
                        return self._wish, run
                self._changed.wait()
        return None

    def _plan(self, wish: _Wish) -> Run | None:
        return plan(wish.number, wish.direction, len(self._clip.index), self._room(), self._held, self._group_start)

    def _room(self) -> Room:
        return room(self._cache.limit_bytes, self._frame_bytes, self._sharing)

    def _held(self, number: int) -> bool:
        return number in self.damaged or (self._clip.fingerprint, number) in self._cache

    def _group_start(self, number: int) -> int:
        place = int(np.searchsorted(self._starts, number, side="right")) - 1
        return int(self._starts[place]) if place >= 0 else 0

    def _decode(self, wish: _Wish, run: Run) -> None:
        start = self._group_start(run.keep)
        if start <= self._at < run.keep or self._at == run.keep - 1:
            start = self._at + 1
        self._preview(wish, start)
        self._keep_what_is_needed(wish, run)
        reported = wish.request if self._held(wish.number) else 0
        for number in range(start, run.stop):
            now = self._wish
            assert now is not None
            if self._ended or (now is not wish and self._elsewhere(now, wish, number, run)):
                return
            picture = self._read(number)
            if picture is not None and number >= run.keep:
                self._cache.put((self._clip.fingerprint, number), picture)
                self._frame_bytes = picture.nbytes
            now = self._wish or wish
            if number == now.number and now.request != reported:
                reported = now.request
                if picture is None:
                    self._source._missing.emit(now.request, number)
                else:
                    self._source._answer.emit(now.request, picture, True)
            elif abs(number - now.number) <= NEARBY:
                self._source.nearby.emit()

    def _elsewhere(self, now: _Wish, wish: _Wish, number: int, run: Run) -> bool:
        """Whether going on with this run would keep the keeper waiting."""
        if not self._held(now.number):
            return not number <= now.number < run.stop
        turned = now.direction != wish.direction and now.direction != 0
        return turned or not run.keep - 300 < now.number < run.stop + 300

    def _read(self, number: int) -> Picture | None:
        from clipmark.media.reader import FrameLost

        assert self._reader is not None
        if number in self.damaged:
            return None
        try:
            picture = self._reader.frame(number)
        except FrameLost:
            self.damaged.add(number)
            return None
        self._at = number
        return picture

    def _preview(self, wish: _Wish, start: int) -> None:
        """Send the keyframe ahead when the exact frame is many frames of decoding away."""
        from clipmark.media.reader import FrameLost, Reader

        if self._held(wish.number) or wish.direction != 0 or wish.number - start < PREVIEW_FROM:
            return
        key = self._group_start(wish.number)
        picture = self._cache.get((self._clip.fingerprint, key))
        if picture is None:
            if self._quick is None:  # only now: the first frame of a film should not wait for it
                self._quick = Reader(self._clip, quick=True)
            try:
                picture = self._quick.nearest_key(wish.number)
            except FrameLost:
                return
        self._source._answer.emit(wish.request, picture, False)

    def _keep_what_is_needed(self, wish: _Wish, run: Run) -> None:
        # The cache drops what was used longest ago, and frames not yet shown were never used: touch those between
        # the place and the run, or a new block would push out the very frames that are shown next.
        low, high = sorted((wish.number, run.keep if run.keep > wish.number else run.stop))
        for number in range(low, min(high, low + 300) + 1):
            self._cache.get((self._clip.fingerprint, number))
