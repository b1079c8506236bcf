"""A clip's sound from any second on, in pieces as they are decoded: for hearing it, not for computing."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from clipmark.media.clip import Clip
from clipmark.media.open_film import open_container, packets_of
from clipmark.media.sound.clip_sound import sane
from clipmark.timebase import exact

if TYPE_CHECKING:
    from av import AudioResampler
    from av.audio.frame import AudioFrame
    from av.audio.stream import AudioStream
    from av.container import InputContainer

Samples = NDArray[np.int16]

_PIECE_S = 0.1
_GAP = Fraction(1, 50)  # seconds by which a stated time must be off before silence is put in or sound left out
_EARLY = Fraction(1, 4)  # seconds before the start at which decoding begins: coders need a run-up


def sound_from(clip: Clip, start: Fraction, rate: int) -> Iterator[Samples]:
    """The clip's sound as one channel of 16-bit numbers, (n,), from `start` on to the end of the picture.

    Args:
        start: seconds from the clip's first frame; the first sample given belongs exactly there.
        rate: samples a second, whatever the film has.
    Silence stands where the film has no sound. Nothing at all is given where it has none that can be decoded.

    Raises:
        ClipUnreadable: the file has gone or changed its kind.
    """
    if clip.sound is None:
        return
    with open_container(clip.path) as container:
        stream = next((s for s in container.streams.audio if s.index == clip.sound.stream), None)
        if stream is None or stream.codec_context is None:
            return
        first_frame = int(clip.index.pts[0]) * clip.index.time_base
        wanted = max(round((clip.index.end_seconds() - start) * rate), 0)
        given = 0
        for piece in _placed(container, stream, start + first_frame, rate):
            piece = piece[: wanted - given]
            given += len(piece)
            yield piece
            if given >= wanted:
                return
        while given < wanted:
            piece = np.zeros(min(int(rate * _PIECE_S), wanted - given), np.int16)
            given += len(piece)
            yield piece


def _placed(container: InputContainer, stream: AudioStream, start: Fraction, rate: int) -> Iterator[Samples]:
    """Decoded pieces from exactly `start` (on the file's clock) on, gaps filled, what is early or double left out."""
    at = start  # where the next sample to be given belongs
    for time, samples in _resampled(container, stream, start, rate):
        if time is not None and time - at > _GAP:
            missing = round((time - at) * rate)
            at += Fraction(missing, rate)
            while missing > 0:  # in pieces: a damaged time may lie years ahead
                yield np.zeros(min(missing, rate), np.int16)
                missing -= rate
        elif time is not None and at - time > (_GAP if at > start else 0):
            samples = samples[round((at - time) * rate) :]
        if len(samples):
            at += Fraction(len(samples), rate)
            yield samples


def _resampled(
    container: InputContainer, stream: AudioStream, start: Fraction, rate: int
) -> Iterator[tuple[Fraction | None, Samples]]:
    """Time of its first sample on the file's clock, and a piece, in one rate and one channel."""
    from av import AudioResampler

    resampler = AudioResampler(format="s16", layout="mono", rate=rate)
    begun: Fraction | None = None
    taken, given, source_rate = 0, 0, rate
    for frame in _frames(container, stream, start):
        base = exact(frame.time_base)
        time = frame.pts * base if frame.pts is not None and base is not None else None
        if begun is None or (time is not None and abs(begun + Fraction(taken, source_rate) - time) > _GAP):
            begun, taken, given, source_rate = time, 0, 0, frame.sample_rate
        taken += frame.samples
        frame.pts = None  # the resampler would answer gaps in its own way
        for made in _converted(resampler, frame):
            samples = np.asarray(made.to_ndarray(), np.int16).reshape(-1)
            yield (begun + Fraction(given, rate) if begun is not None else None), samples
            given += len(samples)


def _converted(resampler: AudioResampler, frame: AudioFrame) -> list[AudioFrame]:
    """What the resampler makes of a frame; nothing of one that is not like those before it, as damage makes them."""
    import av

    try:
        return resampler.resample(frame)
    except (av.FFmpegError, ValueError):
        return []


def _frames(container: InputContainer, stream: AudioStream, start: Fraction) -> Iterator[AudioFrame]:
    """Decoded sound from shortly before `start` on; from the beginning where the file cannot be searched."""
    import av

    base = exact(stream.time_base) or Fraction(1, 1000)
    if start > 1:
        try:
            container.seek(int((start - _EARLY) / base), stream=stream)
        except (av.FFmpegError, OSError):
            container.seek(0)
    for packet in packets_of(container, stream):
        try:
            yield from sane(stream.decode(packet))
        except (av.FFmpegError, MemoryError):
            continue
