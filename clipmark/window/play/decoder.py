"""The decode thread of one clip: it decodes ahead of need and answers the request that was made last.

Of film larger than Full HD so few frames fit into memory that blocks would be of no use: it is held shrunk, and the
frame on which the keeper stays is decoded once more in full. The frames that a step shows next are converted for the
screen here, so that the window only has to draw them.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from clipmark.errors import ClipmarkError
from clipmark.log import log_file
from clipmark.window.play.planning import BEHIND, BEHIND_LARGE, DecodePlan, Room, kept_width, plan, room

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.picture import Picture
    from clipmark.media.frames.reader import Reader
    from clipmark.window.play.frames import FrameSource
    from clipmark.window.play.stills import Stills

PREVIEW_FROM = 8  # frames between keyframe and frame from which a preview is worth its time
NEARBY = 8  # frames round the place whose arrival is reported
STILL_S = 0.15  # seconds on one frame after which it is wanted in full
WHOLE = 4  # frames held in full at most, of film that is held shrunk
MOST_STUMBLES = 4  # errors that nobody foresaw, after which a film is given up
READY = 8  # pictures held converted for the screen at most
QUIET_S, STILL_EVERY_S = 0.5, 0.1  # stills are made once nothing was asked for so long, and one at a time
PAUSE_S = 0.2  # before decoding is begun again: what is out of memory needs a moment

Job = DecodePlan | Literal["answer", "in full", "ready", "still"]

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Wish:
    request: int
    number: int
    direction: int
    size: tuple[int, int] | None = None  # in which it is drawn, in pixels of the screen; None: not known, or its own
    answered: bool = False  # the frame was held when it was asked for
    since: float = field(default_factory=time.monotonic)


class _Left(Exception):
    """Decoding was left on the way, because the keeper is elsewhere by now."""


def whole_key(clip: Clip, number: int) -> tuple[str, int, str]:
    """Key of a frame in full, of film that is held shrunk."""
    return clip.fingerprint, number, "whole"


def _round(number: int) -> tuple[int, int, int]:
    return number, number + 1, number - 1


class Decoder(threading.Thread):
    def __init__(self, source: FrameSource, stills: Stills):
        super().__init__(name=f"frames of {source.clip.path.name}", daemon=True)
        self._source, self._clip, self._cache = source, source.clip, source._cache
        self._sharing, self._stills = source._sharing, stills
        self._starts = np.flatnonzero(source.clip.index.keyframe)
        self._changed = threading.Condition()
        self._wish: Wish | None = None
        self._ended = False
        self._at = -2  # the frame that the reader gave last
        self._width = kept_width(source.clip.width, source.clip.height)
        self._shrinks = self._width < source.clip.width
        self._frame_bytes = self._width**2 * source.clip.height // source.clip.width * 3 // 2
        self._reader: Reader | None = None
        self._second: Reader | None = None  # for frames in full: the first one is far ahead by then
        self._in_full: deque[int] = deque()
        self._told = 0  # the request that was answered last
        self._sharpened = 0  # the request whose frame was tried in full
        self._ready: deque[Picture] = deque()
        self._keys_only: Reader | None = None  # for stills
        self._last_still = 0.0
        self.damaged: set[int] = set()

    def wish(self, wish: Wish) -> None:
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
                    with suppress(_Left):
                        self._do(*found)
        finally:
            for reader in (self._second, self._keys_only):
                if reader is not None:
                    reader.close()
            self._second = self._keys_only = None

    def _do(self, wish: Wish, job: Job) -> None:
        if isinstance(job, DecodePlan):
            self._decode(wish, job)
        elif job == "answer":
            self._answer_if_held(wish)
        elif job == "in full":
            self._sharpen(wish)
        elif job == "ready":
            self._make_ready(wish)
        else:
            self._make_still(wish.number)

    def _next(self) -> tuple[Wish, Job] | None:
        """What to do next; None when the thread is to end."""
        with self._changed:
            while not self._ended:
                wait = None
                if self._wish is not None:
                    job, wait = self._job(self._wish)
                    if job is not None:
                        return self._wish, job
                self._changed.wait(wait)
        return None

    def _job(self, wish: Wish) -> tuple[Job | None, float | None]:
        """What to do for a wish, or the seconds after which there may be something to do."""
        if self._owed(wish) is not None:
            return "answer", None
        sharp = self._until_sharp(wish)
        if sharp is not None and sharp <= 0:
            return "in full", None
        if self._unready(wish) is not None:
            return "ready", None
        run = self._plan(wish)
        if run is not None:
            return run, None
        still = self._until_still(wish)
        if still is not None and still <= 0:
            return "still", None
        return None, min((wait for wait in (sharp, still) if wait is not None), default=None)

    def _plan(self, wish: Wish) -> DecodePlan | None:
        return plan(wish.number, wish.direction, len(self._clip.index), self._room(), self._held, self._group_start)

    def _room(self) -> Room:
        behind = BEHIND_LARGE if self._shrinks else BEHIND
        return room(self._cache.limit_bytes, self._frame_bytes, self._sharing, behind)

    def _held(self, number: int) -> bool:
        return number in self.damaged or (self._clip.fingerprint, number) in self._cache

    def _group_start(self, number: int) -> int:
        place = int(np.searchsorted(self._starts, number, side="right")) - 1
        return int(self._starts[place]) if place >= 0 else 0

    def _decode(self, wish: Wish, run: DecodePlan) -> None:
        start = self._group_start(run.keep)
        if start <= self._at < run.keep or self._at == run.keep - 1:
            start = self._at + 1
        self._keep_what_is_needed(wish, run)
        if wish.number in self.damaged:
            self._told = wish.request  # it was said when it was asked for
        sent = self._held(wish.number) or wish.direction != 0 or wish.number - start < PREVIEW_FROM
        key = None if sent else self._preview(wish.number)
        if key is not None:
            sent = True
            self._source._answer.emit(wish.request, key, False)

        def passing(picture: Picture) -> None:
            nonlocal sent
            self._at = picture.number
            self._leave_if_elsewhere(wish, picture.number, run)
            if self._stills.wants(picture.number):
                self._stills.put(picture)
            if not sent and self._wish is wish:
                sent = True
                self._source._answer.emit(wish.request, picture, False)

        for number in range(run.keep, run.stop):
            self._leave_if_elsewhere(wish, number, run)
            picture = self._read(number, passing)
            while self._make_ready(self._wish or wish):
                pass
            now = self._wish or wish
            asked = number == now.number and not now.answered and now.request != self._told
            if picture is not None:
                self._keep(picture, asked)
            elif asked:
                self._told = now.request
                self._source._missing.emit(now.request, number)
            if self._answer_if_held(self._wish or wish) or asked:
                continue
            if not sent and picture is not None and number < now.number:
                sent = True
                self._source._answer.emit(now.request, picture, False)
            elif abs(number - now.number) <= NEARBY:
                self._source.nearby.emit()

    def _owed(self, wish: Wish) -> Picture | None:
        """The frame that is held by now and was not when it was asked for, or while it came in; None: nothing."""
        return None if wish.answered or wish.request == self._told else self._source.picture(wish.number)

    def _answer_if_held(self, wish: Wish) -> bool:
        """Send the frame that was asked for, once. Asked last, as a wish may come in while its frame is put away."""
        picture = self._owed(wish)
        if picture is not None:
            self._told = wish.request
            self._convert(picture, wish.size)
            self._source._answer.emit(wish.request, picture, True)
        return picture is not None

    def _preview(self, number: int) -> Picture | None:
        """What is shown until the frame is there: its keyframe, else the nearest still."""
        key: Picture | None = self._cache.get((self._clip.fingerprint, self._group_start(number)))
        return key or self._stills.nearest(number)

    def _leave_if_elsewhere(self, wish: Wish, number: int, run: DecodePlan) -> None:
        now = self._wish
        assert now is not None
        if self._ended or (now is not wish and self._elsewhere(now, wish, number, run)):
            raise _Left
        wait = self._until_sharp(now)
        if wait is not None and wait <= 0:
            raise _Left

    def _elsewhere(self, now: Wish, wish: Wish, number: int, run: DecodePlan) -> bool:
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
        if self._stills.wants(picture.number):
            self._stills.put(picture)
        kept = picture.shrunk(self._width)
        self._cache.put((self._clip.fingerprint, picture.number), kept)
        self._frame_bytes = kept.nbytes

    def _keep_whole(self, picture: Picture) -> None:
        if picture.number in self._in_full:
            self._in_full.remove(picture.number)
        self._in_full.append(picture.number)
        self._cache.put(whole_key(self._clip, picture.number), picture)
        while len(self._in_full) > WHOLE:
            self._cache.drop(whole_key(self._clip, self._in_full.popleft()))

    def _until_sharp(self, wish: Wish) -> float | None:
        """Seconds until the frame is wanted in full, once it is held shrunk; None: not at all, or not yet."""
        if not (self._shrinks and self._source._in_full) or wish.request == self._sharpened:
            return None
        if (self._clip.fingerprint, wish.number) not in self._cache or whole_key(
            self._clip, wish.number
        ) in self._cache:
            return None
        following = wish.number + wish.direction
        if wish.direction and 0 <= following < len(self._clip.index) and not self._held(following):
            return None  # the next step comes first
        return wish.since + STILL_S - time.monotonic()

    def _sharpen(self, wish: Wish) -> None:
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
                self._convert(picture, wish.size)
                self._source._answer.emit(wish.request, picture, True)

    def _unready(self, wish: Wish) -> Picture | None:
        """The frame on view, or one that a step shows next, which is held and not converted for the screen yet."""
        way = wish.direction
        for number in (wish.number + step * way for step in range(4)) if way else _round(wish.number):
            picture = self._source.picture(number)
            if picture is None:
                if number == wish.number:
                    return None
            elif not picture.is_ready(*(wish.size or (picture.width, picture.height))):
                return picture
        return None

    def _make_ready(self, wish: Wish) -> bool:
        """Convert the next frame that is wanted converted; False where all are."""
        picture = self._unready(wish)
        if picture is not None:
            self._convert(picture, wish.size)
        return picture is not None

    def _convert(self, picture: Picture, size: tuple[int, int] | None) -> None:
        picture.make_ready(*(size or (picture.width, picture.height)))
        self._ready.append(picture)
        while len(self._ready) > READY:
            gone = self._ready.popleft()
            if gone not in self._ready:
                gone.forget_ready()

    def _until_still(self, wish: Wish) -> float | None:
        """Seconds until the next still is to be made; None: there is none to make."""
        if self._stills.next(wish.number) is None:
            return None
        return max(wish.since + QUIET_S, self._last_still + STILL_EVERY_S) - time.monotonic()

    def _make_still(self, place: int) -> None:
        from clipmark.media.frames.reader import FrameLost, Reader

        number = self._stills.next(place)
        if number is None:
            return
        if self._keys_only is None:
            self._keys_only = Reader(self._clip, threads=1, quick=True)
        try:
            self._stills.put(self._keys_only.frame(number))
        except FrameLost:
            self._stills.give_up(number)
        self._last_still = time.monotonic()

    def _keep_what_is_needed(self, wish: Wish, run: DecodePlan) -> None:
        # The cache drops what was used longest ago, and frames not yet shown were never used: touch those between
        # the place and the run, or a new block would push out the very frames that are shown next.
        low, high = sorted((wish.number, run.keep if run.keep > wish.number else run.stop))
        for number in range(low, min(high, low + 300) + 1):
            self._cache.get((self._clip.fingerprint, number))
