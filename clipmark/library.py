"""clipmark as a library: the few names that stay, for notebooks and scripts (docs/library.md).

Everything else in the package is private and may change with each release. These functions call the same code as the
commands; what they return is plain: numpy arrays, pandas tables, and the documents that docs/formats.md describes.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from clipmark.media.clip import open_clip
from clipmark.media.frames.reader import FrameLost, Reader
from clipmark.progress import SILENT, Progress

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray


class Film:
    """One film file, frame by frame, each frame with its own exact time. Use it in a `with`, or close it.

    Attributes:
        path: the file.
        width, height: pixels of the picture as displayed (rotation applied).
        seconds: when each frame comes on screen, shape (frames,), seconds from the first frame; rising.
        times_exact: whether every frame's time is the file's own.
        notes: sentences about damage and times that had to be made up; empty for sound film.
    """

    def __init__(self, path: Path | str, progress: Progress = SILENT):
        self._clip = open_clip(path, progress)
        self._reader = Reader(self._clip)
        self.path: Path = self._clip.path
        self.width: int = self._clip.width
        self.height: int = self._clip.height
        self.seconds: NDArray[np.float64] = self._clip.index.seconds()
        self.times_exact: bool = self._clip.times_exact
        self.notes: tuple[str, ...] = self._clip.notes

    def __enter__(self) -> Film:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __len__(self) -> int:
        return len(self._clip.index)

    def close(self) -> None:
        """Let go of the file."""
        self._reader.close()

    def frame_at(self, seconds: float) -> int:
        """Number of the frame that is on screen at this time, from 0; the first or last one outside the film."""
        return self._clip.index.frame_at(seconds)

    def rgb(self, frame: int, width: int | None = None) -> NDArray[np.uint8]:
        """One frame in colour, shape (height, width, 3), red first.

        Args:
            width: shrink to this width; the height follows.
        Raises:
            FrameLost: the file is damaged there. IndexError: there is no such frame.
        """
        return self._reader.frame(frame).rgb(width)

    def grey(self, frame: int, width: int | None = None) -> NDArray[np.uint8]:
        """The brightness of one frame as it is coded, shape (height, width), 16 to 235 in film of the usual kind.

        Args:
            width: shrink to this width by averaging; the height follows.
        Raises:
            FrameLost: the file is damaged there. IndexError: there is no such frame.
        """
        return self._reader.frame(frame).grey(width)

    def greys(
        self, start: int = 0, stop: int | None = None, width: int | None = None
    ) -> Iterator[tuple[int, NDArray[np.uint8]]]:
        """Frames [start, stop) in order, each with its number; frames that do not decode are left out. The quickest
        way to go through a film."""
        for picture in self._reader.pictures(start, stop):
            yield picture.number, picture.grey(width)


def open_film(path: Path | str, progress: Progress = SILENT) -> Film:
    """Open a film file; its frames are found once and remembered for the next time.

    Raises:
        ClipUnreadable: the file will not do as film; the sentence says why (a ClipmarkError).
    """
    return Film(path, progress)


def scan(
    film: Film | Path | str,
    boxes: Path | str | Iterable[Mapping[str, Any]],
    *,
    parameters: str = "",
    weaker: bool = False,
    progress: Progress = SILENT,
) -> dict[str, Any]:
    """The motion pass: where her abdomen was drawn, tipped or twisted and then held.

    Args:
        boxes: a boxes file, or its entries: `{"time_s": 0.0, "x": 210, "y": 96, "w": 84, "h": 60}`, pixels of the
            picture as displayed, at least one a shot.
        parameters: a version in models/pulls, or a parameters file; the newest if empty.
        weaker: add candidates below the score for a flag, marked `"flagged": False`.
    Returns:
        the document `clipmark-scan/1` (docs/formats.md): shots, watched and unwatched spans, flags with `time_s`,
        `score` (a probability), `pull` (abdomen lengths), `tilt_deg` and reasons.
    Raises:
        ClipmarkError: film, boxes or parameters cannot be read; the sentence says why.
    """
    from clipmark.media.frames.grey import GreyFilm
    from clipmark.motion.parameters import load
    from clipmark.motion.result import Ticks
    from clipmark.motion.scan import film_width
    from clipmark.motion.scan import scan as motion_pass
    from clipmark.motion.whole_frames import on_whole_frames
    from clipmark.report.exports.scan_file import read_boxes, scan_document

    clip = film._clip if isinstance(film, Film) else open_clip(film, progress)
    if isinstance(boxes, (str, Path)):
        drawn = read_boxes(boxes, clip)
    else:
        with tempfile.TemporaryDirectory() as folder:
            listed = Path(folder) / "boxes.json"
            listed.write_text(json.dumps({"boxes": [dict(box) for box in boxes]}), encoding="utf-8")
            drawn = read_boxes(listed, clip)
    grey = GreyFilm(clip, film_width(clip.width, clip.height, drawn))
    ticks = Ticks(clip.index.pts, int(clip.index.end_pts))
    result = motion_pass(grey, on_whole_frames(grey, drawn), load(parameters), progress, ticks)
    return scan_document(clip, result, weaker)


def survey(film: Film | Path | str, *, quick: bool = False, progress: Progress = SILENT) -> dict[str, Any]:
    """Where in a film anything moves, without an outline.

    Args:
        quick: from packet sizes only: at once, and rough.
    Returns:
        the document `clipmark-survey/1` (docs/formats.md): what it rests on, moving stretches, cuts, steps of light.
    Raises:
        ClipmarkError: the film cannot be read; the sentence says why.
    """
    from clipmark.report.survey_file import packets_of_clip, survey_clip, survey_document

    clip = film._clip if isinstance(film, Film) else open_clip(film, progress)
    return survey_document(clip, packets_of_clip(clip) if quick else survey_clip(clip, progress))


def read_book(path: Path | str | None = None, asked: date | None = None) -> dict[str, pd.DataFrame]:
    """A record book as tables: name to DataFrame, one row a thing, units in the column names (docs/formats.md).

    Args:
        path: the book; your own if not given. It is only read.
        asked: the day of asking for cycles and incidence: who has no sac by then still waits; today if not given.
    Raises:
        ClipmarkError: there is no such book, or it cannot be read.
    """
    from clipmark.report.exports import tables

    return tables.read_book(path, asked)


__all__ = ["Film", "FrameLost", "open_film", "read_book", "scan", "survey"]
