"""The motion pass: one reading of the film, shots, poses, flags, watched and unwatched spans."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.camera import Camera, coarse
from clipmark.motion.companions import Companions
from clipmark.motion.evidence import Sight
from clipmark.motion.outlines import abdomen_length
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.pose import PATCH, Follower
from clipmark.motion.pulls import LEVER, AbdomenTrack, find_pulls
from clipmark.motion.result import BLENDED, Box, Flag, FrameSpan, ScanResult, Shot, Trace
from clipmark.motion.shots import ShotFinder
from clipmark.motion.similarity import STILL, Similarity
from clipmark.motion.texture import Grey
from clipmark.motion.watch import Watch
from clipmark.progress import SILENT, Progress

_BLOCK = 240  # frames held at once while following backwards
_HELD = 128e6  # bytes that they may take: of large pictures fewer are held


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

    def frames(self, start: int = 0, stop: int | None = None) -> Iterator[tuple[int, Grey]]:
        """Each frame of [start, stop) that decodes: its position in the index and the picture, uint8 (h, w)."""


def find_shots(film: Film, progress: Progress = SILENT) -> tuple[Shot, ...]:
    """The shots of a film; reads all of it once."""
    finder, total = ShotFinder(), len(film.times)
    for number, picture in film.frames():
        finder.take(coarse(picture), number, float(film.times[number]))
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
        self.values = np.full((n, 3), np.nan)  # x, y (abdomen lengths) and turn (radians · LEVER) against the scene
        self.followed = np.zeros(n, bool)
        self.length = np.full(n, np.nan)
        self.inside = np.full(n, np.nan)  # share of the outline inside the picture
        self.stretch = np.full(n, -1)  # number of the outline that was followed
        self.scene = np.full((n, 2), np.nan, complex)  # the camera: scene -> picture, m and c
        self.seen = np.full(n, np.nan)  # how well the background was followed


class _Stretch:
    """One outline on its way through the film: follower, watch and where it writes."""

    def __init__(
        self, number: int, box: Box, picture: Grey, ratio: float, record: _Record, parameters: MotionParameters,
        backwards: bool = False,
    ):  # fmt: skip
        drawn = (box.x / ratio, box.y / ratio, box.w / ratio, box.h / ratio)
        self.number, self.frame, self._ratio, self._record = number, box.frame, ratio, record
        self.follower = Follower(picture, drawn)
        self.length = abdomen_length(drawn[2], drawn[3])
        self.watch = Watch((drawn[2], drawn[3]), self.length, parameters, backwards)

    def begin(self, time_s: float, scene: Similarity) -> None:
        self._first = scene.inverse.after(self.follower.place)
        self._write(time_s, self.frame, self.follower.place, 1.0, scene)

    def follow(self, i: int, time_s: float, dt: float, picture: Grey, step: Similarity, scene: Similarity) -> None:
        look = self.follower.follow(picture, step, dt)
        self._record.inside[i], self._record.stretch[i] = look.inside, self.number
        if look.lost:
            self._record.columns["quality"][i] = look.quality
            self.watch.add(time_s, (np.nan, np.nan, np.nan), 0.0, None)
        else:
            self._write(time_s, i, look.place, look.quality, scene)

    def _write(self, time_s: float, i: int, place: Similarity, quality: float, scene: Similarity) -> None:
        record, ratio = self._record, self._ratio
        columns, still = record.columns, scene.inverse.after(place)
        columns["x"][i], columns["y"][i] = place.c.real * ratio, place.c.imag * ratio
        columns["angle"][i], columns["scale"][i] = place.angle_deg, place.scale
        columns["quality"][i] = quality
        turn = np.angle(still.m / self._first.m) * LEVER
        values = (still.c.real / self.length, still.c.imag / self.length, float(turn))
        record.values[i], record.length[i] = values, self.length * ratio
        record.followed[i], record.stretch[i], record.inside[i] = True, self.number, 1.0
        columns["busy"][i] = self.follower.busy
        self.watch.add(time_s, values, quality, Sight(self.follower.crop, scene, place))


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
    began, n, waited = time.perf_counter(), len(film.times), [0.0]
    record, finder = _Record(n), ShotFinder()
    drawn = {box.frame: box for box in boxes if box.part == "abdomen"}
    stretches: list[_Stretch] = []
    companions = Companions(boxes, n)
    camera, current, before = Camera(), None, STILL
    last, ratio, picture_bytes, fresh = -1, 1.0, 0, True
    for number, picture in _timed(film.frames(), waited):
        ratio, picture_bytes = film.width / picture.shape[1], picture.nbytes
        small = coarse(picture)
        sudden = finder.take(small, number, float(film.times[number]))
        box, fresh = drawn.get(number), fresh or sudden
        if sudden and box is not None:  # otherwise the camera finds its own way, or takes a new key
            camera.restart()
            before = STILL
        animals = [(box.x / ratio, box.y / ratio, box.w / ratio, box.h / ratio)] if box else []
        scene = camera.follow(small, picture.shape[1] / small.shape[1], animals)
        step = scene.after(before.inverse)
        if box is not None:
            _ended(current)
            current = _Stretch(len(stretches), box, picture, ratio, record, parameters)
            current.watch.first_of_shot, fresh = fresh, False
            current.begin(film.times[number], scene)
            stretches.append(current)
        elif current is not None:
            dt = float(film.times[number] - film.times[last])
            current.follow(number, film.times[number], dt, picture, step, scene)
        if companions.places:
            dt = float(film.times[number] - film.times[last]) if last >= 0 else 0.0
            companions.take(number, picture, ratio, step, scene, dt)
        _note_camera(record, number, step, scene, camera.seen, ratio)
        before, last = scene, number
        progress.advance(number + 1, n)
    _ended(current)
    shots = finder.shots()
    _keep_to_shots(record, shots, drawn, stretches)
    stretches += _backwards(film, drawn, shots, record, parameters, stretches, picture_bytes)
    _in_noise_units(record, shots)
    flags = _flags(film, record, shots, stretches, parameters, companions)
    watched, unwatched = _spans(record, shots, n)
    took = max(time.perf_counter() - began, 1e-9)
    trace, share = _trace(record, shots), min(1.0, waited[0] / took)
    return ScanResult(shots, trace, flags, watched, unwatched, parameters.version, n / took, share)


def _ended(stretch: _Stretch | None) -> None:
    if stretch is not None:
        stretch.watch.finish()


def _timed(frames: Iterator[tuple[int, Grey]], waited: list[float]) -> Iterator[tuple[int, Grey]]:
    """The same frames; adds up the seconds spent waiting for them."""
    while True:
        began = time.perf_counter()
        item = next(frames, None)
        waited[0] += time.perf_counter() - began
        if item is None:
            return
        yield item


def _note_camera(record: _Record, i: int, step: Similarity, scene: Similarity, seen: float, ratio: float) -> None:
    columns = record.columns
    columns["camera_x"][i], columns["camera_y"][i] = step.c.real * ratio, step.c.imag * ratio
    columns["camera_angle"][i], columns["camera_scale"][i] = step.angle_deg, step.scale
    record.scene[i], record.seen[i] = (scene.m, scene.c), seen


def _keep_to_shots(
    record: _Record, shots: tuple[Shot, ...], drawn: dict[int, Box], stretches: list[_Stretch]
) -> None:
    """An outline holds for the shot that it was drawn in: forget what was followed beyond it, and where that shot's
    first frames are blended with another view."""
    frame_of = {stretch.number: stretch.frame for stretch in stretches}
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


def _backwards(
    film: Film, drawn: dict[int, Box], shots: tuple[Shot, ...], record: _Record, parameters: MotionParameters,
    forwards: Sequence[_Stretch], picture_bytes: int,
) -> list[_Stretch]:  # fmt: skip
    """Where an outline was drawn later than its shot begins: follow it back to the beginning, in blocks."""
    done: list[_Stretch] = []
    for shot in shots:
        frames = [frame for frame in drawn if shot.start <= frame < shot.end]
        if not frames or min(frames) <= shot.whole:
            continue
        first, stretch, after = min(frames), None, -1
        size = int(max(24, min(_BLOCK, _HELD // max(picture_bytes, 1))))
        for stop in range(first + 1, shot.whole, -size):
            block = list(film.frames(max(shot.whole, stop - size), stop))
            for i, picture in reversed(block):
                scene = Similarity(*(complex(v) for v in record.scene[i]))
                if stretch is None:
                    if i != first:
                        continue
                    ratio = film.width / picture.shape[1]
                    # one way with what was followed onwards from the same outline: a release must meet its pull
                    onwards = int(record.stretch[i])
                    own = onwards if onwards >= 0 else len(forwards) + len(done)
                    stretch = _Stretch(own, drawn[first], picture, ratio, record, parameters, True)
                    if onwards >= 0:
                        stretch.watch.go_on_from(forwards[onwards].watch)
                    stretch.begin(film.times[i], scene)
                else:
                    ahead = Similarity(*(complex(v) for v in record.scene[after]))
                    dt = float(film.times[after] - film.times[i])
                    stretch.follow(i, film.times[i], dt, picture, scene.after(ahead.inverse), scene)
                after = i
        if stretch is not None:
            _ended(stretch)
            done.append(stretch)
    return done


def _runs(record: _Record, shots: tuple[Shot, ...]) -> Iterator[NDArray[np.int64]]:
    """Frames of each outline's way through each shot."""
    for shot in shots:
        inside = np.arange(shot.start, shot.end)
        for number in np.unique(record.stretch[inside]):
            if number >= 0:
                mine = inside[record.stretch[inside] == number]
                yield np.arange(mine[0], mine[-1] + 1)


def _in_noise_units(record: _Record, shots: tuple[Shot, ...]) -> None:
    """What stirs round the abdomen, against the stillest tenth of the shot; 0 = as still as that."""
    busy = record.columns["busy"]
    for frames in _runs(record, shots):
        seen = busy[frames]
        if np.isfinite(seen).any():
            busy[frames] = np.maximum(seen / max(float(np.nanpercentile(seen, 10)), 0.3) - 1.0, 0.0)


def _flags(
    film: Film, record: _Record, shots: tuple[Shot, ...], stretches: list[_Stretch], parameters: MotionParameters,
    companions: Companions,
) -> tuple[Flag, ...]:  # fmt: skip
    flags: list[Flag] = []
    for frames in _runs(record, shots):
        times = film.times[frames]
        numbers = set(np.unique(record.stretch[frames]).tolist())
        found = [
            candidate
            for stretch in stretches
            if stretch.number in numbers
            for candidate in stretch.watch.found
            if times[0] <= candidate.at <= times[-1]
        ]
        quality = np.nan_to_num(record.columns["quality"][frames]) * record.followed[frames]
        track = AbdomenTrack(
            frames, times, record.values[frames], quality, record.scene[frames], record.seen[frames],
            record.columns["busy"][frames], {part: seen[frames] for part, seen in companions.places.items()},
        )  # fmt: skip
        flags += find_pulls(track, found, parameters)
    return tuple(sorted(flags, key=lambda flag: flag.onset))


def _spans(record: _Record, shots: tuple[Shot, ...], n: int) -> tuple[tuple[FrameSpan, ...], tuple[FrameSpan, ...]]:
    why = np.full(n, "the abdomen was covered or could not be told from what is round it", dtype=object)
    why[record.inside < 0.6] = "the abdomen was out of the picture"
    for shot in shots:
        if not (record.stretch[shot.start : shot.end] >= 0).any():
            why[shot.start : shot.end] = "no outline was drawn in this shot"
        why[shot.start : shot.whole] = BLENDED
    why[record.followed] = ""
    edges = [0, *(np.flatnonzero(why[1:] != why[:-1]) + 1), n]
    spans = [FrameSpan(int(a), int(b), str(why[a])) for a, b in pairwise(edges) if b > a]
    return tuple(s for s in spans if not s.why), tuple(s for s in spans if s.why)


def _trace(record: _Record, shots: tuple[Shot, ...]) -> Trace:
    n = len(record.length)
    pull, tilt = np.full(n, np.nan), np.full(n, np.nan)
    for frames in _runs(record, shots):
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
