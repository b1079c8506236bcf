"""Dissolves and fades: stretches in which the picture shows two views at once, or one of them and black or white.

A dissolve is a weighted sum: picture = (1 - s)·one + s·other, with s going from 0 to 1. So with A and B the
pictures at both ends of a stretch, (picture - A) / (B - A) is the same number s at every pixel that holds still,
and that number grows steadily. A hand, a passing body or a wipe goes pixel by pixel from 0 to 1; a pan, a bump or a
change of focus gives no one number at all, or leaves the same view there; a lamp or the exposure leaves A and B
alike. Both views may move meanwhile: a third of the difference that keeps to s is enough. Fine texture alone is
compared, what is left when the surroundings' mean is taken off: this leaves a sum a sum, and takes away shade and
glare. (The model is the definition of a dissolve; the limits were set on real and made film, see docs/motion.md.)

A fade keeps the view's pattern and takes its contrast steadily down to an even black or white, or brings it from
there.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from clipmark.motion.texture import Grey, Image

Floats = NDArray[np.float64]

_SIZE = (64, 48)
_SURROUNDINGS = 13  # pixels of the small view over which the mean is taken off
_LENGTHS_S = (
    0.35,
    0.5,
    0.75,
    1.0,
    1.3,
    1.7,
    2.2,
)  # stretches that are tried; each finds dissolves to 1.6 times longer
_AROUND_S = 1.2  # seconds looked at before and after such a stretch for where the dissolve begins and ends
_KEEP_S = _LENGTHS_S[-1] + 2 * _AROUND_S
_EVERY_S = 0.12
_FASTEST = 32  # views a second that are kept: faster film says no more
_LEAST_TEXTURE = 1.5  # grey levels
_ALIKE = 0.4  # correlation of the ends' texture from which they are one view
_STEADY = 0.15  # a pixel keeps to the common share within this
_LEAST_STEADY = 0.36  # share of the picture's difference that must keep to it
_LEAST_SPREAD = 0.7  # over as much of the picture as the difference: a title over moving film is no dissolve
_FOUND_AGAIN = 0.72  # correlation from which a corner of the picture is found again; three of eight are enough
_BACK, _STEP = 0.15, 0.4  # the share may fall back and jump by so much
_BESIDE_S = 0.3
_MORE = 0.6  # a blend's own course may be lengthened by so much of itself where its views' courses say so
_LEAST_FIT = 0.98  # of the steady pixels' course that one even ramp explains
_SAME_PLAN = 0.85  # correlation of what is light and dark on the whole: the focus changed, not the view
_SHORTEST_S, _LONGEST_S = 0.25, 3.0
_EVEN, _BLACK, _WHITE = 2.5, 28.0, 228.0  # grey levels: contrast of an empty picture, and how dark or bright it is


@dataclass(frozen=True, slots=True)
class Blend:
    """Frames `first`..`last` show no one view alone; `same`: a fade out and in, the view after is the view before."""

    first: int
    last: int
    same: bool = False


@dataclass(frozen=True, slots=True)
class _View:
    number: int
    time: float
    mean: float
    contrast: float
    plan: Image  # light and dark on the whole, (48,), mean taken off
    fine: Image  # texture without its surroundings, (k,)
    power: float

    @property
    def empty(self) -> bool:
        return self.contrast < _EVEN and not _BLACK <= self.mean <= _WHITE


@dataclass(frozen=True, slots=True)
class _Found:
    steady: float  # share of the difference that kept to one share
    start: _View
    end: _View
    pixels: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class _Fade:
    first: int
    before: _View


class BlendFinder:
    """Takes small pictures one by one and holds the last seconds of them."""

    def __init__(self) -> None:
        self._found: list[Blend] = []
        self._views: deque[_View] = deque()
        self._since = -1  # first frame after the last sudden change: no dissolve reaches over it
        self._checked = -1e9
        self._best: _Found | None = None
        self._fade: _Fade | None = None  # the picture went out and has not come back
        self._rising: list[_View] = []  # views since it began to come back

    def take(self, small: Grey, number: int, time: float, sudden: bool) -> None:
        """The next small picture; `sudden`: it looks like the first of a new view."""
        if sudden:
            self._settle()
            self._since = number
        elif self._views and time - self._views[-1].time < 1 / _FASTEST:
            return
        view = _seen(small, number, time)
        self._follow_fade(view, sudden)
        self._views.append(view)
        while time - self._views[0].time > _KEEP_S:
            self._views.popleft()
        if self._best is not None and time - self._best.end.time > _AROUND_S:
            self._settle()
        if time - self._checked > _EVERY_S and number > self._since:
            self._checked = time
            self._look(view)

    def finish(self) -> list[Blend]:
        """What was found, in the order of the film, once it has ended."""
        self._settle()
        if self._fade is not None and len(self._rising) > 2:
            self._come_back(self._rising)
        return _merged(self._found)

    def _look(self, end: _View) -> None:
        if end.power < _LEAST_TEXTURE**2:
            return
        views = [view for view in self._views if view.number >= self._since]
        ages = np.array([end.time - view.time for view in views])
        for length in _LENGTHS_S:
            i = int(np.searchsorted(-ages, -length - 1e-6))
            if len(views) - i < 6 or ages[i] < 0.7 * length:
                continue
            found = _blended(views[i:])
            if found is not None and (self._best is None or found.steady > self._best.steady):
                self._best = found

    def _settle(self) -> None:
        """Fix where the dissolve that was met begins and ends."""
        best, self._best = self._best, None
        if best is None:
            return
        early, late = best.start.time - _AROUND_S, best.end.time + _AROUND_S
        views = [v for v in self._views if v.number >= self._since and early <= v.time <= late]
        span = _extent(views, best)
        if span is not None:
            self._found.append(Blend(*span))
            self._since = span[1] + 1

    def _follow_fade(self, view: _View, sudden: bool) -> None:
        before = self._views[-1] if self._views else None
        if self._fade is None:
            if view.empty and before is None:
                self._fade = _Fade(view.number, view)
            elif view.empty and before is not None and not before.empty:
                self._fade = _went_out([v for v in self._views if v.number >= self._since], view)
            return
        if view.empty:
            self._rising.clear()
            return
        self._rising.append(view)
        if sudden and len(self._rising) == 1 and view.contrast > 0.5 * self._fade.before.contrast:
            self._end_fade(view)
        elif view.time - self._rising[0].time > 0.4 and _settled(self._rising):
            self._come_back(self._rising)
        elif view.time - self._rising[0].time > _LONGEST_S:
            self._fade = None
            self._rising.clear()

    def _come_back(self, rising: Sequence[_View]) -> None:
        """The picture is there again: it is whole where its contrast has all but reached its last level."""
        full = rising[-1]
        level = 0.95 * max(view.contrast for view in rising)
        self._end_fade(next(view for view in rising if view.contrast >= level), full)

    def _end_fade(self, whole: _View, full: _View | None = None) -> None:
        assert self._fade is not None
        before = self._fade.before
        self._found.append(Blend(self._fade.first, whole.number - 1, _likeness(before, full or whole) > _ALIKE))
        self._fade = None
        self._rising.clear()


def _merged(found: list[Blend]) -> list[Blend]:
    """Blends that follow one another at once are parts of one."""
    merged: list[Blend] = []
    for blend in sorted(found, key=lambda one: one.first):
        if merged and blend.first <= merged[-1].last + 3:
            last = merged.pop()
            blend = Blend(last.first, max(last.last, blend.last), last.same and blend.same)
        merged.append(blend)
    return merged


def _seen(small: Grey, number: int, time: float) -> _View:
    view = cv2.resize(small, _SIZE, interpolation=cv2.INTER_AREA).astype(np.float32)
    fine = (view - cv2.blur(view, (_SURROUNDINGS, _SURROUNDINGS))).ravel()
    mean, contrast = cv2.meanStdDev(view)
    plan = cv2.resize(view, (8, 6), interpolation=cv2.INTER_AREA).ravel() - np.float32(mean[0, 0])
    return _View(number, time, float(mean[0, 0]), float(contrast[0, 0]), plan, fine, float(fine @ fine) / fine.size)


def _likeness(one: _View, other: _View) -> float:
    """Correlation of two views' texture, -1..1; what has next to none is like nothing."""
    return float(one.fine @ other.fine) / (one.fine.size * (math.sqrt(one.power * other.power) + 0.25))


def _blended(views: Sequence[_View]) -> _Found | None:
    """Whether the views between the first and the last are blends of these two."""
    start, end = views[0], views[-1]
    if start.power < _LEAST_TEXTURE**2 or _likeness(start, end) > _ALIKE:
        return None
    way = end.fine - start.fine
    along = way / float(way @ way)
    base = float(start.fine @ along)
    if not 0.1 < float(views[len(views) // 2].fine @ along) - base < 0.9:
        return None
    shares = np.array([float(view.fine @ along) for view in views]) - base
    if not _grows(shares):
        return None
    middle = np.flatnonzero((shares > 0.2) & (shares < 0.8))
    if len(middle) < 3:
        return None
    size = np.abs(way)
    strong = np.flatnonzero(size > max(4.0, 0.8 * float(size.mean())))
    if len(strong) < way.size // 20:
        return None
    few = middle[[0, len(middle) // 2, -1]]
    glance = strong[:: max(1, len(strong) // 250)]
    if _keeping(views, start, way, few, glance)[1] < _LEAST_STEADY - 0.06:
        return None
    more = middle[np.linspace(0, len(middle) - 1, min(len(middle), 9)).astype(int)]
    keeps, steady = _keeping(views, start, way, more, strong)
    if steady < _LEAST_STEADY or _spread(strong[keeps], size) < _LEAST_SPREAD * _spread(strong, size):
        return None
    if _moved(start, end):
        return None
    return _Found(steady, start, end, strong[keeps])


def _keeping(
    views: Sequence[_View], start: _View, way: Image, which: NDArray[np.intp], pixels: NDArray[np.intp]
) -> tuple[NDArray[np.bool_], float]:
    """Which of the pixels keep to the common share in the chosen views, and how much of the difference they are."""
    base, whole = start.fine[pixels], way[pixels]
    own = np.stack([(views[i].fine[pixels] - base) / whole for i in which])
    apart = np.median(np.abs(own - np.median(own, axis=1, keepdims=True)), axis=0)
    keeps, size = apart < _STEADY, np.abs(whole)
    return keeps, float(size[keeps].sum() / size.sum())


def _spread(pixels: NDArray[np.intp], size: Image) -> float:
    """Over how many of the picture's twelve parts the pixels' differences are spread: 1 for one part, 12 for all."""
    y, x = np.divmod(pixels, _SIZE[0])
    parts = np.bincount(y // 16 * 4 + x // 16, size[pixels], minlength=12)
    return float(parts.sum() ** 2 / (parts**2).sum())


def _moved(one: _View, other: _View) -> bool:
    """Whether both are one view that moved or changed its focus: corners of one are found again near their place in
    the other, or light and dark lie in the same places."""
    between = float(one.plan @ other.plan) / (float(np.linalg.norm(one.plan) * np.linalg.norm(other.plan)) + 1.0)
    if between > _SAME_PLAN:
        return True
    a, b = (view.fine.reshape(_SIZE[::-1]) for view in (one, other))
    likest = []
    for here, there in ((a, b), (b, a)):
        for y in (4, 26):
            for x in (4, 38):
                patch = here[y : y + 18, x : x + 22]
                near = there[max(0, y - 8) : y + 26, max(0, x - 8) : x + 30]
                likest.append(float(cv2.matchTemplate(near, patch, cv2.TM_CCOEFF_NORMED).max()))
    return sorted(likest)[5] > _FOUND_AGAIN


def _grows(shares: Floats) -> bool:
    fallen = float((np.maximum.accumulate(shares) - shares).max())
    return fallen < _BACK and float(np.diff(shares).max()) < _STEP


def _extent(views: Sequence[_View], found: _Found) -> tuple[int, int] | None:
    """First and last frame of the blend: from the course of the pixels that kept to it, and, where the views hold
    still enough, from how one view's texture goes and the other's comes."""
    pixels = found.pixels
    base, way = found.start.fine[pixels], (found.end.fine - found.start.fine)[pixels]
    course = np.array([float(np.median((view.fine[pixels] - base) / way)) for view in views])
    span = _ramp(views, course, found)
    if span is None:
        return None
    first, last = span
    more = round(_MORE * (last - first + 1))
    for one in (found.start, found.end):
        also = _ramp(views, np.array([float(view.fine @ one.fine) for view in views]), found)
        if also is not None:
            first, last = min(first, max(also[0], span[0] - more)), max(last, min(also[1], span[1] + more))
    return first, last


def _ramp(views: Sequence[_View], course: Floats, found: _Found) -> tuple[int, int] | None:
    """First and last frame between two levels of a course that rises or falls evenly from one to the other."""
    times = np.array([view.time for view in views])
    first, last = np.triu_indices(len(views), 3)
    length = times[last] - times[first]
    fits = (length >= _SHORTEST_S) & (length <= _LONGEST_S)
    # the ramp must hold most of the stretch that was recognised as a blend
    shared = np.minimum(times[last], found.end.time) - np.maximum(times[first], found.start.time)
    fits &= shared >= 0.5 * np.minimum(length, found.end.time - found.start.time)
    first, last, length = first[fits], last[fits], length[fits]
    if not len(first):
        return None
    ramps = np.clip((times - times[first, None]) / length[:, None], 0, 1)
    # just before and after: what holds still meanwhile may move on later
    near = ((times >= times[first, None] - _BESIDE_S) & (times <= times[last, None] + _BESIDE_S)).astype(float)
    count = near.sum(axis=1, keepdims=True)
    ramps = (ramps - (ramps * near).sum(axis=1, keepdims=True) / count) * near
    rest = (course - (near @ course)[:, None] / count) * near
    power = (rest**2).sum(axis=1)
    explained = (ramps * rest).sum(axis=1) ** 2 / np.maximum((ramps**2).sum(axis=1), 1e-9) / np.maximum(power, 1e-9)
    top = int(explained.argmax())
    if explained[top] < _LEAST_FIT:
        return None
    return views[first[top]].number + 1, views[last[top]].number - 1


def _went_out(views: Sequence[_View], empty: _View) -> _Fade | None:
    """Where the fade to an empty picture began; None where it went out all at once, or was covered."""
    steps = [*views, empty]
    i = len(steps) - 1
    while i and steps[i - 1].contrast > 1.02 * steps[i].contrast and empty.time - steps[i - 1].time < _LONGEST_S:
        i -= 1
    whole = steps[i]
    visible = [view for view in steps[i:-1] if view.contrast > 0.25 * whole.contrast]
    if len(steps) - 1 - i < 4 or empty.time - whole.time < _SHORTEST_S or whole.contrast < 4 * _EVEN:
        return None
    if len(visible) < 3 or min(_likeness(whole, view) for view in visible) < 0.8:
        return None
    return _Fade(steps[i + 1].number, whole)


def _settled(rising: Sequence[_View]) -> bool:
    """Whether the contrast has stopped growing for a third of a second."""
    now = rising[-1]
    recent = [view.contrast for view in rising if now.time - view.time <= 0.34]
    return max(recent) < 1.05 * min(recent)
