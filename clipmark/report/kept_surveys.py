"""Surveys kept between runs in the cache folder, by the film's fingerprint; what is kept can always be made again."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from clipmark import settings
from clipmark.atomic_files import atomic_file
from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip
from clipmark.motion.survey.values import Floats, Survey
from clipmark.progress import Progress
from clipmark.report.survey_file import packets_of_clip, survey_clip, survey_document

VERSION = 2  # raised when a survey would come out differently


@dataclass(frozen=True, slots=True, eq=False)
class KeptSurvey:
    """What the window, the sheet and the draft need of a survey.

    Attributes:
        rests_on: "packets", "keyframes" or "pass".
        lane: (n,) how much moves in each second, 0..1; NaN where it cannot be told.
        moving: seconds (start, end) of each stretch.
        trails: (rows, columns) how often something moved in each cell of the picture, 0..1; None where not looked at.
        document: all of it, as docs/schemas/survey.schema.json has it.
    """

    rests_on: str
    tells: bool
    lane: Floats
    moving: tuple[tuple[float, float], ...]
    cuts: tuple[float, ...]
    light: tuple[float, ...]
    notes: tuple[str, ...]
    document: dict[str, Any]
    trails: Floats | None = None


def kept(clip: Clip, found: Survey) -> KeptSurvey:
    """The same survey as it is kept."""
    return _read(survey_document(clip, found))


def rough_survey(clip: Clip) -> KeptSurvey:
    """From packet sizes alone, at once."""
    return kept(clip, packets_of_clip(clip))


def whole_survey(clip: Clip, progress: Progress, threads: int = 0) -> KeptSurvey:
    """The survey of a clip, from the cache folder where it is there; kept there otherwise.

    Raises:
        ClipUnreadable, Cancelled: as `survey_clip`.
    """
    known = kept_survey(clip.fingerprint)
    if known is not None:
        return known
    document = survey_document(clip, survey_clip(clip, progress, threads))
    keep_survey(clip.fingerprint, document)
    return _read(document)


def keep_survey(fingerprint: str, document: dict[str, Any]) -> None:
    """Keep a survey; a cache that cannot be written costs time only."""
    place = _place(fingerprint)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with atomic_file(place) as file:
            json.dump(document, file)
    except (OSError, ClipmarkError):
        return


def kept_survey(fingerprint: str) -> KeptSurvey | None:
    """What was kept of a film; None where nothing usable is."""
    try:
        document = json.loads(_place(fingerprint).read_text(encoding="utf-8"))
        return _read(document) if document["clip"]["fingerprint"] == fingerprint else None
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None


def _read(document: dict[str, Any]) -> KeptSurvey:
    return KeptSurvey(
        rests_on=str(document["rests_on"]),
        tells=bool(document["tells"]),
        lane=np.array([np.nan if v is None else float(v) for v in document["lane"]], np.float64),
        moving=tuple((float(one["start_s"]), float(one["end_s"])) for one in document["moving"]),
        cuts=tuple(float(at) for at in document["cuts_s"]),
        light=tuple(float(at) for at in document["light_s"]),
        notes=tuple(str(note) for note in document["notes"]),
        document=document,
        trails=np.array(document["trails"], np.float64) if document.get("trails") else None,
    )


def _place(fingerprint: str) -> Path:
    return settings.cache_dir() / "survey" / f"{fingerprint}-{VERSION}.json"
