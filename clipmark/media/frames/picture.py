"""One decoded frame, and the arrays that are made of it: grey for the motion pass, colours for the screen."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

Bytes = NDArray[np.uint8]

# Formats whose first plane is the brightness, one value a pixel.
_LUMA_FIRST = ("yuv4", "yuvj4", "yuva4", "nv12", "nv21", "nv16", "gray")


@dataclass(frozen=True, slots=True)
class Turn:
    """How a stored picture is turned for showing: mirrored first (left to right), then turned clockwise."""

    degrees: int = 0
    mirrored: bool = False

    @property
    def sideways(self) -> bool:
        """Whether the picture is shown turned by a quarter."""
        return self.degrees in (90, 270)

    def shown(self, picture: Bytes) -> Bytes:
        """The picture as displayed: (h, w) or (h, w, channels), contiguous."""
        if self.mirrored:
            picture = picture[:, ::-1]
        if self.degrees:
            picture = np.rot90(picture, -self.degrees // 90)
        return np.ascontiguousarray(picture)


_own = threading.local()


def _reformat(frame: VideoFrame, **wanted: Any) -> VideoFrame:
    """Convert by the library's scaler; each thread has one of its own, which also keeps its tables between frames."""
    import av
    from av.video.reformatter import VideoReformatter

    if not hasattr(_own, "reformatter"):
        _own.reformatter = VideoReformatter()
    reformatter: VideoReformatter = _own.reformatter
    # One thread: a frame for the screen takes 1 to 2 ms, and waiting for helpers takes longer on a busy machine.
    try:
        return reformatter.reformat(frame, threads=1, **wanted)
    except av.FFmpegError:
        # A matrix of colours that the scaler does not know: film of a rare kind, or a damaged head of a frame.
        near = "ITU709" if frame.height >= 720 else "ITU601"
        return reformatter.reformat(frame, threads=1, **{**wanted, "src_colorspace": near, "dst_colorspace": near})


class Picture:
    """Frame `number` of a clip, decoded. Sizes are those of the picture as displayed (turn applied).

    Attributes:
        damaged: part of it was not in the file and is filled in by the decoder, or it leans on such a frame.
        film_size: (width, height) of the film's own picture, larger than this one where it is `reduced`.
    """

    __slots__ = ("_frame", "_ready", "_turn", "damaged", "film_size", "height", "nbytes", "number", "pts", "width")

    def __init__(
        self,
        frame: VideoFrame,
        number: int,
        pts: int,
        turn: Turn,
        damaged: bool = False,
        film_size: tuple[int, int] | None = None,
    ):
        self._frame, self._turn = frame, turn
        self._ready: Bytes | None = None
        self.number, self.pts, self.damaged = number, pts, damaged
        sides = (frame.width, frame.height)
        self.width, self.height = sides[::-1] if turn.sideways else sides
        self.film_size = (self.width, self.height) if film_size is None else film_size
        self.nbytes: int = sum(plane.buffer_size for plane in frame.planes)

    @property
    def reduced(self) -> bool:
        """Whether it holds fewer pixels than the film has."""
        return self.width < self.film_size[0]

    def grey(self, width: int | None = None, height: int | None = None) -> Bytes:
        """Brightness as coded, shape (height, width); shrunk by averaging where a width is given.

        Film of the usual kind keeps brightness in 16..235; formats without a brightness plane are converted.
        """
        width, height = self._fit(width, height)
        stored = (height, width) if self._turn.sideways else (width, height)
        luma, bits = self._luma(stored)
        if (luma.shape[1], luma.shape[0]) != stored:
            import cv2

            luma = cv2.resize(luma, stored, interpolation=cv2.INTER_AREA)
        if bits > 8:
            luma = (luma >> (bits - 8)).astype(np.uint8)
        return self._turn.shown(luma)

    def rgb(self, width: int | None = None, height: int | None = None) -> Bytes:
        """Colours, shape (height, width, 3), red first."""
        return self._coloured("rgb24", 3, width, height, "BICUBIC")

    def bgra(self, width: int | None = None, height: int | None = None) -> Bytes:
        """Colours for the screen, shape (height, width, 4), blue first, opaque; contiguous."""
        ready = self._ready
        if ready is not None and ready.shape[:2] == self._fit(width, height)[::-1]:
            return ready
        return self._coloured("bgra", 4, width, height, "FAST_BILINEAR")

    def make_ready(self, width: int, height: int) -> None:
        """Convert for the screen ahead, for a `bgra` of this size that is wanted soon. From any thread."""
        if not self.is_ready(width, height):
            self._ready = self.bgra(width, height)

    def is_ready(self, width: int, height: int) -> bool:
        """Whether `bgra` of this size is there already."""
        ready = self._ready
        return ready is not None and ready.shape[:2] == (height, width)

    def forget_ready(self) -> None:
        """Give back the memory of `make_ready`."""
        self._ready = None

    def shrunk(self, width: int) -> Picture:
        """A smaller picture of the same frame, at most `width` wide: less memory, quicker to draw."""
        if width >= self.width:
            return self
        width, height = self._fit(width, None)
        stored = (height, width) if self._turn.sideways else (width, height)
        small = _reformat(
            self._frame,
            width=stored[0],
            height=stored[1],
            format=_plain(self._frame.format.name),
            interpolation="AREA",
        )
        return Picture(small, self.number, self.pts, self._turn, self.damaged, self.film_size)

    def _fit(self, width: int | None, height: int | None) -> tuple[int, int]:
        """Asked size; a missing side follows from the other by the picture's own shape."""
        if width is None and height is None:
            return self.width, self.height
        if width is None:
            width = max(round((height or 1) * self.width / self.height), 1)
        if height is None:
            height = max(round(width * self.height / self.width), 1)
        return width, height

    def _luma(self, stored: tuple[int, int]) -> tuple[NDArray[Any], int]:
        """The brightness plane as a view without line padding, and its bits; converted where there is none."""
        frame = self._frame
        name = frame.format.name
        bits = frame.format.components[0].bits
        if name.startswith(_LUMA_FIRST) and 8 <= bits <= 16 and not name.endswith("be"):
            plane = frame.planes[0]
            kind = np.dtype("<u2") if bits > 8 else np.dtype(np.uint8)
            step = plane.line_size // kind.itemsize
            if plane.line_size > 0 and plane.buffer_size >= plane.line_size * frame.height and name != "ya8":
                lines = np.frombuffer(memoryview(plane), kind, count=step * frame.height).reshape(frame.height, step)
                return lines[:, : frame.width], bits
        grey = _reformat(frame, width=stored[0], height=stored[1], format="gray", interpolation="AREA")
        return _packed(grey, 1)[:, :, 0], 8

    def _coloured(self, kind: str, channels: int, width: int | None, height: int | None, how: str) -> Bytes:
        width, height = self._fit(width, height)
        stored = (height, width) if self._turn.sideways else (width, height)
        # Film of HD size that does not say its colours is BT.709, smaller film BT.601: common practice, no source.
        unsaid = int(self._frame.colorspace) == 2 and self._frame.height >= 720
        frame = _reformat(
            self._frame,
            width=stored[0],
            height=stored[1],
            format=kind,
            interpolation=how,
            src_colorspace="ITU709" if unsaid else None,
        )
        return self._turn.shown(_packed(frame, channels))


def _packed(frame: VideoFrame, channels: int) -> Bytes:
    """A frame of one packed plane as (h, w, channels), a view without line padding."""
    plane = frame.planes[0]
    lines = np.frombuffer(memoryview(plane), np.uint8, count=plane.line_size * frame.height)
    view: Bytes = lines.reshape(frame.height, plane.line_size)[:, : frame.width * channels]
    return view.reshape(frame.height, frame.width, channels)


def _plain(name: str) -> str:
    """The format in which a shrunk picture is kept: 8-bit 4:2:0 where the film is of that kind, else RGB."""
    return "yuv420p" if name.startswith(("yuv", "nv1", "nv2", "p01")) and not name.startswith("yuvj") else "rgb24"


def turn_of(frame: VideoFrame) -> Turn:
    """The turn that a frame asks for (phones write it beside the picture)."""
    from av.sidedata.sidedata import Type

    kept: Any = frame.side_data
    if Type.DISPLAYMATRIX not in kept:
        return Turn()
    data = kept[Type.DISPLAYMATRIX]
    matrix = np.frombuffer(bytes(data), np.int32)  # nine numbers, of which four matter here
    if len(matrix) < 5:
        return Turn()
    # Columns tell where the stored picture's right and down go: (a, b) and (c, d).
    a, b, c, d = (int(matrix[i]) for i in (0, 1, 3, 4))
    mirrored = a * d - b * c < 0
    if mirrored:
        a, b = -a, -b
    degrees = round(np.degrees(np.arctan2(b, a)) / 90) * 90 % 360
    return Turn(int(degrees), mirrored)
