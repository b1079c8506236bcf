"""A film's survey as JSON (format clipmark-survey/1), and the one call that surveys a clip."""

from __future__ import annotations

from typing import Any

import numpy as np

from clipmark.media.clip import Clip
from clipmark.media.frames.glimpses import Glimpses
from clipmark.motion.survey.look import look_size
from clipmark.motion.survey.run import first_lane, survey
from clipmark.motion.survey.values import Floats, Span, Stretch, Survey, Thing
from clipmark.progress import SILENT, Progress

FORMAT = "clipmark-survey/1"


def survey_clip(clip: Clip, progress: Progress = SILENT, threads: int = 0) -> Survey:
    """Where in a clip anything moves: from packet sizes, keyframes and the frames between them that matter.

    Raises:
        ClipUnreadable: the film has gone, or nothing of it can be decoded.
        Cancelled: through `progress`.
    """
    return survey(_film(clip, threads), float(clip.index.end_seconds()), progress)


def packets_of_clip(clip: Clip) -> Survey:
    """What the packet sizes alone tell of a clip; nothing is decoded."""
    return first_lane(_film(clip, 1), float(clip.index.end_seconds()))


def _film(clip: Clip, threads: int) -> Glimpses:
    return Glimpses(clip, *look_size(clip.width, clip.height), threads=threads)


def survey_document(clip: Clip, found: Survey) -> dict[str, Any]:
    """The survey as plain values; see docs/schemas/survey.schema.json."""
    return {
        "format": FORMAT,
        "clip": {
            "name": clip.path.name,
            "fingerprint": clip.fingerprint,
            "frames": len(clip.index),
            "seconds": round(found.seconds, 3),
            "width": clip.width,
            "height": clip.height,
        },
        "rests_on": found.rests_on,
        "tells": found.tells,
        "looked": round(found.looked, 4),
        "moving": [_stretch(one) for one in found.moving],
        "moving_seconds": round(found.moving_seconds, 3),
        "cuts_s": [round(at, 6) for at in found.cuts_s],
        "light_s": [round(at, 3) for at in found.light_s],
        "dissolves": [_span(one) for one in found.dissolves],
        "camera": [_span(one) for one in found.camera],
        "unsure": [_span(one) for one in found.unsure],
        "happenings": [_span(one) for one in found.happenings],
        "things": [_thing(one) for one in found.things],
        "lane": [None if not np.isfinite(v) else round(float(v), 4) for v in found.lane],
        "trails": None if found.trails is None else np.round(found.trails, 3).tolist(),
        "notes": list(found.notes),
    }


def _stretch(one: Stretch) -> dict[str, Any]:
    return {
        "start_s": round(one.start_s, 3),
        "end_s": round(one.end_s, 3),
        "share": round(one.share, 5),
        "box": None if one.box is None else [round(v, 1) for v in one.box],
        "things": list(one.things),
        "rests_on": one.rests_on,
    }


def _span(one: Span) -> dict[str, Any]:
    return {"start_s": round(one.start_s, 3), "end_s": round(one.end_s, 3), "what": one.what}


def _thing(one: Thing) -> dict[str, Any]:
    def rounded(values: Floats, places: int) -> list[Any]:
        listed: list[Any] = np.round(values, places).tolist()
        return listed

    return {"number": one.number, "times_s": rounded(one.times_s, 3), "boxes": rounded(one.boxes, 1)}
