"""What stands on a sheet, as plain values: the HTML template and the PDF both draw exactly this."""

from __future__ import annotations

from dataclasses import dataclass

from clipmark.reading.kinds.notices import Notice
from clipmark.report.pictures.stills import Still
from clipmark.report.sheets.kind_content import KindView


@dataclass(frozen=True, slots=True)
class When:
    """A time that can be clicked: the session clock, and the clip's name with the exact place in it."""

    clock: str
    place: str


@dataclass(frozen=True, slots=True)
class StillView:
    """One of a card's three pictures; `frame` counts from 1, as people and the window do; `still` is None where it
    could not be had, `missing` says why then."""

    name: str
    when: When
    frame: int | None
    still: Still | None
    missing: str = ""


@dataclass(frozen=True, slots=True)
class CallView:
    """One reviewer's call in words; `counts` marks the one that the figures use."""

    shape_svg: str
    said: str
    reviewer: str
    signs: str
    note: str
    counts: bool
    carried: bool


@dataclass(frozen=True, slots=True)
class Card:
    """One pull: pictures, trace, measures, doubts, calls."""

    number: int
    when: When
    shape: str
    shape_svg: str
    said: str
    palp: str
    stills: tuple[StillView, ...]
    trace_svg: str
    facts: tuple[tuple[str, str], ...]
    because: str
    doubts: tuple[str, ...]
    calls: tuple[CallView, ...]


@dataclass(frozen=True, slots=True)
class MarkRow:
    when: When
    until: str
    length: str
    who: str
    act: str
    note: str
    reviewer: str


@dataclass(frozen=True, slots=True)
class UnwatchedRow:
    start: When
    end: str
    length: str
    clip: str
    why: str


@dataclass(frozen=True, slots=True)
class MeasureGroup:
    """Figures under one heading: (label, text, explanation) each."""

    title: str
    rows: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class ActRow:
    """One act's figures as texts."""

    act: str
    who: str
    count: str
    per_minute: str
    duration: str
    share: str
    mean: str
    longest: str


@dataclass(frozen=True, slots=True)
class FilmRow:
    """One film file: name, what it is, and what is the matter with it (empty: nothing)."""

    name: str
    facts: str
    trouble: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything on a sheet. Texts are the keeper's own, not escaped; `*_svg` are drawings that may stand in HTML.
    `reviewers`: (name or heading, what it says) of each who marked or called, and how far they agree; empty where
    only one person did."""

    title: str
    pair: str
    head: tuple[tuple[str, str], ...]
    films: tuple[FilmRow, ...]
    note: str
    verdict: str
    story: tuple[str, ...]
    timeline_svg: str
    heard: bool
    cards: tuple[Card, ...]
    marks: tuple[MarkRow, ...]
    measures: tuple[MeasureGroup, ...]
    acts: tuple[ActRow, ...]
    reviewers: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    sequence_svg: str
    comparisons: tuple[str, ...]  # SVG: pulls by call, and her sessions over her cycles
    unwatched: tuple[UnwatchedRow, ...]
    scanned: bool
    method: tuple[str, ...]
    standing: Notice
    cautions: tuple[Notice, ...]
    made: str
    kind: KindView | None = None
