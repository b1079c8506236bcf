"""The one door to film files: local files of known kinds only, and what is said when a file will not do.

The decoder library reads playlists, scripts and network addresses as readily as films. Here it is told to open
plain files with a listed demuxer and nothing else, so a crafted file cannot make it reach anywhere.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.errors import ClipmarkError

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.video.stream import VideoStream

# Demuxers that read one file and nothing beyond it. Sound kinds are here so that "sound only" can be said.
_FILM_KINDS = (
    "mov,mp4,m4a,3gp,3g2,mj2", "matroska,webm", "avi", "mpegts", "mpeg", "mpegvideo", "flv", "asf", "rm", "swf",
    "ogg", "gif", "h264", "hevc", "m4v", "av1", "obu", "ivf", "mjpeg", "mxf", "nut", "dv", "yuv4mpegpipe", "apng",
    "webp", "h263", "h261", "vc1", "vc1test", "wtv", "amv", "dhav", "vvc", "mpjpeg",
)  # fmt: skip
_SOUND_KINDS = ("wav", "mp3", "flac", "aac", "ac3", "eac3", "aiff", "amr", "caf", "w64", "au", "ape", "wv", "dts")
_DOOR = {
    "protocol_whitelist": "file",
    "format_whitelist": ",".join((*_FILM_KINDS, *_SOUND_KINDS)),
    "enable_drefs": "0",
    "use_absolute_path": "0",
}
_COVER = 0x400  # disposition: attached picture
_DEFAULT = 0x1  # disposition: default stream


class ClipUnreadable(ClipmarkError):
    """A film file that cannot be used: which, why, and what to do."""

    def __init__(self, path: Path, reason: str, advice: str = "Check that it was copied completely."):
        super().__init__(f"“{path}” could not be read as film: {reason}. {advice}")
        self.path, self.reason = Path(path), reason


class ClipMissing(ClipUnreadable):
    def __init__(self, path: Path):
        super().__init__(path, "there is no such file", "Check the name, or plug in the drive that it lies on.")


class ClipIsFolder(ClipUnreadable):
    def __init__(self, path: Path):
        super().__init__(path, "it is a folder", "Name a film file in it.")


class ClipEmpty(ClipUnreadable):
    def __init__(self, path: Path):
        super().__init__(path, "the file is empty (0 bytes)", "Copy it from the camera again.")


class ClipCutShort(ClipUnreadable):
    def __init__(self, path: Path):
        super().__init__(
            path,
            "the index at its end is missing, so the recording or the copy was cut short",
            "Copy it again; if the camera's own file is like this, a repair program for MP4 can rebuild the index."
            + _still_written(path),
        )


def _still_written(path: Path) -> str:
    """A sentence where a file was written to within the last minute."""
    try:
        fresh = 0 <= time.time() - path.stat().st_mtime < 60
    except (OSError, ValueError):
        return ""
    return " It was written to a moment ago: if it is still being copied, wait until that is done." if fresh else ""


class NoPicture(ClipUnreadable):
    def __init__(self, path: Path):
        super().__init__(path, "it holds sound but no moving picture", "Choose the file with the picture.")


class CodecUnknown(ClipUnreadable):
    def __init__(self, path: Path, codec: str):
        super().__init__(
            path, f"its picture is coded as “{codec}”, which cannot be decoded here", "Convert it to MP4."
        )
        self.codec = codec


class MostlyLost(ClipUnreadable):
    def __init__(self, path: Path, codec: str, good: int, listed: int):
        count = (
            f"only {good} of its {listed} frames, scattered over the film,"
            if good
            else f"none of its {listed} frames"
        )
        super().__init__(
            path,
            f"{count} can be decoded (coded as “{codec}”)",
            "Copy it from the camera again, or convert it to MP4 with another program.",
        )
        self.good, self.listed = good, listed


def open_container(path: Path, glance: bool = False) -> InputContainer:
    """The file, opened for reading; the caller closes it.

    Args:
        glance: only its texts are wanted: no frame is decoded to learn more of the picture, which takes most of the
            time (PyAV before 19; later ones cannot be asked). Not for decoding: the decoder then does not know in
            which order frames are shown.

    Raises:
        ClipUnreadable: missing, a folder, empty, cut short or no film; each in its own words.
    """
    import av

    path = Path(path)
    check_file(path)
    more = _of_release(av.__version__, glance)
    try:
        # An absolute path is never taken for an address, whatever the name looks like.
        return av.open(str(path.absolute()), mode="r", options=dict(_DOOR), **more)
    except (av.FFmpegError, OSError, ValueError, UnicodeError) as error:
        if _lacks_index(path):
            raise ClipCutShort(path) from error
        reason = "it is of no kind that clipmark knows, or it is damaged from its beginning"
        raise ClipUnreadable(path, reason, "Check that it is a film, or convert it to MP4.") from error


def _of_release(version: str, glance: bool) -> dict[str, Any]:
    """What PyAV before 19 is asked besides: to open film whose texts are in any encoding (19 always does; before, a
    title that is not UTF-8 kept the film shut), and at a glance to decode nothing (19 cannot be asked)."""
    if int(version.split(".")[0]) >= 19:
        return {}
    more: dict[str, Any] = {"metadata_errors": "surrogateescape"}
    return more | ({"stream_options": [{"skip_frame": "all"}] * 8} if glance else {})


def check_file(path: Path) -> None:
    """
    Raises:
        ClipUnreadable: there is no ordinary file with something in it under this name, or it may not be read.
    """
    try:
        if path.is_dir():
            raise ClipIsFolder(path)
        if not path.exists():
            raise ClipMissing(path)
        if not path.is_file():
            raise ClipUnreadable(path, "it is no ordinary file", "Name a film file.")
        if path.stat().st_size == 0:
            raise ClipEmpty(path)
        with path.open("rb"):
            pass
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ClipUnreadable(path, reason, "Check the name and the rights of the file.") from error


def _lacks_index(path: Path) -> bool:
    """Whether this is an MP4 or MOV file whose index box (`moov`) is not there."""
    seen: set[bytes] = set()
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            at = 0
            while at + 8 <= size and len(seen) < 64:
                file.seek(at)
                head = file.read(16)
                length, kind = int.from_bytes(head[:4], "big"), head[4:8]
                if length == 1 and len(head) == 16:
                    length = int.from_bytes(head[8:], "big")
                seen.add(kind)
                if length < 8:
                    break
                at += length
    except OSError:
        return False
    return b"moov" not in seen and bool({b"ftyp", b"mdat", b"wide"} & seen)


def picture_stream(container: InputContainer, path: Path, index: int | None = None) -> VideoStream:
    """The stream that holds the film: not a cover picture; the default one, else the largest.

    Raises:
        NoPicture: there is none.
    """
    streams = [s for s in container.streams.video if not int(s.disposition) & _COVER]
    if index is not None:
        streams = [s for s in streams if s.index == index]
    if not streams:
        raise NoPicture(path)
    preferred = [s for s in streams if int(s.disposition) & _DEFAULT]
    chosen = preferred[0] if len(preferred) == 1 else max(streams, key=_area)
    if chosen.codec_context is None:
        raise CodecUnknown(path, "unknown")
    return chosen


def _area(stream: VideoStream) -> int:
    context = stream.codec_context
    return (context.width or 0) * (context.height or 0) if context is not None else 0


def packets_of(
    container: InputContainer, stream: Stream, broke: Callable[[], None] | None = None
) -> Iterator[Packet[Any]]:
    """The stream's packets that hold data, in file order, until the file ends or can be read no further; `broke` is
    called in the second case."""
    import av

    try:
        for packet in container.demux(stream):
            if packet.size:
                yield packet
    except (av.FFmpegError, OSError, IndexError):  # IndexError: a damaged file that grew streams while it was read
        if broke is not None:
            broke()
        return
