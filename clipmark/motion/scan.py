"""The motion pass: one reading of the film, shots, poses, flags, watched and unwatched spans."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.ahead import Behind, ahead
from clipmark.motion.camera import Camera, coarse
from clipmark.motion.companions import Companions
from clipmark.motion.film import Film
from clipmark.motion.held import HeldChanges
from clipmark.motion.layers import beyond, nearest
from clipmark.motion.parameters import MotionParameters, load
from clipmark.motion.planted import Planted, smallest_found, too_faint
from clipmark.motion.pose import PATCH
from clipmark.motion.proposals import Proposal, propose, surest
from clipmark.motion.pulls import LEVER, AbdomenTrack, find_pulls
from clipmark.motion.record import Record, forget, in_noise_units, keep_to_shots, note_camera, runs, spans, trace_of
from clipmark.motion.region import PRESS_SIZE, NothingThere, changes_for, likeness, settled
from clipmark.motion.result import Box, Flag, ScanResult, Sensitivity, Shot, Ticks, UsedOutline, in_ticks
from clipmark.motion.shots import ShotFinder
from clipmark.motion.similarity import STILL, Similarity
from clipmark.motion.stretch import Hint, Stretch, as_drawn
from clipmark.motion.texture import Grey
from clipmark.motion.unseen import unseen_steps
from clipmark.motion.views import Glimpses, rejoined
from clipmark.motion.watch import PostureChange
from clipmark.progress import SILENT, Progress

T = TypeVar("T")
Seen = tuple[int, Grey, Grey, bool]
Steady = tuple[int, Grey, bool, Similarity, Similarity]

_SHORTEST = 12  # frames of a shot that she is looked for in
_BLOCK = 240  # frames held at once while following backwards
_REPLACES, _ALIKE, _HALF = 0.3, 0.66, 0.5  # confidence and overlap from which a drawn box may give way to the region
_BETTER = 0.45  # what is found with a box half right must be so much less, with a wrong one not so much more
_SURELY, _ONE_LESS = 0.5, 1.1  # a region that sure may find one flag less: a wrong box flags lurches, too
_WELL = 0.8  # quality of following from which a look at her may serve as a model
_HELD = 128e6  # bytes that they may take: of large pictures fewer are held


def find_shots(film: Film, progress: Progress = SILENT) -> tuple[Shot, ...]:
    """The shots of a film; reads all of it once."""
    finder, total = ShotFinder(), len(film.times)
    for number, picture in film.frames():
        finder.take(coarse(picture), number, float(film.times[number]))
        progress.advance(number + 1, total)
    return finder.shots()


def film_width(width: int, height: int, boxes: Sequence[Box]) -> int:
    """How wide the pictures should come: as small as the smallest abdomen outline allows, a whole factor smaller."""
    pressed = PRESS_SIZE * min(width, height)
    sides = [pressed if box.pressed else max(box.w, box.h) for box in boxes if box.part == "abdomen"]
    least = 320 * max(1.0, width / height / (16 / 9))  # the view must stay large enough for the camera's motion
    factor = int(min(min(sides, default=width) / PATCH, width / least))
    return width // max(1, factor)


def scan(
    film: Film,
    boxes: Sequence[Box],
    parameters: MotionParameters | None = None,
    progress: Progress = SILENT,
    ticks: Ticks | None = None,
) -> ScanResult:
    """Follow the outlines through the film and propose pulls.

    Args:
        boxes: at least one of part "abdomen" a shot that is to be watched; pixels of the picture as displayed. One
            without width and height is a press in the middle of her abdomen.
        parameters: the current ones of models/pulls when None.
        ticks: of the film's frames; millionths of a second from its `times` when None.
    Raises:
        NothingThere: a press from which no region can be told.
        Cancelled: through `progress`.
    """
    result = _Pass(film, boxes, parameters or load(), progress).run()
    return in_ticks(result, ticks or Ticks.of_seconds(film.times))


class _Pass:
    """One motion pass: reading the film once, settling what each outline means, following again where it means
    something else than was drawn."""

    def __init__(self, film: Film, boxes: Sequence[Box], parameters: MotionParameters, progress: Progress):
        self.film, self.boxes, self.parameters, self.progress = film, boxes, parameters, progress
        self.n = len(film.times)
        self.record = Record(self.n)
        self.drawn = {box.frame: box for box in boxes if box.part == "abdomen"}
        self.stretches: list[Stretch] = []
        self.glimpses = Glimpses()
        self.changes: dict[int, HeldChanges] = {}  # by the frame of their outline
        self.regions: dict[int, Box] = {}  # her region where motion tells it, by the frame of the outline
        self.companions = Companions(boxes, self.n)
        self.ratio, self.picture_bytes = 1.0, 0
        self.shots: tuple[Shot, ...] = ()
        self.used: list[UsedOutline] = []
        self._own: dict[int, tuple[HeldChanges, NDArray[np.bool_], complex]] = {}  # by the number of the stretch
        self._again = True  # whether going back still collects what changed

    def run(self) -> ScanResult:
        began, waited = time.perf_counter(), [0.0]
        self._read(waited)
        keep_to_shots(self.record, self.shots, {one.number: one.frame for one in self.stretches})
        for shot in self.shots:
            self._go_back(shot)
        for changes in self.changes.values():
            changes.finish()
        for shot in self.shots:
            self._settle(shot)
        self._go_on_after_cuts()
        in_noise_units(self.record, self.shots)
        flags = self._flags(self.shots, unseen=True)
        sensitivity = tuple(self._sensitivity(shot) for shot in self.shots)
        watched, unwatched = spans(self.record, self.shots, self.n)
        took = max(time.perf_counter() - began, 1e-9)
        share = min(1.0, waited[0] / took)
        return ScanResult(
            self.shots, trace_of(self.record, self.shots), flags, watched, unwatched, self.parameters.version,
            self.n / took, share, tuple(sorted(self.used, key=lambda one: one.frame)), sensitivity,
        )  # fmt: skip

    def _read(self, waited: list[float]) -> None:
        """Every frame once: shots, camera, the outlines as drawn, and what changed round them."""
        finder = ShotFinder()
        with (
            closing(ahead(self._seen(finder))) as seen,
            closing(ahead(self._steadied(_timed(seen, waited)))) as steady,
            Behind() as behind,
        ):
            self._read_on(steady, behind)
            behind.wait()
        self.shots = rejoined(finder.shots(), self.glimpses, self.drawn, max(self._frame_s(), 1e-3))

    def _seen(self, finder: ShotFinder) -> Iterator[Seen]:
        """Every frame: its number, the picture, the small one, and whether it looks like the first of a new view."""
        for number, picture in self.film.frames():
            small = coarse(picture)
            yield number, picture, small, finder.take(small, number, float(self.film.times[number]))

    def _steadied(self, seen: Iterable[Seen]) -> Iterator[Steady]:
        """Every frame with the camera's place and its step since the last; both are noted."""
        camera, before = Camera(), STILL
        small_before: Grey | None = None
        for number, picture, small, sudden in seen:
            self.ratio, self.picture_bytes = self.film.width / picture.shape[1], picture.nbytes
            if sudden:
                self.glimpses.note(number, small_before, small)
            small_before = small
            box = self.drawn.get(number)
            if sudden and box is not None:  # otherwise the camera finds its own way, or takes a new key
                camera.restart()
                before = STILL
            animals = [self._hinted(box, picture)] if box else []
            scene = camera.follow(small, picture.shape[1] / small.shape[1], animals)
            step = scene.after(before.inverse)
            note_camera(self.record, number, step, scene, camera.seen, self.ratio)
            before = scene
            yield number, picture, sudden, scene, step

    def _read_on(self, steady: Iterable[Steady], behind: Behind) -> None:
        current: Stretch | None = None
        changes: HeldChanges | None = None
        last, fresh = -1, True
        for number, picture, sudden, scene, step in steady:
            now = float(self.film.times[number])
            box, fresh = self.drawn.get(number), fresh or sudden
            if box is not None:
                _ended(current)
                current, changes = None, changes_for(self._hinted(box, picture), scene, picture.shape, box.pressed)
                self.changes[number] = changes
                behind.do(changes.look_at, picture, scene)
                if not box.pressed:
                    hint = as_drawn(box, self.ratio)
                    current = self._begun(len(self.stretches), hint, picture, scene, first=fresh)
                    fresh = False
                    self.stretches.append(current)
            elif current is not None:
                current.follow(number, now, now - float(self.film.times[last]), picture, step, scene)
            if changes is not None:
                behind.do(changes.take, now, picture, scene)
            if self.companions.places:
                dt = now - float(self.film.times[last]) if last >= 0 else 0.0
                self.companions.take(number, picture, self.ratio, step, scene, dt)
            last = number
            self.progress.advance(number + 1, self.n)
        _ended(current)

    def _frame_s(self) -> float:
        """Mean time from frame to frame, seconds."""
        return float(self.film.times[-1] - self.film.times[0]) / max(self.n - 1, 1) if self.n else 0.0

    def _hinted(self, box: Box, picture: Grey) -> tuple[float, float, float, float]:
        """The box in pixels of the analysed picture; round a press, one of the size that is guessed."""
        x, y, w, h = (value / self.ratio for value in (box.x, box.y, box.w, box.h))
        if box.pressed:
            w = h = PRESS_SIZE * min(picture.shape)
            x, y = x - w / 2, y - h / 2
        return x, y, w, h

    def _begun(
        self, number: int, hint: Hint, picture: Grey, scene: Similarity, other: Stretch | None = None,
        first: bool = True,
    ) -> Stretch:  # fmt: skip
        """A stretch at its first frame; `other` goes the other way from the same outline."""
        stretch = Stretch(number, hint, picture, self.ratio, self.record, self.parameters, other is not None)
        stretch.watch.first_of_shot = first
        if other is not None:
            stretch.watch.go_on_from(other.watch)
        stretch.begin(float(self.film.times[hint.frame]), scene)
        return stretch

    def _scene(self, i: int) -> Similarity:
        return Similarity(*(complex(v) for v in self.record.scene[i]))

    def _outlined(self, shot: Shot) -> list[int]:
        return sorted(frame for frame in self.drawn if shot.start <= frame < shot.end)

    def _go_back(self, shot: Shot, hint: Hint | None = None) -> None:
        """From the first outline of a shot back to the shot's beginning, in blocks."""
        frames = self._outlined(shot)
        if not frames or frames[0] <= shot.whole:
            return
        first = frames[0]
        onwards = next((one for one in self.stretches if one.frame == first), None)
        if hint is None and onwards is not None:
            hint = as_drawn(self.drawn[first], self.ratio)
        changes = None if hint is None or not self._again else self.changes[first]
        stretch: Stretch | None = None
        after = -1
        size = int(max(24, min(_BLOCK, _HELD // max(self.picture_bytes, 1))))
        for stop in range(first + 1, shot.whole, -size):
            for i, picture in reversed(list(self.film.frames(max(shot.whole, stop - size), stop))):
                scene, now = self._scene(i), float(self.film.times[i])
                if after < 0:
                    if i != first:
                        continue
                    if hint is not None and onwards is not None:
                        # one way with what was followed onwards: a release must meet its pull
                        stretch = self._begun(onwards.number, hint, picture, scene, onwards)
                elif stretch is not None:
                    dt = float(self.film.times[after]) - now
                    stretch.follow(i, now, dt, picture, scene.after(self._scene(after).inverse), scene)
                if changes is not None:
                    changes.take(now, picture, scene)
                after = i
        if stretch is not None:
            _ended(stretch)
            self.stretches.append(stretch)

    def _settle(self, shot: Shot) -> None:
        """What the outlines of a shot mean; follow again where that is not what was drawn."""
        frames = self._outlined(shot)
        hints: dict[int, Hint] = {}
        told: dict[int, tuple[UsedOutline, UsedOutline]] = {}
        alike = 1.0
        for frame in frames:
            hints[frame], used, drawn, likest = self._meant(frame, shot)
            told[frame] = used, drawn
            alike = min(alike, likest)
        for one in self.stretches:
            if one.frame in hints:
                self._remember(one.number, as_drawn(self.drawn[one.frame], self.ratio))
        if alike == 1.0:
            self.used += [used for used, _ in told.values()]
            return
        pressed = any(self.drawn[frame].pressed for frame in frames)
        before, kept, stretches = self._told(shot), self.record.part(shot.start, shot.end), self.stretches
        self._follow_again(shot, hints)
        sure = min(used.confidence for used, _ in told.values()) > _SURELY
        slack = _BETTER if alike > _HALF else -_ONE_LESS if sure else -_BETTER
        if pressed or self._told(shot) > before + slack:
            self.used += [used for used, _ in told.values()]
            return
        self.record.put_back(shot.start, kept)  # what was drawn does as well
        self.stretches = stretches
        self.used += [drawn for _, drawn in told.values()]

    def _told(self, shot: Shot) -> float:
        """How much is found in a shot: the scores of its flags together."""
        return sum(flag.score for flag in self._flags((shot,)) if flag.flagged)

    def _meant(self, frame: int, shot: Shot) -> tuple[Hint, UsedOutline, UsedOutline, float]:
        """Where to begin from an outline, what to tell of it and of the box as drawn, and how alike both are."""
        box, r = self.drawn[frame], self.ratio
        times = self.film.times
        begin, end = float(times[shot.whole]), float(times[min(shot.end, self.n) - 1])
        changes = self.changes[frame]
        changes.events[:] = [event for event in changes.events if begin <= event.time <= end]
        region = settled(changes, self._scene(frame), box.pressed)
        length = 0.0 if box.pressed else as_drawn(box, r).shape.length * r
        drawn = UsedOutline(frame, "drawn", False, box.x, box.y, box.w, box.h, length)
        if region is None and box.pressed:
            raise NothingThere(box.x, box.y, float(times[frame]))
        alike = 0.0
        if region is not None and not box.pressed:
            alike = likeness(region, self._hinted(box, np.empty((1, 1))))
            if region.source == "moved":
                self.regions[frame] = Box(frame, region.x * r, region.y * r, region.w * r, region.h * r)
            if region.source != "moved" or region.confidence < _REPLACES or alike > _ALIKE:
                region = None
        if region is None:
            return as_drawn(box, r), drawn, drawn, 1.0
        hint = Hint(frame, region.x, region.y, region.shape)
        used = UsedOutline(
            frame, "pressed" if box.pressed else "drawn", True, region.x * r, region.y * r, region.w * r,
            region.h * r, region.length * r, region.angle_deg, region.confidence,
        )  # fmt: skip
        return hint, used, drawn, alike

    def _go_on_after_cuts(self) -> None:
        """Shots without an outline: where she is surely found again, from how an earlier outline looked, go on."""
        known = [shot for shot in self.shots if self._outlined(shot)]
        for shot in self.shots:
            earlier = [one for one in known if one.end <= shot.start] or known
            if self._outlined(shot) or not earlier or shot.end - shot.whole < _SHORTEST:
                continue
            found = self._found_again(earlier[-1], shot)
            if found is None:
                continue
            proposal = found
            box = proposal.box
            self._follow_again(shot, {shot.whole: as_drawn(box, self.ratio)})
            length = as_drawn(box, self.ratio).shape.length * self.ratio
            self.used.append(
                UsedOutline(shot.whole, "found", False, box.x, box.y, box.w, box.h, length, None, proposal.confidence)
            )

    def _found_again(self, known: Shot, shot: Shot) -> Proposal | None:
        """Where she is in a new view, from several looks at her in a known one; None where that is not sure."""
        picture = next((p for _, p in self.film.frames(shot.whole, shot.whole + 1)), None)
        if picture is None:
            return None
        proposals = []
        for look in self._looks(known):
            earlier = next((p for _, p in self.film.frames(look.frame, look.frame + 1)), None)
            if earlier is not None:
                proposals.append(propose(earlier, look, picture, shot.whole, self.ratio))
        return surest([one for one in proposals if one is not None])

    def _looks(self, shot: Shot) -> list[Box]:
        """Her abdomen in a shot as it may be known again: her region, what was followed, and where that was last."""
        frame = self._outlined(shot)[0]
        used = next(one for one in self.used if one.frame == frame)
        looks = [Box(frame, used.x, used.y, used.w, used.h)]
        if frame in self.regions and not used.fitted:
            looks.insert(0, self.regions[frame])
        columns = self.record.columns
        good = np.flatnonzero(columns["quality"][shot.start : shot.end] > _WELL) + shot.start
        if len(good) and good[-1] > frame:
            last = int(good[-1])
            x, y, scale = (float(columns[name][last]) for name in ("x", "y", "scale"))
            w, h = used.w * scale, used.h * scale
            looks.append(Box(last, x - w / 2, y - h / 2, w, h))
        return looks

    def _follow_again(self, shot: Shot, hints: dict[int, Hint]) -> None:
        """The frames of a shot once more, from what its outlines mean; the camera is known."""
        frames = sorted(hints)
        forget(self.record, slice(shot.start, shot.end))
        self.stretches = [one for one in self.stretches if one.frame not in hints]
        number = 1 + max((one.number for one in self.stretches), default=-1)
        number = max(number, len(self.drawn))
        current: Stretch | None = None
        last = -1
        for i, picture in self.film.frames(frames[0], shot.end):
            scene, now = self._scene(i), float(self.film.times[i])
            if i in hints:
                _ended(current)
                current = self._begun(number, hints[i], picture, scene, first=i == frames[0])
                self.stretches.append(current)
                self._remember(number, hints[i])
                number += 1
            elif current is not None and last >= 0:
                step = scene.after(self._scene(last).inverse)
                current.follow(i, now, now - float(self.film.times[last]), picture, step, scene)
            last = i
        _ended(current)
        self._again = False
        if frames[0] in self.drawn:
            self._go_back(shot, hints[frames[0]])
        self._again = True

    def _sensitivity(self, shot: Shot) -> Sensitivity:
        """Which pulls would have been found in a shot; where not even large ones, its frames are noted as faint."""
        numbers = set(np.unique(self.record.stretch[shot.start : shot.end]).tolist()) - {-1}
        begin, end = (float(self.film.times[min(i, self.n - 1)]) for i in (shot.start, shot.end - 1))
        planted: list[Planted] = []
        for stretch in self.stretches:
            if stretch.number in numbers:
                own = [one for one in stretch.planter.done if begin <= one.time <= end]
                planted += own
                for first, last in too_faint(own):
                    inside = (self.film.times >= max(first, begin)) & (self.film.times <= min(last, end))
                    self.record.faint |= inside & (self.record.stretch == stretch.number)
        return Sensitivity(shot.start, len(planted), smallest_found(planted))

    def _flags(self, shots: tuple[Shot, ...], unseen: bool = False) -> tuple[Flag, ...]:
        flags: list[Flag] = []
        record, columns = self.record, self.record.columns
        for frames in runs(record, shots):
            times = self.film.times[frames]
            numbers = set(np.unique(record.stretch[frames]).tolist())
            found = [
                change
                for stretch in self.stretches
                if stretch.number in numbers
                for change in stretch.watch.found
                if times[0] <= change.at <= times[-1]
            ]
            quality = np.nan_to_num(columns["quality"][frames]) * record.followed[frames]
            track = AbdomenTrack(
                frames, times, record.values[frames], quality, record.scene[frames], record.seen[frames],
                columns["busy"][frames], {part: seen[frames] for part, seen in self.companions.places.items()},
            )  # fmt: skip
            flags += find_pulls(track, [self._layered(change, track) for change in found], self.parameters)
            own = self._own.get(int(record.stretch[frames[0]]))
            if own is not None and unseen:
                length = float(np.nanmedian(record.length[frames])) / self.ratio
                flags += unseen_steps(*own, track, found, length)
        return tuple(sorted(flags, key=lambda flag: flag.onset))

    def _layered(self, change: PostureChange, track: AbdomenTrack) -> PostureChange:
        """The change, with what went along beside her."""
        own = self._own.get(int(self.record.stretch[track.frames[0]]))
        if own is None:
            return change
        changes, mask, middle = own
        event = nearest(changes.events, change.at)
        before = (np.abs(track.times - change.ramp.onset) < 0.25) & (track.times <= change.ramp.onset)
        place = track.values[before & (track.quality > 0.5)]
        if event is None or not len(place):
            return change
        at = changes.grid.inverse(complex(*np.median(place[:, :2], axis=0)) * change.length)
        turn = complex(np.exp(1j * change.change[2] / LEVER))
        shift = complex(change.change[0], change.change[1]) * change.length / changes.cell
        move = Similarity(turn, at + shift - turn * at)
        here = cv2.warpAffine(mask.astype(np.uint8), Similarity(1 + 0j, at - middle).matrix(), mask.shape[::-1])
        return replace(change, beyond=beyond(event, move, here.astype(bool)))

    def _remember(self, number: int, hint: Hint) -> None:
        """Where her abdomen lies among the held changes of its outline, for the layers."""
        changes = self.changes.get(hint.frame)
        if changes is None:
            return
        way = self._scene(hint.frame).after(changes.grid)
        corner = complex(hint.x, hint.y)
        mask = hint.shape.among(way, corner, changes.near.shape)
        if mask.any():
            middle = changes.grid.inverse(self._scene(hint.frame).inverse(hint.middle))
            self._own[number] = (changes, mask, middle)


def _ended(stretch: Stretch | None) -> None:
    if stretch is not None:
        stretch.watch.finish()


def _timed(frames: Iterator[T], waited: list[float]) -> Iterator[T]:
    """The same frames; adds up the seconds spent waiting for them."""
    while True:
        began = time.perf_counter()
        item = next(frames, None)
        waited[0] += time.perf_counter() - began
        if item is None:
            return
        yield item
