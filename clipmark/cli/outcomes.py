"""What many sessions say together, as lines or JSON: `clipmark book outcomes`. docs/reading.md explains it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from clipmark.cli.listing import one_line, print_json
from clipmark.reading.figure import plural

if TYPE_CHECKING:
    from clipmark.book.store import Book
    from clipmark.reading.cycles.flag_quality import FlagQuality
    from clipmark.reading.cycles.outcomes import Comparison, Outcomes
    from clipmark.reading.numbers.survival import Curve


def show(book: Book, text: str = "", as_json: bool = False) -> None:
    """Print the outcomes of the sessions in which all words of `text` occur (all sessions where it is empty)."""
    from clipmark.reading.cycles.flag_quality import flag_quality
    from clipmark.reading.cycles.outcomes import outcomes

    records = [book.session(row.id) for row in book.sessions(text)]
    females = {record.female.id for record in records if record.female is not None}
    read = outcomes(records, {female: book.life(female) for female in females})
    flags = flag_quality(records)
    if as_json:
        print_json(document(read, flags))
    else:
        print("\n".join(lines(read, flags)))


def lines(read: Outcomes, flags: tuple[FlagQuality, ...]) -> list[str]:
    """The outcomes as the keeper reads them."""
    told = [
        f"{plural(read.sessions, 'session')}, {plural(read.females, 'female')}, "
        f"{plural(len(read.cases), 'cycle')} between moults."
    ]
    if read.ends:
        told.append("Ends: " + ", ".join(f"{name} {number}" for name, number in sorted(read.ends.items())) + ".")
    if read.sac.with_it.n + read.sac.without_it.n:
        told += ["", "What film showed, and what came of it:"]
        told += [f"  {c.text}" for c in (*read.signs, read.young) if c.with_it.n]
    if read.waiting is not None:
        told += ["", *_waiting(read)]
    if read.survival.n:
        told.append(f"Nymphs of good eggs: {read.survival.text}.")
    if flags:
        told += ["", "How good the flags were (confirmed or probable, of those that could be judged):"]
        told += [f"  {_flags(row)}" for row in flags]
    if read.notes:
        told += ["", *read.notes]
    return told


def _waiting(read: Outcomes) -> list[str]:
    curve = read.waiting
    assert curve is not None
    median = "no median yet" if curve.median is None else f"median {curve.median:g}"
    how = "moults taken as still waiting"
    told = [f"Days to the sac ({curve.n} cycles, {curve.censored} without a sac, {how}): {median}."]
    if read.incidence is not None and len(read.incidence.times):
        parts = [f"{100 * share[-1]:.0f} % {way}" for way, share in read.incidence.share.items()]
        last = read.incidence.times[-1]
        told.append(f"By day {last:g}: {', '.join(parts)}, {100 * read.incidence.waiting[-1]:.0f} % waiting.")
    if read.test is not None:
        told.append(f"With against without a confirmed insertion (log-rank): p = {read.test.p:.3f}.")
    return told


def _flags(row: FlagQuality) -> str:
    said = f"{one_line(row.parameters) or 'unnamed'}: {row.insertions.text}; {plural(row.attempts, 'attempt')}, "
    said += f"{row.false} false, {row.not_seen} not seen, {row.uncalled} not called"
    if not row.watched_in_full_s:
        return f"{said}; misses not known (no film was watched in full)"
    minutes = float(row.watched_in_full_s) / 60
    return f"{said}; in {minutes:.1f} min watched in full it found {row.recall.text}"


def document(read: Outcomes, flags: tuple[FlagQuality, ...]) -> dict[str, Any]:
    """The outcomes for machines; days are days, shares 0..1."""
    return {
        "format": "clipmark-outcomes/1",
        "sessions": read.sessions,
        "females": read.females,
        "ends": read.ends,
        "cycles": [
            {
                "female_id": case.female_id,
                "female": case.female,
                "species": case.species,
                "start": case.cycle.start.isoformat(),
                "sessions": [s.record.session.id for s in case.cycle.sessions],
                "end": case.end or None,
                "days": case.days,
                "young": case.young,
                "shown": sorted(case.shown),
            }
            for case in read.cases
        ],
        "signs": [_comparison(c) for c in read.signs],
        "young": _comparison(read.young),
        "days_to_sac": _curve(read.waiting),
        "days_to_sac_by_confirmed": {name: _curve(curve) for name, curve in read.by_sign.items()},
        "log_rank": None if read.test is None else asdict(read.test),
        "nymphs_of_good_eggs": asdict(read.survival),
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
        {name: None if value != value else float(value) for name, value in zip(columns, row, strict=True)}
        for row in zip(*columns.values(), strict=True)
    ]
    return {"n": curve.n, "censored": curve.censored, "median": curve.median, "points": points}
