"""Frames of one clip on their way to the screen: a decode thread fills a bounded window round the place.

Why: decoding forward takes a few milliseconds a frame, but a step backwards or a jump may have to decode a whole
group of pictures first. So frames are decoded ahead of need, more of them in the direction of travel, backwards in
blocks. Of film larger than Full HD so few frames fit into memory that blocks would be of no use: it is held shrunk,
and the frame on which the keeper stays is decoded once more in full.
How a request runs:
  1. `ask(number)` numbers the request and answers at once when the frame is held.
  2. Otherwise the thread leaves what it does, unless that leads to the frame anyway.
  3. It decodes from the keyframe on. Where many frames lie between, the keyframe is sent ahead as a preview.
  4. It keeps what the window wants, and sends the frame when it comes out.
  5. An answer whose request is no longer the last one is dropped on arrival.
  6. Where the frame is held shrunk and no other has been asked for within `STILL_S`, it is sent again in full.
"""

from __future__ import annotations

import logging
import math
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal, Slot

from clipmark.errors import ClipmarkError
from clipmark.log import log_file

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.cache import FrameCache
    from clipmark.media.frames.picture import Picture
    from clipmark.media.frames.reader import Reader

PREVIEW_FROM = 8  # frames between keyframe and frame from which a preview is worth its time
NEARBY = 8  # frames round the place whose arrival is reported
LARGE = 4 << 20  # bytes of a frame above which film is held shrunk
SHRUNK = 2 << 20  # bytes of a shrunk frame at most
STILL_S = 0.15  # seconds on one frame after which it is wanted in full
WHOLE = 4  # frames held in full at most, of film that is held shrunk
MOST_STUMBLES = 4  # errors that nobody foresaw, after which a film is given up
PAUSE_S = 0.2  # before decoding is begun again: what is out of memory needs a moment
BEHIND, BEHIND_LARGE = 30, 8  # frames held against the direction of travel at most: a jump waits for them


log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Room:
    """How many frames to hold: `ahead` in the direction of travel, `behind` against it, `block` for going back."""

    ahead: int
    behind: int
    block: int


def room(limit_bytes: int, frame_bytes: int, sharing: int = 1, behind: int = BEHIND) -> Room:
    """Share out the cache: together the three stay below nine tenths of what fits."""
    frames = max(limit_bytes // max(frame_bytes, 1) // max(sharing, 1), 6)
    return Room(ahead=max(min(frames * 3 // 10, 90), 2), behind=max(min(frames // 8, behind), 1),
                block=max(min(frames * 45 // 100, 250), 2))  # fmt: skip


def kept_width(width: int, height: int) -> int:
    """Width in which frames of a film are held: its own, or a whole part of it where the film is large."""
    nbytes = width * height * 3 // 2
    return width if nbytes <= LARGE else width // math.ceil(math.sqrt(nbytes / SHRUNK))


@dataclass(frozen=True, slots=True)
class DecodePlan:
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
) -> DecodePlan | None:
    """What to decode next for somebody who stands at `number` and goes in `direction` (-1, 0, +1); None: nothing.

    Going back, the next block is begun while half a block is still in hand."""
    if not held(number):
        if direction < 0:
            return DecodePlan(max(group_start(number), number + 1 - room.block), number + 1)
        return DecodePlan(max(group_start(number), number - room.behind), min(number + 1 + room.behind, count))
    ahead, behind = (room.ahead, room.behind) if direction >= 0 else (room.behind, room.block // 2)
    on = next((n for n in range(number + 1, min(number + 1 + ahead, count)) if not held(n)), None)
    back = next((n for n in range(number - 1, max(number - 1 - behind, -1), -1) if not held(n)), None)
    forward = None if on is None else DecodePlan(on, min(number + 1 + ahead, count))
    size = room.block if direction < 0 else room.behind
    backward = None if back is None else DecodePlan(max(group_start(back), back + 1 - size), back + 1)
    return (backward or forward) if direction < 0 else (forward or backward)


@dataclass(frozen=True, slots=True)
class _Wish:
    request: int
    number: int
    direction: int
    since: float = field(default_factory=time.monotonic)


class _Left(Exception):
    """Decoding was left on the way, because the keeper is elsewhere by now."""


class FrameSource(QObject):
    """The frames of one clip. All calls on the main thread; one decode thread of its own until `stop`.

    Signals:
        arrived(Picture, exact): the answer to the last `ask`; not exact: the keyframe before it, as a preview. A
            frame that was given shrunk comes a second time in full.
        nearby(): frames close to the place came in.
        lost(int): the frame that was asked for does not come out of the file.
        failed(str): the file cannot be read any more; the sentence says why.
        stumbled(str): decoding broke off by an error that nobody foresaw, and was begun again.
    """

    arrived = Signal(object, bool)
    nearby = Signal()
    lost = Signal(int)
    failed = Signal(str)
    stumbled = Signal(str)
    _answer = Signal(int, object, bool)
    _missing = Signal(int, int)

    def __init__(
        self,
        clip: Clip,
        cache: FrameCache[Picture],
        sharing: int = 1,
        parent: QObject | None = None,
        in_full: bool = True,
    ):
        """
        Args:
            sharing: sources that share the cache.
            in_full: whether large film is wanted in full where the keeper stays.
        """
        super().__init__(parent)
        self.clip = clip
        self._cache, self._sharing, self._in_full = cache, sharing, in_full
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
        """A frame that is held, in full if it can be; None otherwise. Asks for nothing."""
        whole = self._cache.get(_whole(self.clip, number))
        kept = self._cache.get((self.clip.fingerprint, number))  # both count as used
        return whole or kept

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


def _whole(clip: Clip, number: int) -> tuple[str, int, str]:
    """Key of a frame in full, of film that is held shrunk."""
    return clip.fingerprint, number, "whole"


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
        self._width = kept_width(source.clip.width, source.clip.height)
        self._shrinks = self._width < source.clip.width
        self._frame_bytes = self._width**2 * source.clip.height // source.clip.width * 3 // 2
        self._reader: Reader | None = None
        self._second: Reader | None = None  # for frames in full: the first one is far ahead by then
        self._in_full: deque[int] = deque()
        self._sharpened = 0  # the request whose frame was tried in full
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
        """Decode until the end; after an error that nobody foresaw begin anew, a few times."""
        for stumbles in range(MOST_STUMBLES):
            try:
                self._serve()
                return
            except ClipmarkError as error:
                self._source.failed.emit(str(error))
                return
            except Exception as error:
                log.exception("decoding %s", self._clip.path)
                name, why = self._clip.path.name, error or type(error).__name__
                if stumbles + 1 < MOST_STUMBLES:
                    self._source.stumbled.emit(f"Decoding “{name}” broke off ({why}) and was begun again.")
                    time.sleep(PAUSE_S)
                else:
                    said = f"“{name}” could not be decoded any further ({why}). More is in the log, “{log_file()}”."
                    self._source.failed.emit(said)

    def _serve(self) -> None:
        from clipmark.media.frames.reader import Reader

        self._at = -2
        try:
            with Reader(self._clip) as self._reader:
                while True:
                    found = self._next()
                    if found is None:
                        return
                    wish, run = found
                    try:
                        if run is None:
                            self._sharpen(wish)
                        else:
                            self._decode(wish, run)
                    except _Left:
                        pass
        finally:
            if self._second is not None:
                self._second.close()
                self._second = None

    def _next(self) -> tuple[_Wish, DecodePlan | None] | None:
        """What to do next: a run, or (None) the frame in full; nothing at all when the thread is to end."""
        with self._changed:
            while not self._ended:
                wait = None
                if self._wish is not None:
                    wait = self._until_sharp(self._wish)
                    if wait is not None and wait <= 0:
                        return self._wish, None
                    run = self._plan(self._wish)
                    if run is not None:
                        return self._wish, run
                self._changed.wait(wait)
        return None

    def _plan(self, wish: _Wish) -> DecodePlan | None:
        return plan(wish.number, wish.direction, len(self._clip.index), self._room(), self._held, self._group_start)

    def _room(self) -> Room:
        behind = BEHIND_LARGE if self._shrinks else BEHIND
        return room(self._cache.limit_bytes, self._frame_bytes, self._sharing, behind)

    def _held(self, number: int) -> bool:
        return number in self.damaged or (self._clip.fingerprint, number) in self._cache

    def _group_start(self, number: int) -> int:
        place = int(np.searchsorted(self._starts, number, side="right")) - 1
        return int(self._starts[place]) if place >= 0 else 0

    def _decode(self, wish: _Wish, run: DecodePlan) -> None:
        start = self._group_start(run.keep)
        if start <= self._at < run.keep or self._at == run.keep - 1:
            start = self._at + 1
        self._keep_what_is_needed(wish, run)
        reported = wish.request if self._held(wish.number) else 0
        sent = self._held(wish.number) or wish.direction != 0 or wish.number - start < PREVIEW_FROM
        key = None if sent else self._cache.get((self._clip.fingerprint, self._group_start(wish.number)))
        if key is not None:
            sent = True
            self._source._answer.emit(wish.request, key, False)

        def passing(picture: Picture) -> None:
            nonlocal sent
            self._at = picture.number
            self._leave_if_elsewhere(wish, picture.number, run)
            if not sent and self._wish is wish:
                sent = True
                self._source._answer.emit(wish.request, picture, False)

        for number in range(run.keep, run.stop):
            self._leave_if_elsewhere(wish, number, run)
            picture = self._read(number, passing)
            now = self._wish or wish
            asked = number == now.number and now.request != reported
            if picture is not None:
                self._keep(picture, asked)
            if asked:
                reported = now.request
                if picture is None:
                    self._source._missing.emit(now.request, number)
                else:
                    self._source._answer.emit(now.request, picture, True)
            elif not sent and picture is not None and number < now.number:
                sent = True
                self._source._answer.emit(now.request, picture, False)
            elif abs(number - now.number) <= NEARBY:
                self._source.nearby.emit()

    def _leave_if_elsewhere(self, wish: _Wish, number: int, run: DecodePlan) -> None:
        now = self._wish
        assert now is not None
        if self._ended or (now is not wish and self._elsewhere(now, wish, number, run)):
            raise _Left
        wait = self._until_sharp(now)
        if wait is not None and wait <= 0:
            raise _Left

    def _elsewhere(self, now: _Wish, wish: _Wish, number: int, run: DecodePlan) -> bool:
        """Whether going on with this run would keep the keeper waiting."""
        if not self._held(now.number):
            return not number <= now.number < run.stop or now.number < run.keep
        turned = now.direction != wish.direction and now.direction != 0
        return turned or not run.keep - 300 < now.number < run.stop + 300

    def _read(self, number: int, passing: Callable[[Picture], None]) -> Picture | None:
        from clipmark.media.frames.reader import FrameLost

        assert self._reader is not None
        if number in self.damaged:
            return None
        try:
            picture = self._reader.frame(number, passing)
        except FrameLost:
            self.damaged.add(number)
            return None
        self._at = number
        return picture

    def _keep(self, picture: Picture, asked: bool) -> None:
        """Hold a frame as the cache holds this film; the one that was asked for also in full."""
        if asked and self._shrinks:
            self._keep_whole(picture)
        kept = picture.shrunk(self._width)
        self._cache.put((self._clip.fingerprint, picture.number), kept)
        self._frame_bytes = kept.nbytes

    def _keep_whole(self, picture: Picture) -> None:
        if picture.number in self._in_full:
            self._in_full.remove(picture.number)
        self._in_full.append(picture.number)
        self._cache.put(_whole(self._clip, picture.number), picture)
        while len(self._in_full) > WHOLE:
            self._cache.drop(_whole(self._clip, self._in_full.popleft()))

    def _until_sharp(self, wish: _Wish) -> float | None:
        """Seconds until the frame is wanted in full, once it is held shrunk; None: not at all, or not yet."""
        if not (self._shrinks and self._source._in_full) or wish.request == self._sharpened:
            return None
        if (self._clip.fingerprint, wish.number) not in self._cache or _whole(self._clip, wish.number) in self._cache:
            return None
        following = wish.number + wish.direction
        if wish.direction and 0 <= following < len(self._clip.index) and not self._held(following):
            return None  # the next step comes first
        return wish.since + STILL_S - time.monotonic()

    def _sharpen(self, wish: _Wish) -> None:
        """Send the frame again, in full; going back, those before it are held in full too."""
        from clipmark.media.frames.reader import FrameLost, Reader

        def passing(_: Picture) -> None:
            if self._ended or self._wish is not wish:
                raise _Left

        if self._second is None:
            self._second = Reader(self._clip)
        self._sharpened = wish.request
        first = max(self._group_start(wish.number), wish.number + 1 - WHOLE) if wish.direction < 0 else wish.number
        for number in range(first, wish.number + 1):
            try:
                picture = self._second.frame(number, passing)
            except FrameLost:
                continue
            self._keep_whole(picture)
            if number == wish.number:
                self._source._answer.emit(wish.request, picture, True)

    def _keep_what_is_needed(self, wish: _Wish, run: DecodePlan) -> None:
        # The cache drops what was used longest ago, and frames not yet shown were never used: touch those between
        # the place and the run, or a new block would push out the very frames that are shown next.
        low, high = sorted((wish.number, run.keep if run.keep > wish.number else run.stop))
        for number in range(low, min(high, low + 300) + 1):
            self._cache.get((self._clip.fingerprint, number))
