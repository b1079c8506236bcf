"""The contact sheet of a film or of a folder: a still of every stretch in which something moves, and a map of where,
as one HTML file."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from clipmark.media.clip import Clip
from clipmark.media.frames.reader import FrameLost, Reader
from clipmark.progress import SILENT, Progress
from clipmark.report.kept_surveys import KeptSurvey, whole_survey
from clipmark.timebase import clock

WIDE = 240  # pixels of a still
MOST = 60  # stills of one film; the longest stretches first
_MAP_WIDE = 480
_TRAIL = (240, 228, 66)  # the yellow of the Okabe-Ito palette
_STYLE = """
body { font: 15px/1.45 system-ui, sans-serif; margin: 2rem auto; max-width: 76rem; padding: 0 1rem; color: #1b1b1b; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .3rem; break-after: avoid; }
p { margin: .2rem 0 .6rem; } .faint { color: #595959; }
.stills { display: flex; flex-wrap: wrap; gap: .7rem; }
figure { margin: 0; width: 240px; break-inside: avoid; } figure img { width: 100%; display: block; }
figure.map { width: 493px; }
figcaption { font-variant-numeric: tabular-nums; }
svg { display: block; width: 100%; height: 26px; }
table { border-collapse: collapse; margin: 1rem 0; } td, th { padding: .15rem .8rem .15rem 0; text-align: left; }
td.n { text-align: right; font-variant-numeric: tabular-nums; }
"""


@dataclass(frozen=True, slots=True, eq=False)
class Surveyed:
    """One film on the sheet; `clip` None where it could not be read, `trouble` says why then."""

    path: Path
    clip: Clip | None
    survey: KeptSurvey | None
    trouble: str = ""


def contact_sheet(title: str, films: Sequence[Surveyed]) -> str:
    """The sheet as HTML that needs nothing beside it.

    Raises:
        ClipUnreadable: a film has gone since it was surveyed.
    """
    parts = [_film(number, one) for number, one in enumerate(films)]
    table = _table(films) if len(films) > 1 else ""
    head = f"<!doctype html><html lang='en'><head><meta charset='utf-8'><title>{html.escape(title)}</title>"
    body = f"<style>{_STYLE}</style></head><body><h1>{html.escape(title)}</h1>{table}{''.join(parts)}</body></html>\n"
    return head + body


def printed_sheet(clip: Clip, survey: KeptSurvey) -> str:
    """One film's sheet for paper, in the plain HTML that text documents know: a table three pictures wide.

    Raises:
        ClipUnreadable: the film has gone.
    """
    moving = sum(end - start for start, end in survey.moving)
    cells = []
    for one in stills(clip, survey):
        picture = "the picture is damaged" if one.jpeg is None else _image(one.jpeg, one.told)
        cells.append(f"<td>{picture}<br>{one.told}</td>")
    rows = "".join(f"<tr>{''.join(cells[k : k + 3])}</tr>" for k in range(0, len(cells), 3))
    trails = trail_map(clip, survey)
    shown = "" if trails is None else f"<p>{_image(trails, 'where things moved')}<br>Where things moved.</p>"
    said = f"Something moves for {clock(moving, 0)} of {clock(float(clip.index.end_seconds()), 0)}."
    head = f"<h2>{html.escape(clip.path.name)}</h2><p>{said}</p>"
    return f"<html><body>{head}{shown}<table cellpadding='6'>{rows}</table></body></html>"


def sheet_of_clips(title: str, clips: Sequence[Clip], progress: Progress = SILENT) -> str:
    """The contact sheet of a session's films, surveyed now where they were not before.

    Raises:
        ClipUnreadable: a film has gone.
        Cancelled: through `progress`.
    """
    return contact_sheet(title, [Surveyed(clip.path, clip, whole_survey(clip, progress)) for clip in clips])


def _table(films: Sequence[Surveyed]) -> str:
    rows = []
    for number, one in enumerate(films):
        name = f"<a href='#film-{number}'>{html.escape(one.path.name)}</a>"
        if one.survey is None:
            rows.append(f"<tr><td>{name}</td><td colspan='4'>{html.escape(one.trouble)}</td></tr>")
            continue
        seconds = float(one.survey.document["clip"]["seconds"])
        moving = sum(end - start for start, end in one.survey.moving)
        cells = (clock(seconds, 0), clock(moving, 0), str(len(one.survey.moving)), str(len(one.survey.cuts)))
        rows.append(f"<tr><td>{name}</td>" + "".join(f"<td class='n'>{cell}</td>" for cell in cells) + "</tr>")
    names = ("film", "length", "something moves", "stretches", "cuts")
    header = "".join(f"<th>{name}</th>" for name in names)
    return f"<table><tr>{header}</tr>{''.join(rows)}</table>"


def _film(number: int, one: Surveyed) -> str:
    heading = f"<h2>{html.escape(one.path.name)}</h2>"
    if one.clip is None or one.survey is None:
        return f"<section id='film-{number}'>{heading}<p>{html.escape(one.trouble)}</p></section>"
    survey = one.survey
    seconds = float(survey.document["clip"]["seconds"])
    moving = sum(end - start for start, end in survey.moving)
    rests = {"packets": "packet sizes only", "keyframes": "decoded pictures", "pass": "the motion pass"}
    said = f"Something moves for {clock(moving, 0)} of {clock(seconds, 0)}; rests on {rests[survey.rests_on]}."
    if not survey.tells:
        said = f"What moves cannot be told from {rests[survey.rests_on]}."
    notes = "".join(f"<p class='faint'>{html.escape(note)}</p>" for note in survey.notes)
    shown = f"{_lane(survey, seconds)}{_pictures(one.clip, survey)}"
    return f"<section id='film-{number}'>{heading}<p>{said}</p>{notes}{shown}</section>"


def _lane(survey: KeptSurvey, seconds: float) -> str:
    """How much moves along the film, cuts as lines."""
    scale = 1000 / max(seconds, 1e-3)
    spans = [(start * scale, max((end - start) * scale, 1)) for start, end in survey.moving]
    bars = "".join(f"<rect x='{x:.1f}' y='4' width='{w:.1f}' height='18' fill='#009e73'/>" for x, w in spans)
    cuts = "".join(f"<rect x='{at * scale:.1f}' y='0' width='1' height='26' fill='#1b1b1b'/>" for at in survey.cuts)
    return (
        "<svg viewBox='0 0 1000 26' preserveAspectRatio='none' role='img' aria-label='where something moves'>"
        f"<rect x='0' y='12' width='1000' height='2' fill='#bbb'/>{bars}{cuts}</svg>"
    )


@dataclass(frozen=True, slots=True)
class Still:
    """A stretch and its picture as JPEG; None where the picture is damaged."""

    start_s: float
    end_s: float
    jpeg: bytes | None

    @property
    def told(self) -> str:
        """When, as a person reads it."""
        return f"{clock(self.start_s, 0)} to {clock(self.end_s, 0)}"


def stills(clip: Clip, survey: KeptSurvey, progress: Progress = SILENT) -> list[Still]:
    """A still of each stretch, in order of time; of the longest ones where there are many.

    Raises:
        ClipUnreadable: the film has gone.
        Cancelled: through `progress`.
    """
    longest = sorted(survey.moving, key=lambda span: span[0] - span[1])[:MOST]
    found = []
    with Reader(clip, quick=True) as reader:
        for done, (start, end) in enumerate(sorted(longest), start=1):
            frame = clip.index.frame_at(_liveliest(survey, start, end))
            try:
                pixels = (reader.nearest_key if end - start > 8 else reader.frame)(frame).rgb(WIDE)
            except FrameLost:
                found.append(Still(start, end, None))
            else:
                found.append(Still(start, end, _jpeg(pixels)))
            progress.advance(done, len(longest))
    return found


def trail_map(clip: Clip, survey: KeptSurvey) -> bytes | None:
    """Where things moved, over a dim grey still of the film, as JPEG; None where that is not known."""
    if survey.trails is None or not (survey.trails > 0).any():
        return None
    with Reader(clip, quick=True) as reader:
        try:
            pixels = reader.nearest_key(len(clip.index) // 2).rgb(_MAP_WIDE)
        except FrameLost:
            return None
    import cv2

    height, width = pixels.shape[:2]
    grey = 0.5 * pixels.astype(np.float32).mean(axis=2, keepdims=True) + 10
    heat = cv2.resize(survey.trails.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)
    strength = np.clip(heat, 0, 1)[:, :, None]
    shown = grey * (1 - 0.7 * strength) + 0.7 * strength * np.array(_TRAIL, np.float32)
    return _jpeg(np.clip(shown, 0, 255).astype(np.uint8))


def _pictures(clip: Clip, survey: KeptSurvey) -> str:
    if not survey.moving:
        return "<p class='faint'>No movement was found.</p>"
    figures = []
    trails = trail_map(clip, survey)
    if trails is not None:
        told = "where things moved: the brighter, the more often"
        figures.append(f"<figure class='map'>{_image(trails, told)}<figcaption>{told}</figcaption></figure>")
    for one in stills(clip, survey):
        if one.jpeg is None:
            figures.append(f"<figure><figcaption>{one.told}: the picture is damaged</figcaption></figure>")
        else:
            image = _image(one.jpeg, f"the film at {one.told}")
            figures.append(f"<figure>{image}<figcaption>{one.told}</figcaption></figure>")
    left = len(survey.moving) - MOST
    more = f"<p class='faint'>{left} shorter stretches are not shown.</p>" if left > 0 else ""
    return f"<div class='stills'>{''.join(figures)}</div>{more}"


def _image(jpeg: bytes, told: str) -> str:
    coded = base64.b64encode(jpeg).decode("ascii")
    return f"<img alt='{told}' src='data:image/jpeg;base64,{coded}'>"


def _liveliest(survey: KeptSurvey, start: float, end: float) -> float:
    """The middle of the second in which most moves."""
    first, last = int(start), max(int(np.ceil(end)), int(start) + 1)
    part = np.nan_to_num(survey.lane[first:last])
    return min(first + (int(np.argmax(part)) if len(part) else 0) + 0.5, max(end - 0.05, start))


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=80)
    return kept.getvalue()
