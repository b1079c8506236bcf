"""Each flag out of the film: a slow-motion cut as MP4, on wish with the clock burnt in, and stills as PNG.

A cut holds every frame of the film between its ends, each at its own time, only slower; there is no sound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from clipmark.atomic_files import atomic_folder
from clipmark.book.model import ClipRecord, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.progress import SILENT, Progress
from clipmark.report.called import NumberedFlag, numbered_flags
from clipmark.report.films.opened import Films
from clipmark.report.pictures.moments import three_moments
from clipmark.report.pictures.stills import still
from clipmark.report.text import one_line
from clipmark.timebase import clock

if TYPE_CHECKING:
    from clipmark.media.frames.reader import Reader

Rgb = NDArray[np.uint8]
LEAD = Fraction(1)  # s of film before the onset and after the end
UNRELEASED = Fraction(2)  # s of film after the full pull, where no release was seen


class NoPulls(ClipmarkError):
    def __init__(self, title: str):
        super().__init__(
            f"“{title}” has no pull to cut out. Run the motion pass, or add a pull by hand, then try again."
        )


class NoEncoder(ClipmarkError):
    def __init__(self) -> None:
        super().__init__(
            "The film library on this machine cannot write H.264. Install the usual one with “pip install "
            "--force-reinstall av”, then try again; stills can be written meanwhile."
        )


@dataclass(frozen=True, slots=True)
class _Cut:
    flag: NumberedFlag
    clip: ClipRecord
    reader: Reader
    start: int  # frames [start, stop)
    stop: int


def stem(flag: NumberedFlag) -> str:
    """`pull-02-0m44.000s`: number on the sheet and onset on the session clock."""
    minutes, rest = divmod(abs(flag.onset), 60)
    sign = "minus-" if flag.onset < 0 else ""
    return f"pull-{flag.number:02d}-{sign}{int(minutes)}m{float(rest):06.3f}s"


def _cuts(record: SessionRecord, films: Films) -> list[_Cut]:
    flags = numbered_flags(record)
    if not flags:
        raise NoPulls(one_line(record.session.title, 120))
    found = []
    for flag in flags:
        clip = record.clip(flag.flag.clip_id)
        reader = films.reader(clip)
        index = reader.clip.index
        lead = int(LEAD / clip.time_base)
        end = flag.flag.full_pts + int(UNRELEASED / clip.time_base)
        if flag.flag.release_pts is not None:
            end = flag.flag.release_pts + lead
        found.append(
            _Cut(flag, clip, reader, index.at_or_before(flag.flag.onset_pts - lead), index.at_or_before(end) + 1)
        )
    return found


def write_cuts(
    record: SessionRecord, folder: Path, slow: int = 4, burn_clock: bool = False, progress: Progress = SILENT
) -> list[Path]:
    """A slow-motion MP4 for each flag, all of them or none.

    Args:
        slow: how many times slower than the film, 1 or more.
        burn_clock: write pull, session clock and frame number into the picture.
    Raises:
        NoPulls: there is no flag. FilmMissing: a film is not at hand. CannotWrite: the folder cannot be filled.
        Cancelled: out of `progress`.
    """
    with Films() as films:
        cuts = _cuts(record, films)
        total = sum(cut.stop - cut.start for cut in cuts)
        done = 0
        with atomic_folder(folder) as fresh:
            for cut in cuts:
                for _ in _encode(cut, fresh / f"{stem(cut.flag)}.mp4", slow, burn_clock):
                    done += 1
                    progress.advance(done, total)
        progress.advance(total, total)
        return [folder / f"{stem(cut.flag)}.mp4" for cut in cuts]


def _encode(cut: _Cut, path: Path, slow: int, burn_clock: bool) -> Iterator[None]:
    import av

    index = cut.reader.clip.index
    first, last = int(index.pts[cut.start]), -1
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as out:
        stream: Any = None
        for picture in cut.reader.pictures(cut.start, cut.stop):
            rgb = _even(picture.rgb())
            if burn_clock:
                rgb = burnt(rgb, _label(cut, picture.pts, picture.number + 1, slow))
            if stream is None:
                stream = _stream(out, cut, rgb, slow)
            frame = _as_yuv(rgb)
            last = max((picture.pts - first) * slow, last + 1)  # two frames of one tick: the second a tick later
            frame.pts, frame.time_base = last, index.time_base
            for packet in stream.encode(frame):
                out.mux(packet)
            yield
        if stream is not None:
            for packet in stream.encode(None):
                out.mux(packet)


def _stream(out: Any, cut: _Cut, rgb: Rgb, slow: int) -> Any:
    rate = (cut.reader.clip.index.rate or Fraction(25)) / slow
    try:
        stream = out.add_stream("libx264", rate=rate.limit_denominator(1001))
    except ValueError as error:  # a library that was built without it
        raise NoEncoder from error
    stream.width, stream.height, stream.pix_fmt = rgb.shape[1], rgb.shape[0], "yuv420p"
    stream.options = {"crf": "18", "preset": "veryfast", "x264-params": "keyint=12"}  # short groups: easy to step
    stream.codec_context.time_base = stream.time_base = cut.reader.clip.index.time_base
    stream.codec_context.sample_aspect_ratio = cut.reader.clip.pixel_aspect
    stream.codec_context.colorspace = 1 if rgb.shape[0] >= 720 else 5  # BT.709 / BT.601, as `_as_yuv` converts
    return stream


def _as_yuv(rgb: Rgb) -> Any:
    import av

    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24")
    space = "ITU709" if rgb.shape[0] >= 720 else "ITU601"
    return frame.reformat(format="yuv420p", dst_colorspace=space)


def _even(rgb: Rgb) -> Rgb:
    """The picture with even sides (the last line or column twice), as the encoder wants it."""
    return np.pad(rgb, ((0, rgb.shape[0] % 2), (0, rgb.shape[1] % 2), (0, 0)), mode="edge")


def _label(cut: _Cut, pts: int, frame: int, slow: int) -> str:
    return f"pull {cut.flag.number}   {clock(cut.clip.on_clock(pts))}   frame {frame}" + (
        f"   {slow}x slower" if slow > 1 else ""
    )


def burnt(rgb: Rgb, text: str) -> Rgb:
    """The picture with a line of text on a dark strip at its lower left."""
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.fromarray(rgb)
    draw = ImageDraw.Draw(picture, "RGBA")
    font: Any = ImageFont.load_default(size=max(11, rgb.shape[0] // 26))
    text = text.replace("−", "-")
    left, top, right, bottom = draw.textbbox((0, 0), text, font=font)
    if right - left > rgb.shape[1] - 8:  # upright phone film: as small as it must be
        font = ImageFont.load_default(size=max(8, int(font.size * (rgb.shape[1] - 8) / (right - left))))
        left, top, right, bottom = draw.textbbox((0, 0), text, font=font)
    pad = 4
    high = bottom - top + 2 * pad
    y = rgb.shape[0] - high
    draw.rectangle((0, y, right - left + 2 * pad, rgb.shape[0]), fill=(0, 0, 0, 170))
    draw.text((pad - left, y + pad - top), text, font=font, fill=(255, 255, 255, 255))
    return np.asarray(picture)


def write_stills(record: SessionRecord, folder: Path, progress: Progress = SILENT) -> list[Path]:
    """Three whole frames for each flag (before, full pull, after) as PNG, all of them or none; errors as
    `write_cuts`, and FrameLost where a frame does not come out of the film."""
    names = []
    with Films() as films, atomic_folder(folder) as fresh:
        cuts = _cuts(record, films)
        for done, cut in enumerate(cuts):
            progress.advance(done, len(cuts))
            for moment in three_moments(record, cut.clip, cut.flag.flag):
                frame = cut.reader.clip.index.at_or_before(moment.tick)
                picture = still(cut.reader, frame, 1 << 20, kind="png")
                name = f"{stem(cut.flag)}-{moment.name.replace(' ', '-')}-frame-{frame + 1:06d}.png"
                (fresh / name).write_bytes(picture.data)
                names.append(name)
        progress.advance(len(cuts), len(cuts))
    return [folder / name for name in names]
