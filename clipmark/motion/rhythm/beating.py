"""Windows in which a region beats, put together into bouts with their edges, rate and place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clipmark.motion.film import Film
from clipmark.motion.rhythm.grid import Piece, Pieces
from clipmark.motion.rhythm.regions import PARAMETERS, Beating, RegionParameters, Window, windows_in
from clipmark.motion.rhythm.spectra import sharpen
from clipmark.motion.rhythm.values import DOUBLE, Bout, Cells, Floats
from clipmark.progress import SILENT, Progress

_APART_S = 0.1


def beatings(film: Film, progress: Progress = SILENT, p: RegionParameters = PARAMETERS) -> list[Beating]:
    """Bouts that can be seen anywhere in a film, in the order of time. Reads the film once.

    Raises:
        Cancelled: through `progress`.
    """
    looking = Looking(film.times, p)
    for number, grey in film.frames():
        looking.take(number, grey)
        progress.advance(number + 1, len(film.times))
    return looking.found()


class Looking:
    """Looks for beating regions while a film is read for whatever purpose."""

    def __init__(self, times: Floats, p: RegionParameters = PARAMETERS):
        self._p = p
        self._pieces = Pieces(times, p.across, p.chunk_s, p.overlap_s)
        self._found: list[Beating] = []

    def take(self, number: int, grey: NDArray[np.uint8]) -> None:
        """The next picture (h, w) and its number."""
        for piece in self._pieces.take(number, grey):
            self._found += beatings_of(piece, self._p)

    def found(self) -> list[Beating]:
        """All bouts, in the order of time; call once, after the last picture."""
        for piece in self._pieces.rest():
            self._found += beatings_of(piece, self._p)
        return standing(self._found)


def beatings_of(piece: Piece, p: RegionParameters = PARAMETERS) -> list[Beating]:
    """Bouts of one piece whose middle lies in its core."""
    groups = _grouped(windows_in(piece.times, piece.levels, p), p)
    made = [_beating(piece, group, p) for group in groups]
    unrest = _unrest(piece) if made else 0.0
    return [b for b in made if b is not None and _in_core(b, piece) and _shows(b, unrest, p)]


def _in_core(one: Beating, piece: Piece) -> bool:
    return piece.core[0] <= 0.5 * (one.bout.start_s + one.bout.end_s) < piece.core[1]


def _shows(one: Beating, unrest: float, p: RegionParameters) -> bool:
    """Whether a bout is clear, or moves more than the rest of a restless picture does."""
    return one.bout.regularity >= p.clear or _spread(one) >= unrest + p.stands_out


def _unrest(piece: Piece) -> float:
    """By how many grey levels the restless cells (one in twenty) of a picture change within a tenth of a second: fur
    and edges seen by a moving camera. Among many such cells one or the other seems to beat by chance."""
    k = max(1, round(_APART_S / max(float(np.median(np.diff(piece.times))), 1e-3))) if len(piece.times) > 1 else 1
    if len(piece.times) <= k:
        return 0.0
    change = np.abs(piece.levels[k:] - piece.levels[:-k])
    return float(np.median(np.percentile(change, 95, axis=(1, 2))))


def _spread(one: Beating) -> float:
    """By how many grey levels its six liveliest cells move."""
    return float(np.sort(one.cells.levels.std(axis=0))[-6:].mean())


def _grouped(windows: Iterable[Window], p: RegionParameters) -> list[list[Window]]:
    """Windows of one rate, one time and one place, the weightiest first."""
    groups: list[list[Window]] = []
    for window in sorted(windows, key=lambda w: w.weight, reverse=True):
        for group in groups:
            if any(_belongs(window, other, p) for other in group[:6]):
                group.append(window)
                break
        else:
            groups.append([window])
    return groups


def _belongs(one: Window, other: Window, p: RegionParameters) -> bool:
    overlap = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    near = max(abs(one.row - other.row), abs(one.column - other.column)) <= p.near
    return near and overlap > 0 and abs(one.rate_hz / other.rate_hz - 1) <= p.same_rate


def _beating(piece: Piece, group: Sequence[Window], p: RegionParameters) -> Beating | None:
    best = group[0]
    same = [w for w in group if w.share >= p.least_share]
    start, end = min(w.start_s for w in same), max(w.end_s for w in same)
    a, b = np.searchsorted(piece.times, [start, end + 1e-6])
    times = piece.times[a:b]
    rows, columns = piece.levels.shape[1:]
    r = p.reach + 1
    top, left = max(0, best.row - r), max(0, best.column - r)
    bottom, right = min(rows, best.row + r + 1), min(columns, best.column + r + 1)
    levels = piece.levels[a:b, top:bottom, left:right].reshape(b - a, -1)
    begin, finish = _edges(times, levels, best.rate_hz)
    i, j = np.searchsorted(times, [begin, finish + 1e-6])
    if j - i < 8:
        return None
    rate = sharpen(times[i:j], levels[i:j], best.rate_hz)
    if (finish - begin) * rate < 3.4:  # fewer than five strikes
        return None
    share = float(np.mean([w.share for w in same]))
    note = DOUBLE if _folds(times[i:j], rate) else ""
    place = (left / columns, top / rows, (right - left) / columns, (bottom - top) / rows)
    bout = Bout("picture", float(begin), float(finish), float(rate), share, None, note, place)
    return Beating(bout, Cells(times, levels), place)


def _edges(times: Floats, levels: NDArray[np.float32], rate: float) -> tuple[float, float]:
    """Where the movement at this rate begins and ends: half of its full strength, about the strongest stretch."""
    step = max(float(np.median(np.diff(times))), 1e-6)
    even = np.arange(times[0], times[-1] + step / 2, step)
    strongest = np.argsort(levels.var(axis=0))[-12:]
    wave = np.exp(-2j * np.pi * rate * even)
    reach = max(3, round(1.2 / rate / step))
    taper = np.hanning(reach + 2)[1:-1]
    taper /= taper.sum()
    power = np.zeros(len(even))
    for cell in strongest.tolist():
        curve = np.interp(even, times, levels[:, cell])
        slow = np.convolve(np.pad(curve, reach, mode="edge"), np.ones(2 * reach + 1) / (2 * reach + 1), mode="valid")
        power += np.abs(np.convolve((curve - slow) * wave, taper, mode="same")) ** 2
    strength = np.sqrt(power)
    strong = strength >= 0.5 * np.percentile(strength, 85)
    peak = int(strength.argmax())
    i = j = peak
    while i > 0 and strong[max(0, i - reach) : i].any():
        i -= 1
    while j < len(strong) - 1 and strong[j + 1 : j + 1 + reach].any():
        j += 1
    inside = np.flatnonzero(strong[i : j + 1]) + i
    return float(even[inside[0]]), float(even[inside[-1]])


def _folds(times: Floats, rate: float) -> bool:
    """Whether sharp strokes twice or half as fast fall on the same pictures: two or one fifths of the frame rate."""
    gaps = np.diff(times)
    step = float(np.median(gaps))
    if np.percentile(np.abs(gaps - step), 90) > 0.1 * step:
        return False
    return min(abs(rate * step - 0.2), abs(rate * step - 0.4)) < 0.006


def standing(found: Iterable[Beating]) -> list[Beating]:
    """Of bouts at one time the clearest: one rhythm is seen in the palp, in its shadow and in the leg beside it."""
    kept: list[Beating] = []
    for one in sorted(found, key=_clear, reverse=True):
        a = one.bout
        if all(_shared(a, k.bout) <= 0.4 for k in kept):
            kept.append(one)
    joined: list[Beating] = []
    for one in sorted(kept, key=lambda b: b.bout.start_s):
        if joined and _goes_on(joined[-1], one):
            joined[-1] = _joined(joined[-1], one)
        else:
            joined.append(one)
    return joined


def _goes_on(one: Beating, other: Beating) -> bool:
    """Whether the later bout is the earlier one after a short rest, or after the edge of a piece."""
    a, b = one.bout, other.bout
    if not a.rate_hz or not b.rate_hz or abs(a.rate_hz / b.rate_hz - 1) > 0.06:
        return False
    near = max(abs(one.place[0] - other.place[0]), abs(one.place[1] - other.place[1])) <= 0.1
    return near and b.start_s - a.end_s <= 1.5 / a.rate_hz


def _joined(one: Beating, other: Beating) -> Beating:
    longer = max((one, other), key=lambda b: b.bout.end_s - b.bout.start_s)
    end = max(one.bout.end_s, other.bout.end_s)
    return replace(longer, bout=replace(longer.bout, start_s=one.bout.start_s, end_s=end))


def _clear(one: Beating) -> float:
    bout = one.bout
    return (bout.regularity - 0.4) * (bout.end_s - bout.start_s) * (bout.rate_hz or 0.0) * min(_spread(one), 10.0)


def _shared(one: Bout, other: Bout) -> float:
    overlap = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return max(0.0, overlap) / max(min(one.end_s - one.start_s, other.end_s - other.start_s), 1e-6)
