"""A clip's sound as one channel of numbers, placed exactly on the clip's time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from clipmark.media.clip import Clip
from clipmark.media.open_film import open_container, packets_of
from clipmark.progress import SILENT, Progress
from clipmark.timebase import exact

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream

Samples = NDArray[np.float32]

_GAP = Fraction(1, 50)  # seconds by which a stated time must be off before silence is put in or sound left out
MOST_CHANNELS = 8  # damaged frames of sound state dozens, and the library then reads where nothing is
_LONGER = 60  # seconds by which sound may go on after the picture where a gap leads there
_MOST_SILENCE = 100_000_000  # samples put in for gaps, in all (35 minutes at 48,000); whoever states more is damaged


@dataclass(frozen=True, slots=True, eq=False)
class Sound:
    """One channel of sound.

    Attributes:
        samples: (n,) float32, full scale is -1..1; the mean of the channels.
        rate: samples a second.
        start: seconds from the clip's first frame to the first sample, exact; negative where sound begins earlier.
    """

    samples: Samples
    rate: int
    start: Fraction

    @property
    def end(self) -> Fraction:
        """Seconds from the clip's first frame to the end of the last sample, exact."""
        return self.start + Fraction(len(self.samples), self.rate)

    def between(self, start: Fraction | float, end: Fraction | float) -> Samples:
        """The samples of [start, end), in seconds from the clip's first frame; silence where there is no sound."""
        first = round((Fraction(start) - self.start) * self.rate)
        last = max(round((Fraction(end) - self.start) * self.rate), first)
        cut = np.zeros(last - first, np.float32)
        low, high = max(first, 0), min(last, len(self.samples))
        if low < high:
            cut[low - first : high - first] = self.samples[low:high]
        return cut


def read_sound(clip: Clip, rate: int | None = None, progress: Progress = SILENT) -> Sound | None:
    """The clip's sound, all of it; None where it has none that can be decoded.

    Args:
        rate: samples a second wanted; None = as recorded. An hour at 16,000 takes 230 MB. Sound whose stated time
            leads far beyond the picture, or after more silence than a film has, is left out with all after it.

    Raises:
        ClipUnreadable: the file has gone or changed its kind.
        Cancelled: out of `progress`.
    """
    facts = clip.sound
    if facts is None:
        return None
    first_frame = int(clip.index.pts[0]) * clip.index.time_base
    with open_container(clip.path) as container:
        stream = next((s for s in container.streams.audio if s.index == facts.stream), None)
        if stream is None or stream.codec_context is None:
            return None
        parts = _Laid(rate, first_frame + clip.index.end_seconds() + _LONGER)
        expected = int(clip.index.end_seconds())
        for done, frame in enumerate(_decoded(container, stream)):
            if done % 200 == 0:
                progress.advance(min(int(parts.seconds), expected), expected)
            if not parts.lay(frame):
                break
    return parts.sound(first_frame)


def _decoded(container: object, stream: AudioStream) -> Iterator[AudioFrame]:
    """Sound frames in order; packets that cannot be decoded are passed over, their place becomes silence."""
    import av

    for packet in packets_of(container, stream):  # type: ignore[arg-type]
        try:
            yield from sane(stream.decode(packet))
        except (av.FFmpegError, MemoryError):
            continue
    try:
        yield from sane(stream.decode(None))
    except (av.FFmpegError, MemoryError):
        return


def sane(frames: Iterable[AudioFrame]) -> Iterator[AudioFrame]:
    """The frames without those whose number of channels can only be damage."""
    return (frame for frame in frames if frame.layout.nb_channels <= MOST_CHANNELS)


class _Laid:
    """Sound frames laid one after the other at their stated times, in one rate; `until` is the time, seconds on the
    file's clock, up to which a gap may last."""

    def __init__(self, rate: int | None, until: Fraction):
        self.rate, self._until, self._silence = rate, until, 0
        self.start: Fraction | None = None
        self._parts: list[Samples] = []
        self._source_rate = 0
        self._source_count = 0  # samples laid, at the source's rate, gaps included

    @property
    def seconds(self) -> Fraction:
        return Fraction(self._source_count, self._source_rate or 1)

    def lay(self, frame: AudioFrame) -> bool:
        """Put a frame in its place; False where it belongs so far off that its time must be damaged."""
        samples = _mono(frame)
        if len(samples) == 0:
            return True
        if self.start is None:
            self._source_rate = frame.sample_rate
            self.rate = self.rate or frame.sample_rate
            self.start = _time(frame) or Fraction(0)
        if frame.sample_rate != self._source_rate:  # a broken header, or a change in mid-film
            samples = _resampled(samples, frame.sample_rate, self._source_rate)
        at = _time(frame)
        if at is not None:
            off = at - (self.start + self.seconds)
            if off > _GAP:
                silence = round(off * self._source_rate)
                self._silence += silence
                if self._silence > _MOST_SILENCE or at > self._until:
                    return False
                self._add(np.zeros(silence, np.float32))
            elif off < -_GAP:
                samples = samples[round(-off * self._source_rate) :]
        self._add(samples)
        return True

    def _add(self, samples: Samples) -> None:
        self._parts.append(samples)
        self._source_count += len(samples)

    def sound(self, first_frame: Fraction) -> Sound | None:
        if self.start is None or self.rate is None:
            return None
        samples = np.concatenate(self._parts)
        return Sound(_resampled(samples, self._source_rate, self.rate), self.rate, self.start - first_frame)


def _time(frame: AudioFrame) -> Fraction | None:
    base = exact(frame.time_base)
    return frame.pts * base if frame.pts is not None and base is not None else None


def _mono(frame: AudioFrame) -> Samples:
    """Mean of the channels, full scale -1..1."""
    array: NDArray[Any] = frame.to_ndarray()
    channels = max(frame.layout.nb_channels, 1)
    if not frame.format.is_planar:
        array = array.reshape(-1, channels).T
    if array.dtype.kind == "f":
        return array.mean(axis=0, dtype=np.float64).astype(np.float32)
    full = float(np.iinfo(array.dtype).max) + 1.0
    middle = full / 2 if array.dtype.kind == "u" else 0.0
    scale = full / 2 if array.dtype.kind == "u" else full
    return ((array.mean(axis=0, dtype=np.float64) - middle) / scale).astype(np.float32)


def _resampled(samples: Samples, given: int, wanted: int) -> Samples:
    if given == wanted or len(samples) == 0:
        return samples
    from scipy.signal import resample_poly

    ratio = Fraction(wanted, given)
    return np.asarray(resample_poly(samples, ratio.numerator, ratio.denominator), np.float32)
