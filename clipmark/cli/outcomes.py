"""What many sessions say together, as lines or JSON: `clipmark book outcomes`. docs/reading.md explains it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.children import run_module
from clipmark.cli.listing import one_line, print_json
from clipmark.errors import ClipmarkError
from clipmark.reading.cycles.said import waits_said
from clipmark.reading.figure import plural

if TYPE_CHECKING:
    from clipmark.book.model import SessionRecord
    from clipmark.book.store import Book
    from clipmark.reading.cycles.flag_quality import FlagQuality
    from clipmark.reading.cycles.outcomes import Comparison, Outcomes
    from clipmark.reading.numbers.survival import Curve, Incidence


def show(
    book: Book, text: str = "", as_json: bool = False, asked: date | None = None, plots: Path | None = None
) -> None:
    """Print the outcomes of the sessions in which all words of `text` occur (all sessions where it is empty), as of
    the day of asking (today where it is None); with `plots` also draw them into that folder, as SVG and PNG."""
    from clipmark.reading.advice.sac_windows import sac_windows
    from clipmark.reading.cycles.flag_quality import flag_quality
    from clipmark.reading.cycles.outcomes import outcomes

    records = list(book.records([row.id for row in book.sessions(text)]))
    females = {record.female.id for record in records if record.female is not None}
    read = outcomes(records, {female: book.life(female) for female in females}, asked, book.loans())
    flags = flag_quality(records)
    if plots is not None:
        lives = {female: book.life(female) for female in females}
        draw(plots, read, records, sac_windows(read, lives, book.species_notes()))
    if as_json:
        print_json(document(read, flags))
    else:
        print("\n".join(lines(read, flags)))


def draw(
    folder: Path, read: Outcomes, records: Sequence[SessionRecord], windows: Sequence[tuple[int, date, date]]
) -> list[Path]:
    """Write the pictures of comparisons that there are cases for; returns the files."""
    from clipmark.atomic_files import atomic_folder
    from clipmark.report.pictures.comparisons import cycles_svg, pulls_svg, waiting_svg

    pictures = {"waiting": waiting_svg(read), "cycles": cycles_svg(read, windows), "pulls": pulls_svg(records)}
    drawn = {name: svg for name, svg in pictures.items() if svg}
    with atomic_folder(folder) as fresh:
        for name, svg in drawn.items():
            drawing = fresh / f"{name}.svg"
            drawing.write_text(svg + "\n", encoding="utf-8")
            _as_png(drawing)
    return [folder / f"{name}.{kind}" for name in drawn for kind in ("svg", "png")]


def _as_png(drawing: Path) -> None:
    """The same picture as PNG beside it, drawn by Qt in a process of its own."""
    done = run_module(
        "clipmark.window.print.picture", str(drawing), str(drawing.with_suffix(".png")),
        timeout_s=60, QT_QPA_PLATFORM="offscreen",
    )  # fmt: skip
    if done.returncode != 0:
        raise ClipmarkError("The pictures could not be drawn as PNG. Run clipmark check: it says what Qt needs here.")


def lines(read: Outcomes, flags: tuple[FlagQuality, ...]) -> list[str]:
    """The outcomes as the keeper reads them."""
    told = [
        f"{plural(read.sessions, 'session')}, {plural(read.females, 'female')}, "
        f"{plural(len(read.cases), 'cycle')} between moults. "
        f"Asked on {read.asked.isoformat()}."
    ]
    if read.ends:
        told.append("States: " + ", ".join(f"{name} {number}" for name, number in read.ends.items()) + ".")
    if read.sac.with_it.n + read.sac.without_it.n:
        told += ["", "What film showed, and what came of it:"]
        told += [f"  {c.text}" for c in (*read.signs, read.young) if c.with_it.n]
    if read.waits is not None:
        told += ["", *waits_said(read)]
    told += read.nymphs.told
    if flags:
        told += ["", "How good the flags were (confirmed or probable, of those that could be judged):"]
        told += [f"  {_flags(row)}" for row in flags]
    if read.notes:
        told += ["", *read.notes]
    return told


def _flags(row: FlagQuality) -> str:
    said = f"{one_line(row.parameters) or 'unnamed'}: {row.insertions.text}; {plural(row.attempts, 'attempt')}, "
    said += f"{row.false} false, {row.not_seen} not seen, {row.uncalled} not called"
    if not row.watched_in_full_s:
        return f"{said}; misses not known (no film was watched in full)"
    minutes = float(row.watched_in_full_s) / 60
    clash = f", {row.contradicted} contradicted" if row.contradicted else ""
    return f"{said}; in {minutes:.1f} min watched in full it found {row.recall.text}{clash}"


def document(read: Outcomes, flags: tuple[FlagQuality, ...]) -> dict[str, Any]:
    """The outcomes for machines; days are days, shares 0..1."""
    waits = read.waits
    return {
        "format": "clipmark-outcomes/1",
        "sessions": read.sessions,
        "females": read.females,
        "asked": read.asked.isoformat(),
        "ends": read.ends,
        "cycles": [
            {
                "female_id": case.female_id,
                "female": case.female,
                "species": case.species,
                "start": case.cycle.start.isoformat(),
                "sessions": [s.record.session.id for s in case.cycle.sessions],
                "end": case.end or None,
                "state": str(case.state),
                "days": case.days,
                "young": case.young,
                "shown": sorted(case.shown),
            }
            for case in read.cases
        ],
        "signs": [_comparison(c) for c in read.signs],
        "young": _comparison(read.young),
        "days_to_sac": _curve(read.waiting),
        "days_to_sac_by_confirmed": {name: _curve(c) for name, c in waits.by_sign.items()} if waits else {},
        "told_to_day": waits.told_to if waits else None,
        "incidence": _incidence(waits.incidence) if waits else None,
        "log_rank": asdict(waits.test) if waits and waits.test else None,
        "nymphs": [{**asdict(sac), "share": sac.share} for sac in read.nymphs.sacs],
        "flags": [
            {**asdict(row), "watched_in_full_s": float(row.watched_in_full_s), "recall": asdict(row.recall)}
            for row in flags
        ],
        "notes": list(read.notes),
    }


def _comparison(c: Comparison) -> dict[str, Any]:
    return {
        "sign": c.sign,
        "came": c.came,
        "with": asdict(c.with_it),
        "without": asdict(c.without_it),
        "difference": None if c.difference is None else asdict(c.difference),
        "fisher_p": None if c.exact is None else c.exact.p,
    }


def _curve(curve: Curve | None) -> dict[str, Any] | None:
    if curve is None:
        return None
    columns = {
        "day": curve.times, "at_risk": curve.at_risk, "events": curve.events, "waiting": curve.survival,
        "se": curve.se, "low": curve.low, "high": curve.high,
    }  # fmt: skip
    points = [
        {name: _told(value) for name, value in zip(columns, row, strict=True)}
        for row in zip(*columns.values(), strict=True)
    ]
    low, high = curve.median_limits
    limits = {"median": curve.median, "median_low": low, "median_high": high}
    return {"n": curve.n, "censored": curve.censored, **limits, "points": points}


def _incidence(share: Incidence) -> list[dict[str, Any]]:
    """A row for each way of ending and day."""
    return [
        {
            "way": way, "day": float(share.times[k]), "at_risk": int(share.at_risk[k]),
            **{name: _told(values[way][k]) for name, values in
               (("share", share.share), ("se", share.se), ("low", share.low), ("high", share.high))},
        }
        for way in share.share
        for k in range(len(share.times))
    ]  # fmt: skip


def _told(value: float) -> float | None:
    return None if value != value else float(value)
