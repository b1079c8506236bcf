"""The motion pass: one reading of the film, shots, poses, flags, watched and unwatched spans."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.align import Grey
from clipmark.motion.camera import Camera, coarse
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.pose import PATCH, Follower
from clipmark.motion.pulls import LEVER, Path, find_pulls
from clipmark.motion.result import Box, Flag, Floats, FrameSpan, ScanResult, Shot, Trace
from clipmark.motion.shots import ShotFinder
from clipmark.motion.similarity import STILL, Similarity
from clipmark.progress import SILENT, Progress


class Film(Protocol):
    """What the pass reads: grey pictures with their times."""

    @property
    def times(self) -> NDArray[np.float64]:
        """Seconds of every frame from the first, (n,)."""

    @property
    def width(self) -> int:
        """Width of the picture as displayed; the pictures that `frames` yields may be smaller."""

    @property
    def height(self) -> int: ...

    def frames(self) -> Iterator[tuple[int, Grey]]:
        """Each frame that decodes: its position in the index and the picture, uint8 (h, w)."""


def find_shots(film: Film, progress: Progress = SILENT) -> tuple[Shot, ...]:
    """The shots of a film; reads all of it once."""
    finder, total = ShotFinder(), len(film.times)
    for number, picture in film.frames():
        finder.take(coarse(picture))
        progress.advance(number + 1, total)
    return finder.shots()


def film_width(width: int, height: int, boxes: Sequence[Box]) -> int:
    """How wide the pictures should come: as small as the smallest abdomen outline allows, a whole factor smaller."""
    sides = [max(box.w, box.h) for box in boxes if box.part == "abdomen"]
    least = 320 * max(1.0, width / height / (16 / 9))  # the view must stay large enough for the camera's motion
    factor = int(min(min(sides, default=width) / PATCH, width / least))
    return width // max(1, factor)


class _Record:
    """The arrays that grow while the film is read, one row a frame."""

    def __init__(self, n: int):
        names = (
            "x",
            "y",
            "angle",
            "scale",
            "quality",
            "busy",
            "camera_x",
            "camera_y",
            "camera_angle",
            "camera_scale",
        )
        self.columns = {name: np.full(n, np.nan) for name in names}
        self.scene = np.full((n, 2), np.nan, dtype=complex)  # m and c of the abdomen relative to the scene
        self.followed = np.zeros(n, bool)
        self.length = np.full(n, np.nan)
        self.stretch = np.full(n, -1)  # number of the outline that was followed


def scan(
    film: Film, boxes: Sequence[Box], parameters: MotionParameters | None = None, progress: Progress = SILENT
) -> ScanResult:
    """Follow the outlines through the film and propose pulls.

    Args:
        boxes: at least one of part "abdomen" a shot that is to be watched; pixels of the picture as displayed.
        parameters: the current ones of models/pulls when None.
    Raises:
        Cancelled: through `progress`.
    """
    parameters = parameters or load()
    began, n = time.perf_counter(), len(film.times)
    record, finder = _Record(n), ShotFinder()
    drawn = {box.frame: box for box in boxes if box.part == "abdomen"}
    camera, follower, before = Camera(), None, STILL
    last, ratio, stretch, waited = -1, 1.0, -1, [0.0]
    for number, picture in _timed(film.frames(), waited):
        ratio = film.width / picture.shape[1]
        small = coarse(picture)
        jump = finder.take(small)
        if jump > 0.6:
            camera.restart()
            before, follower = STILL, None
        animals = [(b.x / ratio, b.y / ratio, b.w / ratio, b.h / ratio) for b in boxes if b.frame == number]
        scene = camera.follow(small, picture.shape[1] / small.shape[1], animals)
        step = scene.after(before.inverse)
        dt = float(film.times[number] - film.times[last]) if last >= 0 else 0.0
        if number in drawn:
            box = drawn[number]
            follower = Follower(picture, (box.x / ratio, box.y / ratio, box.w / ratio, box.h / ratio))
            stretch += 1
            _note(record, number, follower, follower.place, 1.0, scene, ratio, stretch)
        elif follower is not None:
            look = follower.follow(picture, step, dt)
            if look.lost:
                record.columns["quality"][number] = look.quality
            else:
                _note(record, number, follower, look.place, look.quality, scene, ratio, stretch)
        record.columns["camera_x"][number], record.columns["camera_y"][number] = (
            step.c.real * ratio,
            step.c.imag * ratio,
        )
        record.columns["camera_angle"][number], record.columns["camera_scale"][number] = step.angle_deg, step.scale
        before, last = scene, number
        progress.advance(number + 1, n)
    shots = finder.shots()
    flags = _flags(film, record, shots, parameters)
    watched, unwatched = _spans(record, shots, n)
    took = max(time.perf_counter() - began, 1e-9)
    trace, share = _trace(record, shots, ratio), min(1.0, waited[0] / took)
    return ScanResult(shots, trace, flags, watched, unwatched, parameters.version, n / took, share)


def _timed(frames: Iterator[tuple[int, Grey]], waited: list[float]) -> Iterator[tuple[int, Grey]]:
    """The same frames; adds up the seconds spent waiting for them."""
    while True:
        began = time.perf_counter()
        item = next(frames, None)
        waited[0] += time.perf_counter() - began
        if item is None:
            return
        yield item


def _note(
    record: _Record, i: int, follower: Follower, place: Similarity, quality: float, scene: Similarity, ratio: float,
    stretch: int,
) -> None:  # fmt: skip
    still = scene.inverse.after(place)
    record.columns["x"][i], record.columns["y"][i] = place.c.real * ratio, place.c.imag * ratio
    record.columns["angle"][i], record.columns["scale"][i] = place.angle_deg, place.scale
    record.columns["quality"][i] = quality
    record.scene[i] = still.m, still.c
    record.length[i] = follower.length * ratio
    record.followed[i], record.stretch[i] = True, stretch


def _values(record: _Record, frames: NDArray[np.int64], ratio: float) -> Floats:
    m, c = record.scene[frames, 0], record.scene[frames, 1]
    length = np.nanmedian(record.length[frames]) / ratio
    first = m[np.flatnonzero(np.isfinite(m.real))[0]]
    return np.stack([c.real / length, c.imag / length, np.angle(m / first) * LEVER], axis=1)


def _stretches(record: _Record, shots: tuple[Shot, ...]) -> Iterator[NDArray[np.int64]]:
    for shot in shots:
        inside = np.arange(shot.start, shot.end)
        for number in np.unique(record.stretch[inside]):
            if number >= 0:
                mine = inside[record.stretch[inside] == number]
                yield np.arange(mine[0], mine[-1] + 1)


def _flags(film: Film, record: _Record, shots: tuple[Shot, ...], parameters: MotionParameters) -> tuple[Flag, ...]:
    flags: list[Flag] = []
    for frames in _stretches(record, shots):
        values = _values(record, frames, 1.0)
        quality = np.nan_to_num(record.columns["quality"][frames]) * record.followed[frames]
        flags += find_pulls(Path(frames, film.times[frames], values, quality), parameters)
    return tuple(sorted(flags, key=lambda flag: flag.onset))


def _spans(record: _Record, shots: tuple[Shot, ...], n: int) -> tuple[tuple[FrameSpan, ...], tuple[FrameSpan, ...]]:
    why = np.full(n, "the abdomen could not be followed", dtype=object)
    for shot in shots:
        if not (record.stretch[shot.start : shot.end] >= 0).any():
            why[shot.start : shot.end] = "no outline was drawn in this shot"
    why[record.followed] = ""
    edges = [0, *(np.flatnonzero(why[1:] != why[:-1]) + 1), n]
    spans = [FrameSpan(int(a), int(b), str(why[a])) for a, b in pairwise(edges) if b > a]
    return tuple(s for s in spans if not s.why), tuple(s for s in spans if s.why)


def _trace(record: _Record, shots: tuple[Shot, ...], ratio: float) -> Trace:
    n = len(record.length)
    pull, tilt = np.full(n, np.nan), np.full(n, np.nan)
    for frames in _stretches(record, shots):
        values = _values(record, frames, 1.0)
        rest = np.nanmedian(values, axis=0)
        pull[frames] = np.hypot(values[:, 0] - rest[0], values[:, 1] - rest[1])
        tilt[frames] = np.degrees((values[:, 2] - rest[2]) / LEVER)
    c = record.columns
    return Trace(
        c["x"], c["y"], c["angle"], c["scale"], record.length, np.nan_to_num(c["quality"]), pull, tilt,
        np.nan_to_num(c["busy"]), c["camera_x"], c["camera_y"], c["camera_angle"], c["camera_scale"],
    )  # fmt: skip
