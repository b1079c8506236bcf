"""Rhythm of drumming and shaking, in the picture and in the sound, and whether the two agree.

The picture's rhythm is looked for in the grey level of small cells, not in the amount of movement: a palp that
goes up and down once passes each cell once a stroke, while the amount of movement peaks twice. Spectra are taken
at the frames' own times (a plain sum over exp(-2πift)), so uneven film is measured as it is.

Above half the frame rate nothing can be counted: a faster rhythm shows as a slower one that is not there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.bouts import bout_criterion, fit_gaps, split
from clipmark.progress import SILENT, Progress

Floats = NDArray[np.float64]

_OWN = 0.45  # share of what a rate explains that lies at the rate itself
_FOLDED = 0.7  # share of the movement that a rate with folded multiples must explain

NOT_RESOLVABLE = "not resolvable at this frame rate"
DOUBLE = "sharp strokes twice as fast would look the same at this frame rate"


class Film(Protocol):
    """Frames of a film as small grey pictures, see clipmark.media.grey.GreyFilm."""

    @property
    def times(self) -> Floats: ...
    @property
    def width(self) -> int: ...
    @property
    def height(self) -> int: ...
    def frames(self) -> Iterator[tuple[int, NDArray[np.uint8]]]: ...


@dataclass(frozen=True, slots=True)
class RhythmParameters:
    """Seconds, hertz and shares."""

    window_s: float = 2.0  # a rhythm must hold this long to be seen in the picture
    step_s: float = 0.5
    slowest_hz: float = 1.2
    lowest_hz: float = 0.2  # slow movement counts against a rhythm, though it is none itself
    fastest_hz: float = 30.0
    least_share: float = 0.57  # of the cells' movement that one rate and its multiples explain
    alone_share: float = 0.65  # the same, where one window alone shows it
    same: float = 0.15  # neighbouring windows with rates this close are one bout
    agree: float = 0.05  # picture and sound agree within this share of the rate
    least_lock: float = 0.6  # how firmly taps sit at one place of the picture's cycle, 0..1
    default_gap_s: float = 1.0  # bout criterion where the gaps give none (proposal, no source)
    least_regular: float = 0.5
    least_cycles: float = 4.0  # fewer are no rhythm yet


PARAMETERS = RhythmParameters()


@dataclass(frozen=True, slots=True)
class Bout:
    """A run of rhythmic acts. Times in seconds from the clip's first frame.

    Attributes:
        source: "picture" or "sound".
        rate_hz: strokes a second; None where it cannot be resolved.
        regularity: 0..1; picture: share of the movement that the rate explains, sound: how firmly the strikes
            keep to one beat (length of the mean vector of their phases).
        strikes: number of strikes heard; None for the picture.
        note: what the keeper must know, empty or a sentence.
    """

    source: str
    start_s: float
    end_s: float
    rate_hz: float | None
    regularity: float
    strikes: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Agreement:
    """A stretch where picture and sound show the same rhythm. `ratio`: taps heard per cycle seen (2 when two
    palps strike in turn); `lock`: 0..1, how firmly taps sit at one place of the seen cycle."""

    start_s: float
    end_s: float
    rate_hz: float
    ratio: int
    lock: float


@dataclass(frozen=True, slots=True)
class Cells:
    """Grey levels of the cells of a region, shape (n, cells), at the times (n,) seconds; NaN-free."""

    times: Floats
    levels: NDArray[np.float32]


def gather(
    film: Film, region: tuple[float, float, float, float] | None = None, progress: Progress = SILENT
) -> tuple[Cells, Cells]:
    """Read the film once: cells of the region, and coarse cells of the whole picture to compare with.

    Args:
        region: x, y, w, h in pixels of the displayed picture; None for the whole picture.
    Raises:
        ValueError: the region does not touch the picture.
    """
    gathering = Gathering(film.width, film.height, region)
    total = len(film.times)
    for number, grey in film.frames():
        gathering.take(number, grey)
        progress.advance(number + 1, total)
    return gathering.cells(film.times)


class Gathering:
    """Collects the cells of a region while a film is read for whatever purpose.

    Args:
        width, height: of the picture as displayed.
        region: x, y, w, h in pixels of that picture; None for the whole of it.
        most: cells across and down at most.
    Raises:
        ValueError: the region does not touch the picture.
    """

    def __init__(
        self,
        width: int,
        height: int,
        region: tuple[float, float, float, float] | None,
        most: tuple[int, int] = (24, 18),
    ):
        x, y, w, h = self._region = region or (0.0, 0.0, float(width), float(height))
        if min(x + w, width) - max(x, 0) < 2 or min(y + h, height) - max(y, 0) < 2:
            raise ValueError("the region lies outside the picture")
        self._width, self._most = width, most
        self._seen: list[int] = []
        self._inner: list[NDArray[np.float16]] = []
        self._outer: list[NDArray[np.float16]] = []

    def take(self, number: int, grey: NDArray[np.uint8]) -> None:
        """The next picture (h, w), of whatever size, and its number."""
        import cv2

        x, y, w, h = self._region
        s = grey.shape[1] / self._width
        left, top = max(0, int(x * s)), max(0, int(y * s))
        part = grey[top : max(top + 2, round((y + h) * s)), left : max(left + 2, round((x + w) * s))]
        across = int(np.clip(part.shape[1] // 5, 2, self._most[0]))
        down = int(np.clip(part.shape[0] // 5, 2, self._most[1]))
        self._inner.append(_shrink(cv2, part, across, down))
        self._outer.append(_shrink(cv2, grey, 8, 6))
        self._seen.append(number)

    def cells(self, times: Floats, start: int = 0, stop: int | None = None) -> tuple[Cells, Cells]:
        """Cells of the region and of the whole picture for the frames [start, stop); `times` of all frames."""
        seen = np.array(self._seen, dtype=int)
        a, b = np.searchsorted(seen, [start, len(times) if stop is None else stop])
        at = times[seen[a:b]] if b > a else np.empty(0)
        return Cells(at, _stack(self._inner[a:b])), Cells(at, _stack(self._outer[a:b]))


def _shrink(cv2: object, grey: NDArray[np.uint8], across: int, down: int) -> NDArray[np.float16]:
    small = cv2.resize(grey.astype(np.float32), (across, down), interpolation=cv2.INTER_AREA)  # type: ignore[attr-defined]
    return np.asarray(small, np.float16).ravel()


def _stack(rows: Sequence[NDArray[np.float16]]) -> NDArray[np.float32]:
    return np.stack(rows).astype(np.float32) if rows else np.empty((0, 0), np.float32)


def spectrum(times: Floats, levels: NDArray[np.float32], frequencies: Floats) -> Floats:
    """Power of each frequency (hertz, shape (f,)) summed over the cells, straight lines and Hann taper removed."""
    if len(times) < 4:
        return np.zeros(len(frequencies))
    t = times - times.mean()
    design = np.stack([np.ones_like(t), t], axis=1)
    rest = levels - design @ np.linalg.lstsq(design, levels.astype(np.float64), rcond=None)[0]
    taper = 0.5 + 0.5 * np.cos(2 * np.pi * t / max(times[-1] - times[0], 1e-9))
    waves = np.exp(-2j * np.pi * frequencies[:, None] * t[None, :])
    return np.asarray((np.abs(waves @ (rest * taper[:, None])) ** 2).sum(axis=1), float)


def fundamental(
    frequencies: Floats, power: Floats, lobe_hz: float, frame_rate: float | None = None
) -> tuple[float, float]:
    """The rate that, with its multiples, explains most of the power, and the share that it explains (0..1).

    Of rates that explain nearly as much, the slowest counts that holds power itself: half of a true rate explains
    all that the true one does, but has no power at its own place.

    Args:
        frame_rate: of film with even times: multiples above half of it show folded, and are looked for there. A
            sharp stroke of 9.6 Hz at 25 frames a second has its double at 5.8 Hz.
    """
    total = power.sum()
    if total <= 0:
        return 0.0, 0.0
    own = np.array([power[abs(frequencies - f) <= lobe_hz].sum() for f in frequencies])
    explained = own.copy()
    for multiple in (2, 3):
        for i, f in enumerate(frequencies):
            if multiple * f <= frequencies[-1] and (multiple - 1) * f > 2 * lobe_hz:
                explained[i] += power[abs(frequencies - multiple * f) <= lobe_hz].sum()
    if frame_rate is not None:
        for i in np.flatnonzero((3 * frequencies > frequencies[-1]) & (own >= 0.15 * total)).tolist():
            mine = abs(frequencies - frequencies[i]) <= lobe_hz
            for multiple in (2, 3):
                mine |= abs(frequencies - folded(multiple * frequencies[i], frame_rate)) <= lobe_hz
            all_of_it = power[mine].sum()
            if own[i] >= _OWN * all_of_it and all_of_it >= _FOLDED * total:  # three bands hold much of any noise
                explained[i] = max(explained[i], all_of_it)
    good = (explained >= 0.85 * explained.max()) & (own >= _OWN * explained)
    start = int(np.argmax(good)) if good.any() else int(explained.argmax())
    # the top of the lobe, not its first edge
    around = np.flatnonzero(abs(frequencies - frequencies[start]) <= 2 * lobe_hz)
    best = int(around[power[around].argmax()])
    return float(frequencies[best]), float(explained[best] / total)


def _sharpen(times: Floats, levels: NDArray[np.float32], rate: float) -> float:
    """The rate refined on the whole stretch: the finest peak that its length allows."""
    length = max(times[-1] - times[0], 1e-3)
    half = min(1.0 / length, 0.2 * rate)
    grid = np.linspace(rate - half, rate + half, 81)
    power = spectrum(times, levels, grid)
    top = int(power.argmax())
    if 0 < top < len(grid) - 1:  # parabola through the three highest
        a, b, c = power[top - 1 : top + 2]
        if a - 2 * b + c < 0:
            return float(grid[top] + 0.5 * (a - c) / (a - 2 * b + c) * (grid[1] - grid[0]))
    return float(grid[top])


def _even(times: Floats) -> bool:
    """Whether frames follow one another evenly, within a tenth of their gap (file times are rounded)."""
    gaps = np.diff(times)
    return bool(np.percentile(np.abs(gaps - np.median(gaps)), 95) <= 0.1 * np.median(gaps))


def half_rate(times: Floats) -> float:
    """Half the frame rate in hertz, from the usual gap between frames: the fastest rhythm that can be counted."""
    return 0.5 / float(np.median(np.diff(times))) if len(times) > 1 else 0.0


def picture_bouts(cells: Cells, whole: Cells, p: RhythmParameters = PARAMETERS) -> list[Bout]:
    """Bouts of rhythmic movement in a region.

    Args:
        cells, whole: from `gather`.
    Returns:
        bouts in order of time; those whose rhythm the whole picture shares carry a note.
    """
    times = cells.times
    limit = half_rate(times)
    top = min(p.fastest_hz, 0.96 * limit)
    if len(times) < 8 or times[-1] - times[0] < p.window_s or top <= p.slowest_hz:
        return []
    frequencies = np.arange(p.lowest_hz, top, 0.1)
    lobe = 2.0 / p.window_s * 0.75
    frame_rate = 2 * limit if _even(times) else None
    found: list[tuple[float, float, float, float]] = []
    for start in np.arange(times[0], times[-1] - p.window_s + 1e-9, p.step_s):
        a, b = np.searchsorted(times, [start, start + p.window_s])
        if b - a < 8:
            continue
        if not _moves(cells.levels[a:b]):
            continue
        power = spectrum(times[a:b], cells.levels[a:b], frequencies)
        rate, share = fundamental(frequencies, power, lobe, frame_rate)
        if rate >= p.slowest_hz and share >= p.least_share:
            found.append((start, start + p.window_s, rate, share))
    # a single window of aimless movement may look like a rhythm by chance
    runs = [run for run in _runs(found, p) if len(run) > 1 or run[0][3] >= p.alone_share]
    bouts = [_bout(cells, whole, run, frequencies, lobe, p) for run in runs]
    return _standing(bouts, p)


def _standing(bouts: list[Bout], p: RhythmParameters) -> list[Bout]:
    """Bouts long enough to be a rhythm, and none that lies mostly inside a clearer one: a window over the edge of
    a bout sees the step from rest to movement as a slow wave."""
    kept: list[Bout] = []
    for bout in sorted(bouts, key=lambda b: (b.end_s - b.start_s) * b.regularity, reverse=True):
        length = bout.end_s - bout.start_s
        covered = sum(max(0.0, min(bout.end_s, k.end_s) - max(bout.start_s, k.start_s)) for k in kept)
        if length * (bout.rate_hz or 0.0) >= p.least_cycles and covered <= 0.3 * length:
            kept.append(bout)
    return _joined(sorted(kept, key=lambda b: b.start_s), p)


def _joined(bouts: list[Bout], p: RhythmParameters) -> list[Bout]:
    """Bouts of one rate that follow one another at once are one."""
    joined: list[Bout] = []
    for bout in bouts:
        last = joined[-1] if joined else None
        if last and bout.start_s - last.end_s <= p.step_s and _same_rate(last, bout, p.agree):
            long, short = sorted((last, bout), key=lambda b: b.start_s - b.end_s)
            whole = (last.start_s, max(last.end_s, bout.end_s), min(long.regularity, short.regularity))
            joined[-1] = replace(long, start_s=whole[0], end_s=whole[1], regularity=whole[2])
            continue
        joined.append(bout)
    return joined


def _same_rate(one: Bout, other: Bout, within: float) -> bool:
    return bool(one.rate_hz and other.rate_hz and abs(one.rate_hz / other.rate_hz - 1) <= within)


def _moves(levels: NDArray[np.float32]) -> bool:
    # film noise averaged over a cell stays below; a palp that crosses a cell changes it by tens of grey levels
    return float(np.percentile(levels.std(axis=0), 95)) > 0.7


def _runs(
    found: list[tuple[float, float, float, float]], p: RhythmParameters
) -> list[list[tuple[float, float, float, float]]]:
    runs: list[list[tuple[float, float, float, float]]] = []
    for window in found:
        last = runs[-1][-1] if runs else None
        if last and window[0] - last[0] <= 2 * p.step_s + 1e-9 and abs(window[2] / last[2] - 1) <= p.same:
            runs[-1].append(window)
        else:
            runs.append([window])
    return runs


def _bout(
    cells: Cells, whole: Cells, run: list[tuple[float, float, float, float]], frequencies: Floats, lobe: float,
    p: RhythmParameters,
) -> Bout:  # fmt: skip
    start, end = run[0][0], run[-1][1]
    rate = float(np.median([window[2] for window in run]))
    start, end = _edges(cells, start, end, rate)
    a, b = np.searchsorted(cells.times, [start, end])
    rate = _sharpen(cells.times[a:b], cells.levels[a:b], rate)
    share = float(np.mean([window[3] for window in run]))
    everywhere, all_share = fundamental(
        frequencies,
        spectrum(whole.times[a:b], np.median(whole.levels[a:b], axis=1, keepdims=True), frequencies),
        lobe,
    )
    shared = all_share >= p.least_share and abs(everywhere / rate - 1) <= p.same
    shared = shared and float(np.median(whole.levels[a:b].std(axis=0))) > 0.5
    note = "the whole picture moves or flickers at this rate" if shared else ""
    if not note and _like_double(cells.times[a:b], cells.levels[a:b], rate):
        note = DOUBLE
    return Bout("picture", float(start), float(end), rate, min(share, 1.0), None, note)


def _like_double(times: Floats, levels: NDArray[np.float32], rate: float) -> bool:
    """Whether sharp strokes twice as fast would look the same: at a fifth of the frame rate the folded multiples of
    the double rate fall on the rate and its double, as the rate's own do. An even stroke has no such multiples."""
    frame_rate = 2 * half_rate(times)
    if not _even(times) or abs(folded(4 * rate, frame_rate) - rate) > 0.03 * rate:
        return False
    power = spectrum(times, levels, np.array([rate, 2 * rate]))
    return bool(power[1] > 0.2 * power[0])


def _edges(cells: Cells, start: float, end: float, rate: float) -> tuple[float, float]:
    """Where the movement at this rate really begins and ends: half of its middle strength, between the windows."""
    a, b = np.searchsorted(cells.times, [start, end])
    times, levels = cells.times[a:b], cells.levels[a:b] - cells.levels[a:b].mean(axis=0)
    wave = np.exp(-2j * np.pi * rate * times)[:, None]
    reach = max(3, round(1.5 / rate / max(float(np.median(np.diff(times))), 1e-6)))
    mean = np.ones(reach) / reach
    turning = levels * wave
    strength = np.zeros(len(times))
    for cell in np.argsort(levels.var(axis=0))[-12:]:
        strength += np.abs(np.convolve(turning[:, cell], mean, mode="same")) ** 2
    strong = np.flatnonzero(np.sqrt(strength) >= 0.5 * np.median(np.sqrt(strength)))
    return (float(times[strong[0]]), float(times[strong[-1]])) if len(strong) > 3 else (start, end)


def beat(strikes: Floats) -> tuple[float, float]:
    """The rate in hertz of a run of strikes, and how regular they are (0..1).

    Starts at the usual gap, then takes the rate nearby at which the phases of all strikes agree best, so a missed
    or doubled strike does not move it.
    """
    gaps = np.diff(strikes)
    if not len(gaps) or np.median(gaps) <= 0:
        return 0.0, 0.0
    usual = 1 / float(np.median(gaps))
    span = strikes[-1] - strikes[0]
    grid = usual * np.linspace(0.85, 1.18, max(200, int(span * usual * 8)))
    phases = 2j * np.pi * (strikes - strikes[0])
    at_once = max(1, 500_000 // len(strikes))  # rates: a run of thousands of strikes must not fill the memory
    pieces = (grid[i : i + at_once, None] * phases for i in range(0, len(grid), at_once))
    lock = np.concatenate([np.abs(np.exp(piece).mean(axis=1)) for piece in pieces])
    best = int(lock.argmax())
    return float(grid[best]), float(lock[best])


def sound_bouts(strikes: Floats, frame_limit_hz: float | None = None, p: RhythmParameters = PARAMETERS) -> list[Bout]:
    """Bouts of regular taps among all taps heard (seconds); the bout criterion comes from the gaps themselves."""
    model = fit_gaps(np.diff(strikes)) if len(strikes) > 8 else None
    criterion = bout_criterion(model) if model else None
    # a fitted criterion below three usual gaps would cut at every missed strike
    gap = float(np.clip(criterion or p.default_gap_s, 0.3, 2.0))
    bouts = []
    for run in split(strikes, gap):
        rate, regular = beat(run)
        if rate < p.slowest_hz or regular < p.least_regular or len(run) < 4:
            continue
        note = ""
        if frame_limit_hz is not None and rate > frame_limit_hz:
            note = f"in the picture {NOT_RESOLVABLE} (half of it is {frame_limit_hz:.4g} Hz)"
        bouts.append(Bout("sound", float(run[0]), float(run[-1]), rate, regular, len(run), note))
    return bouts


def folded(rate: float, frame_rate: float) -> float:
    """The rate in hertz that a rhythm of `rate` seems to have on film of this frame rate: 20 Hz at 25 a second
    shows as 5 Hz."""
    return abs(rate - frame_rate * round(rate / frame_rate))


def doubt_folded(
    picture: list[Bout], sound: list[Bout], times: Floats, p: RhythmParameters = PARAMETERS
) -> list[Bout]:
    """Picture bouts whose rate is only the fold of a faster one that the sound shows: their rate is taken away."""
    limit = half_rate(times)
    checked = []
    for bout in picture:
        fast = [
            s.rate_hz for s in sound
            if s.rate_hz and s.rate_hz > limit and min(s.end_s, bout.end_s) > max(s.start_s, bout.start_s)
        ]  # fmt: skip
        seen = bout.rate_hz or 0.0
        if any(abs(folded(rate, 2 * limit) - seen) <= max(p.agree * seen, 0.2) for rate in fast):
            bout = replace(bout, rate_hz=None, note=f"{NOT_RESOLVABLE}: the sound beats faster than half of it")
        checked.append(bout)
    return checked


def agreements(
    cells: Cells, picture: Sequence[Bout], sound: Sequence[Bout], strikes: Floats, p: RhythmParameters = PARAMETERS
) -> list[Agreement]:
    """Stretches where picture and sound show one rhythm: same rate (or taps at twice the seen rate), at the same
    time, and taps that keep to one place of the seen cycle. Equal rates alone are no agreement."""
    found = []
    for seen in picture:
        for heard in sound:
            if seen.rate_hz is None or heard.rate_hz is None:
                continue
            start, end = max(seen.start_s, heard.start_s), min(seen.end_s, heard.end_s)
            ratio = round(heard.rate_hz / seen.rate_hz)
            if ratio not in (1, 2) or abs(heard.rate_hz / (ratio * seen.rate_hz) - 1) > p.agree:
                continue
            taps = strikes[(strikes >= start) & (strikes <= end)]
            if len(taps) < 5 or (end - start) * seen.rate_hz < 4:
                continue
            lock = _lock(cells, taps, start, end, heard.rate_hz, ratio)
            # by chance n random taps reach sqrt(3/n) about once in twenty
            if lock >= max(p.least_lock, float(np.sqrt(3 / len(taps)))):
                found.append(Agreement(start, end, heard.rate_hz / ratio, ratio, lock))
    return found


def _lock(cells: Cells, taps: Floats, start: float, end: float, rate: float, ratio: int) -> float:
    """Length of the mean vector of the taps' places in the cycle of the strongest cells (taps at `ratio` a cycle)."""
    a, b = np.searchsorted(cells.times, [start, end])
    times, levels = cells.times[a:b], cells.levels[a:b] - cells.levels[a:b].mean(axis=0)
    wave = np.exp(-2j * np.pi * rate / ratio * times)
    strongest = levels[:, int(np.abs(wave @ levels).argmax())]
    reach = max(3, round(1.5 * ratio / rate / max(float(np.median(np.diff(times))), 1e-6)))
    turning = np.convolve(strongest * wave, np.ones(reach) / reach, mode="same")
    drift = np.unwrap(np.angle(turning))
    phase = 2 * np.pi * rate / ratio * taps + np.interp(taps, times, drift)
    return float(np.abs(np.exp(1j * ratio * phase).mean()))
