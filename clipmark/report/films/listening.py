"""What is shown of a clip's sound: how loud over time, and where something was struck.

Computed once a film and kept in the cache folder, by the film's fingerprint; fit for background tasks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark import settings
from clipmark.atomic_files import CannotWrite, atomic_path
from clipmark.media.sound.loudness import levels
from clipmark.motion.rhythm.heard import heard_bouts
from clipmark.motion.rhythm.trains import Train, all_trains
from clipmark.motion.rhythm.values import Bout, half_rate
from clipmark.progress import Progress

if TYPE_CHECKING:
    from clipmark.media.clip import Clip

Floats = NDArray[np.float64]

RATE = 8_000  # samples a second: taps on bark and soil are below 4 kHz (common practice, no source)
VERSION = 2  # of what is kept: raised when the way of computing changes
PIECE_S, OVERLAP_S = 240, 20  # onsets are looked for in pieces, so that a long evening needs no more memory


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """Seconds from the clip's first frame, the level at each (0..1), the seconds at which it was struck, and the
    trains of even strikes: one row each, see `_table`."""

    times: Floats
    levels: Floats
    onsets: Floats
    trains: Floats = field(default_factory=lambda: np.empty((0, 6)))


def listen(film: Clip, progress: Progress) -> Heard | None:
    """Level and taps of a film's sound; None where it has none.

    Raises:
        ClipUnreadable: the file cannot be opened any more. Cancelled: through `progress`.
    """
    from clipmark.media.sound.clip_sound import read_sound

    place = _place(film.fingerprint)
    kept = _kept(place)
    if kept is not None:
        return kept
    sound = read_sound(film, RATE, progress)
    if sound is None:
        return None
    heard = heard_in(sound.samples, sound.rate, float(sound.start), progress)
    _keep(place, heard)
    return heard


def heard_in(samples: NDArray[np.float32], rate: int, start: float, progress: Progress) -> Heard:
    """The same of samples in memory; `start` is the first sample's time."""
    times, loud = levels(samples, rate)
    found = all_trains(samples, rate, start, progress)
    taps = struck(samples, rate, progress) + start
    return Heard(times + start, loud, taps, _table(found))


def struck(samples: NDArray[np.float32], rate: int, progress: Progress) -> Floats:
    """Taps in a sound of any length, seconds from its first sample, found piece by piece."""
    from clipmark.motion.rhythm.onsets import onsets

    step, overlap = PIECE_S * rate, OVERLAP_S * rate
    found = []
    for begin in range(0, max(len(samples), 1), step):
        progress.advance(begin, len(samples))
        first = max(begin - overlap, 0)
        here = onsets(samples[first : begin + step + overlap], rate) + first / rate
        found.append(here[(here >= begin / rate) & (here < (begin + step) / rate)])
    return np.concatenate(found) if found else np.empty(0)


def rhythms(film: Clip, heard: Heard) -> tuple[Bout, ...]:
    """Bouts of regular strikes among the taps heard; a rate that this film's picture cannot show carries a note."""
    return tuple(heard_bouts(_trains(heard.trains), heard.onsets, half_rate(film.index.seconds())))


def _table(trains: Sequence[Train]) -> Floats:
    """One row a strike: number of its train, seconds, rate, regularity, log10 of false alarms, likeness."""
    rows = [
        (k, t, train.rate_hz, train.regularity, train.log_false, train.alike)
        for k, train in enumerate(trains)
        for t in train.times.tolist()
    ]
    return np.array(rows, float).reshape(-1, 6)


def _trains(table: Floats) -> list[Train]:
    rows = [table[table[:, 0] == k] for k in np.unique(table[:, 0])]
    return [Train(r[:, 1], float(r[0, 2]), float(r[0, 3]), float(r[0, 4]), float(r[0, 5])) for r in rows]


def kept_sound(fingerprint: str) -> Heard | None:
    """What `listen` kept of a film; None where nobody has listened to it yet."""
    return _kept(_place(fingerprint))


def _place(fingerprint: str) -> Path:
    return settings.cache_dir() / "sound" / f"{fingerprint}-{VERSION}.npz"


def _kept(place: Path) -> Heard | None:
    try:
        with np.load(place, allow_pickle=False) as file:
            return Heard(file["times"], file["levels"].astype(np.float64), file["onsets"], file["trains"])
    except Exception:  # a broken file of ours must never keep a sheet from being made; it is made anew
        return None


def _keep(place: Path, heard: Heard) -> None:
    """A cache that cannot be written costs time only."""
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with atomic_path(place, durable=False) as fresh, fresh.open("wb") as file:
            np.savez(
                file,
                times=heard.times,
                levels=heard.levels.astype(np.float32),
                onsets=heard.onsets,
                trains=heard.trains,
            )
    except (OSError, CannotWrite):
        return
