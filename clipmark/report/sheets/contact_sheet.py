"""The contact sheet of a film or of a folder: a still of every stretch in which something moves, as one HTML file."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from clipmark.errors import ClipmarkError
from clipmark.media.clip import Clip
from clipmark.media.frames.reader import Reader
from clipmark.report.kept_surveys import KeptSurvey
from clipmark.timebase import clock

_WIDE = 240  # pixels of a still
_MOST = 60  # stills of one film; the longest stretches first
_STYLE = """
body { font: 15px/1.45 system-ui, sans-serif; margin: 2rem auto; max-width: 76rem; padding: 0 1rem; color: #1b1b1b; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .3rem; break-after: avoid; }
p { margin: .2rem 0 .6rem; } .faint { color: #595959; }
.stills { display: flex; flex-wrap: wrap; gap: .7rem; }
figure { margin: 0; width: 240px; break-inside: avoid; } figure img { width: 100%; display: block; }
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
    parts = [_film(one) for one in films]
    table = _table(films) if len(films) > 1 else ""
    head = f"<!doctype html><html lang='en'><head><meta charset='utf-8'><title>{html.escape(title)}</title>"
    body = f"<style>{_STYLE}</style></head><body><h1>{html.escape(title)}</h1>{table}{''.join(parts)}</body></html>\n"
    return head + body


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


def _film(one: Surveyed) -> str:
    heading = f"<h2>{html.escape(one.path.name)}</h2>"
    if one.clip is None or one.survey is None:
        return f"<section>{heading}<p>{html.escape(one.trouble)}</p></section>"
    survey = one.survey
    seconds = float(survey.document["clip"]["seconds"])
    moving = sum(end - start for start, end in survey.moving)
    rests = {"packets": "packet sizes only", "keyframes": "decoded pictures", "pass": "the motion pass"}
    said = f"Something moves for {clock(moving, 0)} of {clock(seconds, 0)}; rests on {rests[survey.rests_on]}."
    if not survey.tells:
        said = f"What moves cannot be told from {rests[survey.rests_on]}."
    notes = "".join(f"<p class='faint'>{html.escape(note)}</p>" for note in survey.notes)
    return f"<section>{heading}<p>{said}</p>{notes}{_lane(survey, seconds)}{_stills(one.clip, survey)}</section>"


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


def _stills(clip: Clip, survey: KeptSurvey) -> str:
    longest = sorted(survey.moving, key=lambda span: span[0] - span[1])[:_MOST]
    if not longest:
        return "<p class='faint'>Nothing moves.</p>"
    figures = []
    with Reader(clip, quick=True) as reader:
        for start, end in sorted(longest):
            frame = clip.index.frame_at(_liveliest(survey, start, end))
            told = f"{clock(start, 0)} to {clock(end, 0)}"
            try:
                picture = _jpeg((reader.nearest_key if end - start > 8 else reader.frame)(frame).rgb(_WIDE))
            except ClipmarkError:
                figures.append(f"<figure><figcaption>{told}: the picture is damaged</figcaption></figure>")
                continue
            image = f"<img alt='the film at {told}' src='data:image/jpeg;base64,{picture}'>"
            figures.append(f"<figure>{image}<figcaption>{told}</figcaption></figure>")
    left = len(survey.moving) - len(longest)
    more = f"<p class='faint'>{left} shorter stretches are not shown.</p>" if left else ""
    return f"<div class='stills'>{''.join(figures)}</div>{more}"


def _liveliest(survey: KeptSurvey, start: float, end: float) -> float:
    """The middle of the second in which most moves."""
    first, last = int(start), max(int(np.ceil(end)), int(start) + 1)
    part = np.nan_to_num(survey.lane[first:last])
    return min(first + (int(np.argmax(part)) if len(part) else 0) + 0.5, max(end - 0.05, start))


def _jpeg(pixels: NDArray[np.uint8]) -> str:
    from PIL import Image

    kept = io.BytesIO()
    Image.fromarray(pixels).save(kept, "JPEG", quality=80)
    return base64.b64encode(kept.getvalue()).decode("ascii")
