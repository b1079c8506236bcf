"""Frames of one clip on their way to the screen: a decode thread fills a bounded window round the place.

Why: decoding forward takes a few milliseconds a frame, but a step backwards or a jump may have to decode a whole
group of pictures first. So frames are decoded ahead of need, more of them in the direction of travel, backwards in
blocks. Of film larger than Full HD so few frames fit into memory that blocks would be of no use: it is held shrunk,
and the frame on which the keeper stays is decoded once more in full.
How a request runs:
  1. `ask(number)` numbers the request and answers at once when the frame is held.
  2. Otherwise the thread leaves what it does, unless that leads to the frame anyway.
  3. It decodes from the keyframe on. Where many frames lie between, the nearest still or the keyframe is sent ahead
     as a preview.
  4. It keeps what the window wants, and sends the frame when it comes out.
  5. An answer whose request is no longer the last one is dropped on arrival.
  6. Where the frame is held shrunk and no other has been asked for within `STILL_S`, it is sent again in full.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from clipmark.window.play.decoder import Decoder, Wish, whole_key
from clipmark.window.play.stills import Stills

if TYPE_CHECKING:
    from clipmark.media.clip import Clip
    from clipmark.media.frames.cache import FrameCache
    from clipmark.media.frames.picture import Picture


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
        stills: Stills | None = None,
    ):
        """
        Args:
            stills: those of this clip that are there from before; what is made is put among them.
            sharing: sources that share the cache.
            in_full: whether large film is wanted in full where the keeper stays.
        """
        super().__init__(parent)
        self.clip = clip
        self._cache, self._sharing, self._in_full = cache, sharing, in_full
        self._request = 0
        self._answer.connect(self._take)
        self._missing.connect(self._take_missing)
        self.stills = stills or Stills(clip.index)
        self._thread = Decoder(self, self.stills)
        self._thread.start()

    def ask(self, number: int, direction: int = 0, size: tuple[int, int] | None = None) -> Picture | None:
        """Frame `number` if it is held, else None: it comes through `arrived`. Tells where the keeper is going, and
        in which `size` frames are drawn (pixels of the screen), so that they can be converted ahead."""
        self._request += 1
        held = self.picture(number)
        self._thread.wish(Wish(self._request, number, direction, size, answered=held is not None))
        if held is None and number in self._thread.damaged:
            self._missing.emit(self._request, number)
        return held

    def picture(self, number: int) -> Picture | None:
        """A frame that is held, in full if it can be; None otherwise. Asks for nothing."""
        whole = self._cache.get(whole_key(self.clip, number))
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
