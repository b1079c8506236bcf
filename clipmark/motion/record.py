"""What is noted of every frame while the film is read, and what follows from it: spans and the trace."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.pulls import LEVER
from clipmark.motion.result import UNWATCHED, Cause, FrameSpan, Shot, Trace
from clipmark.motion.similarity import Similarity

_OF_THE_CAMERA = ("camera_x", "camera_y", "camera_angle", "camera_scale")


class Record:
    """The arrays that grow while the film is read, one row a frame."""

    def __init__(self, n: int):
        followed = ("x", "y", "angle", "scale", "quality", "busy")
        self.columns: dict[str, NDArray[Any]] = {name: np.full(n, np.nan) for name in followed}
        # what is only drawn, and kept as float32 in the end, takes no more here: films are hours long
        self.columns |= {name: np.full(n, np.nan, np.float32) for name in _OF_THE_CAMERA}
        self.values = np.full((n, 3), np.nan)  # x, y (abdomen lengths) and turn (radians · LEVER) against the scene
        self.followed = np.zeros(n, bool)
        self.length = np.full(n, np.nan)
        self.inside = np.full(n, np.nan)  # share of the outline inside the picture
        self.stretch = np.full(n, -1, np.int32)  # number of the outline that was followed
        self.scene = np.full((n, 2), np.nan, complex)  # the camera: scene -> picture, m and c
        self.faint = np.zeros(n, bool)  # a pull would have been missed here
        self.seen = np.full(n, np.nan)  # how well the background was followed

    def part(self, start: int, end: int) -> list[NDArray[Any]]:
        """What is noted of frames [start, end), to be put back later."""
        return [array[start:end].copy() for array in self._followed()]

    def put_back(self, start: int, kept: list[NDArray[Any]]) -> None:
        """Write what was kept of the frames from `start` on over what stands there now."""
        for array, old in zip(self._followed(), kept, strict=True):
            array[start : start + len(old)] = old

    def _followed(self) -> list[NDArray[Any]]:
        columns = [column for name, column in self.columns.items() if name not in _OF_THE_CAMERA]
        return [self.values, self.followed, self.length, self.inside, self.stretch, *columns]


def note_camera(record: Record, i: int, step: Similarity, scene: Similarity, seen: float, ratio: float) -> None:
    """Keep the camera's step and place at frame `i`, its shift in pixels times `ratio`."""
    columns = record.columns
    columns["camera_x"][i], columns["camera_y"][i] = step.c.real * ratio, step.c.imag * ratio
    columns["camera_angle"][i], columns["camera_scale"][i] = step.angle_deg, step.scale
    record.scene[i], record.seen[i] = (scene.m, scene.c), seen


def keep_to_shots(record: Record, shots: tuple[Shot, ...], frame_of: dict[int, int]) -> None:
    """An outline holds for the shot that it was drawn in: forget what was followed beyond it, and where that shot's
    first frames are blended with another view."""
    for shot in shots:
        inside = slice(shot.start, shot.end)
        own = [number for number, frame in frame_of.items() if shot.start <= frame < shot.end]
        alien = ~np.isin(record.stretch[inside], own)
        alien[: shot.whole - shot.start] = True
        record.followed[inside] &= ~alien
        record.stretch[inside][alien] = -1
        record.values[inside][alien] = np.nan
        for name in ("x", "y", "angle", "scale"):
            record.columns[name][inside][alien] = np.nan
        record.columns["quality"][inside][alien] = 0.0


def runs(record: Record, shots: tuple[Shot, ...]) -> Iterator[NDArray[np.int64]]:
    """Frames of each outline's way through each shot."""
    for shot in shots:
        inside = np.arange(shot.start, shot.end)
        for number in np.unique(record.stretch[inside]):
            if number >= 0:
                mine = inside[record.stretch[inside] == number]
                yield np.arange(mine[0], mine[-1] + 1)


def in_noise_units(record: Record, shots: tuple[Shot, ...]) -> None:
    """What stirs round the abdomen, against the stillest tenth of the shot; 0 = as still as that."""
    busy = record.columns["busy"]
    for frames in runs(record, shots):
        seen = busy[frames]
        if np.isfinite(seen).any():
            busy[frames] = np.maximum(seen / max(float(np.nanpercentile(seen, 10)), 0.3) - 1.0, 0.0)


def spans(record: Record, shots: tuple[Shot, ...], n: int) -> tuple[tuple[FrameSpan, ...], tuple[FrameSpan, ...]]:
    """Watched and unwatched spans of frames; each unwatched one with its cause."""
    why = np.full(n, Cause.COVERED, dtype=object)
    why[record.inside < 0.6] = Cause.OUTSIDE
    for shot in shots:
        if not (record.stretch[shot.start : shot.end] >= 0).any():
            why[shot.start : shot.end] = Cause.NOT_OUTLINED
        why[shot.start : shot.whole] = Cause.BLENDED
    why[record.followed] = ""
    why[record.followed & record.faint] = Cause.FAINT
    edges = [0, *(np.flatnonzero(why[1:] != why[:-1]) + 1), n]
    spans = [FrameSpan(int(a), int(b), UNWATCHED.get(why[a], ""), str(why[a])) for a, b in pairwise(edges) if b > a]
    return tuple(s for s in spans if not s.why), tuple(s for s in spans if s.why)


def trace_of(record: Record, shots: tuple[Shot, ...]) -> Trace:
    """What was measured of all `n` frames, with pull in abdomen lengths and tilt in degrees."""
    n = len(record.length)
    pull, tilt = np.full(n, np.nan), np.full(n, np.nan)
    for frames in runs(record, shots):
        values = record.values[frames]
        if not np.isfinite(values).any():
            continue
        rest = np.nanmedian(values, axis=0)
        pull[frames] = np.hypot(values[:, 0] - rest[0], values[:, 1] - rest[1])
        tilt[frames] = np.degrees((values[:, 2] - rest[2]) / LEVER)
    c = record.columns
    return Trace(
        c["x"], c["y"], c["angle"], c["scale"], record.length, np.nan_to_num(c["quality"]), pull, tilt,
        np.nan_to_num(c["busy"]), c["camera_x"], c["camera_y"], c["camera_angle"], c["camera_scale"],
    )  # fmt: skip


def forget(record: Record, frames: slice) -> None:
    """Nothing was followed on these frames."""
    record.followed[frames], record.stretch[frames] = False, -1
    for array in (record.values, record.length, record.inside):
        array[frames] = np.nan
    for name in ("x", "y", "angle", "scale", "quality", "busy"):
        record.columns[name][frames] = np.nan
