"""What can be told of a film file as a whole: all its streams, its gaps, its damage in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from clipmark.media.clip import Clip
from clipmark.media.door import open_container
from clipmark.media.order import runs
from clipmark.timebase import clock


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Attributes:
    streams: every stream of the file: number, kind, codec, and language where stated.
    gaps: least, middle and most seconds from frame to frame; None for a single frame.
    lost: spans of frames [start, end) that do not come out; None where the whole film was not read.
    damage: sentences for the keeper, the clip's notes included.
    """

    clip: Clip
    streams: tuple[dict[str, object], ...]
    gaps: tuple[float, float, float] | None
    lost: tuple[tuple[int, int], ...] | None
    damage: tuple[str, ...]


def survey(clip: Clip, lost: Sequence[int] | None) -> Survey:
    """Put together what is known of a clip.

    Args:
        lost: numbers of the frames that did not come out when the whole film was read; None where it was not.

    Raises:
        ClipUnreadable: the file has gone.
    """
    spans = None if lost is None else tuple(runs(np.asarray(lost, np.int64)))
    sentences = list(clip.notes)
    for start, end in (spans or ())[:20]:
        sentences.append(_lost_sentence(clip, start, end))
    if spans and len(spans) > 20:
        sentences.append(f"{len(spans) - 20} more such gaps.")
    steps = np.diff(clip.index.seconds())
    gaps = (float(steps.min()), float(np.median(steps)), float(steps.max())) if len(steps) else None
    return Survey(clip, _streams(clip), gaps, spans, tuple(sentences))


def _lost_sentence(clip: Clip, start: int, end: int) -> str:
    at = clock(clip.index.exact_seconds(start))
    if end - start == 1:
        return f"Frame {start} (at {at}) is damaged and does not come out."
    return f"Frames {start} to {end - 1} (from {at}, {end - start} frames) are damaged and do not come out."


def _streams(clip: Clip) -> tuple[dict[str, object], ...]:
    told: list[dict[str, object]] = []
    with open_container(clip.path) as container:
        for stream in container.streams:
            context = getattr(stream, "codec_context", None)
            facts = {"number": stream.index, "kind": stream.type, "codec": context.name if context else "unknown"}
            if stream.language:
                facts["language"] = stream.language
            told.append(facts)
    return tuple(told)
