"""What can be told of a film file as a whole: all its streams, its gaps, its damage in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from clipmark.media.clip import Clip
from clipmark.media.index.order import runs
from clipmark.media.open_film import open_container
from clipmark.timebase import clock

_TOLD_AT_MOST = 12  # stretches of damage that are told one by one


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Attributes:
    streams: every stream of the file: number, kind, codec, and language where stated.
    gaps: least, middle and most seconds from frame to frame; None for a single frame.
    lost, hurt: spans of frames [start, end) that do not come out, or come out with parts filled in; None where
        the whole film was not read.
    damage: sentences for the keeper, the clip's notes included.
    """

    clip: Clip
    streams: tuple[dict[str, object], ...]
    gaps: tuple[float, float, float] | None
    lost: tuple[tuple[int, int], ...] | None
    hurt: tuple[tuple[int, int], ...] | None
    damage: tuple[str, ...]


def survey(clip: Clip, lost: Sequence[int] | None, hurt: Sequence[int] | None) -> Survey:
    """Put together what is known of a clip.

    Args:
        lost, hurt: numbers of the frames that did not come out, or came out damaged, when the whole film was read;
            None where it was not.

    Raises:
        ClipUnreadable: the file has gone.
    """
    lost_spans = None if lost is None else tuple(runs(np.asarray(lost, np.int64)))
    hurt_spans = None if hurt is None else tuple(runs(np.asarray(hurt, np.int64)))
    sentences = [
        *clip.notes,
        *_told(clip, lost_spans or (), "damaged and do not come out"),
        *_told(clip, hurt_spans or (), "damaged in parts; the motion pass leaves them out"),
    ]
    steps = np.diff(clip.index.seconds())
    gaps = (float(steps.min()), float(np.median(steps)), float(steps.max())) if len(steps) else None
    return Survey(clip, _streams(clip), gaps, lost_spans, hurt_spans, tuple(sentences))


def _told(clip: Clip, spans: Sequence[tuple[int, int]], what: str) -> list[str]:
    sentences = []
    for start, end in spans[:_TOLD_AT_MOST]:
        at, count = clock(clip.index.exact_seconds(start)), end - start
        if count == 1:
            sentences.append(
                f"Frame {start} (at {at}) is {what.replace('do not', 'does not').replace('them', 'it')}."
            )
        else:
            sentences.append(f"Frames {start} to {end - 1} (from {at}, {count} in all) are {what}.")
    if len(spans) > _TOLD_AT_MOST:
        more = sum(end - start for start, end in spans[_TOLD_AT_MOST:])
        sentences.append(f"{more} more frames, in {len(spans) - _TOLD_AT_MOST} places, are {what}.")
    return sentences


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
