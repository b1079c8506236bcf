"""The session's sheet: one HTML file that opens offline, prints on A4 and holds everything in itself.

No script stands in it and none could run: the page forbids scripts and everything from outside (content security
policy), and every text of a keeper or a file is escaped by the template.
"""

from __future__ import annotations

import base64
from pathlib import Path
from typing import TYPE_CHECKING

from clipmark.atomic_files import atomic_file
from clipmark.book.model import SessionRecord, Sex
from clipmark.progress import SILENT, Progress
from clipmark.reading.session.agreement import known_reviewer
from clipmark.report.films.opened import Films
from clipmark.report.her_kind import of_her_kind
from clipmark.report.pictures.frame_times import frame_times
from clipmark.report.pictures.stills import Corners, Still
from clipmark.report.pictures.svg import n
from clipmark.report.pictures.traces import ClipTrace, placed
from clipmark.report.sheets.compose import compose
from clipmark.report.sheets.content import Sheet
from clipmark.report.text import legible, one_line

if TYPE_CHECKING:
    from clipmark.book.store import Book

MOST_SESSIONS = 50  # of his kind, the latest, so that a large book does not keep a sheet waiting
TEMPLATES = Path(__file__).parent / "templates"


def _data_uri(still: Still) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(still.data).decode('ascii')}"


def _points(corners: Corners) -> str:
    return " ".join(f"{n(x)},{n(y)}" for x, y in corners)


def render(sheet: Sheet) -> str:
    """The sheet as HTML."""
    return filled("sheet.html.jinja", sheet=sheet)


def filled(template: str, **values: object) -> str:
    """A page of the sheet's look, every value escaped."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=lambda value: legible(value) if type(value) is str else value,  # drawings are Markup: as they are
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["data_uri"] = _data_uri
    environment.filters["points"] = _points
    environment.filters["brief"] = lambda note: bool(note.strip()) and len(note) <= 90 and "\n" not in note
    environment.filters["short"] = lambda text, most=70: one_line(text, most) or "Pairing sheet"
    style = (TEMPLATES / "sheet.css").read_text(encoding="utf-8")
    return environment.get_template(template).render(style=style, **values)


def sheet_of(book: Book, record: SessionRecord, progress: Progress = SILENT, reviewer: str = "") -> Sheet:
    """What stands on a session's sheet by one reviewer, out of the book and its films; each film is opened once."""
    with Films() as films:
        traces = _traces(book, record, films)
        return compose(
            record, traces, progress, films, own=book.species_notes(), his=_his(book, record), reviewer=reviewer,
            comparisons=_comparisons(book, record, reviewer),
        )  # fmt: skip


def _comparisons(book: Book, record: SessionRecord, reviewer: str) -> list[str]:
    """Her pulls by call, her sessions on a calendar with the days on which a sac may come, and how long females of
    her kind waited for theirs."""
    from clipmark.reading.advice.sac_windows import sac_windows
    from clipmark.reading.cycles.outcomes import outcomes
    from clipmark.report.pictures.comparisons import cycles_svg, pulls_svg, waiting_svg

    drawn = [pulls_svg([record], reviewer)]
    if record.female is not None and record.session.date:
        kind = of_her_kind(book, record.female)
        hers = [r for r in kind.records if r.session.female_id == record.female.id][-MOST_SESSIONS:]
        read = outcomes(hers, kind.lives, None, book.loans())
        drawn.append(cycles_svg(read, sac_windows(read, kind.lives, book.species_notes())))
        drawn.append(waiting_svg(kind.together(), kind.species))
    return [svg for svg in drawn if svg]


def _his(book: Book, record: SessionRecord) -> list[SessionRecord]:
    """Other sessions of the male, and of other males of his species, for his rhythm."""
    if record.male is None:
        return []
    kin = [a for a in book.animals(Sex.MALE) if a.species and a.species.casefold() == record.male.species.casefold()]
    ids = {s.id for animal in (record.male, *kin) for s in book.sessions_of(animal.id)} - {record.session.id}
    return list(book.records(sorted(ids)[-MOST_SESSIONS:]))


def _traces(book: Book, record: SessionRecord, films: Films) -> list[ClipTrace]:
    """The traces of a session's current passes, placed on the session clock."""
    found = []
    for current in (p for p in record.passes if p.current):
        clip = record.clip(current.clip_id)
        trace = book.trace_of(current.id)
        found.append(placed(clip, current.id, frame_times(clip, len(trace.x), films), trace))
    return found


def write_sheet(book: Book, session_id: int, out: Path, progress: Progress = SILENT, reviewer: str = "") -> Path:
    """Write the sheet of one session, whole or not at all.

    Raises:
        NoSuchSession: the book has no such session. NothingByReviewer: nobody of that name marked or called there.
        CannotWrite: the place cannot be written.
        Cancelled: out of `progress`; nothing is written then.
    """
    record = book.session(session_id)
    page = render(sheet_of(book, record, progress, known_reviewer(record, reviewer)))
    with atomic_file(Path(out), newline="\n") as file:
        file.write(page)
    return Path(out)
