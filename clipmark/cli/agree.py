"""Agreement of two reviewers of one session: acts paired in time, unit by unit, calls, and the clashes.

--tolerance is how far apart two marks of one act may begin and still be the same, in seconds. Kappa is agreement
beyond chance (1 full, 0 what chance gives); no single value of it is good enough everywhere. docs/reading.md
explains each line.

example: clipmark agree 1 --between Ada Ben
         clipmark agree "First evening" --between Ada Ben --tolerance 0.25 --from 2:00 --to 4:30 --json
"""

from __future__ import annotations

import argparse
import json
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clipmark.errors import WrongUsage
from clipmark.timebase import Span, TimeUnreadable, clock, parse_clock

if TYPE_CHECKING:
    from clipmark.book.model import SessionRecord
    from clipmark.reading.numbers.kappa import Kappa
    from clipmark.reading.numbers.timed_kappa import TimedAgreement
    from clipmark.reading.session.agreement import ActAgreement, Agreement


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("session", metavar="SESSION", help="number or title of the session (see clipmark book list)")
    parser.add_argument("--between", nargs=2, required=True, metavar=("A", "B"), help="the two reviewers' names")
    parser.add_argument("--tolerance", type=_tolerance, default=Fraction(1, 2), metavar="SECONDS",
                        help="how far apart marks of one act may begin (default: 0.5)")  # fmt: skip
    parser.add_argument(
        "--from", dest="start", type=_time, metavar="TIME", help="only from this time of the session on"
    )
    parser.add_argument(
        "--to", dest="end", type=_time, metavar="TIME", help="only up to this time, as 1:02.5 or seconds"
    )
    parser.add_argument("--json", action="store_true", help="print everything as JSON instead of lines")
    parser.add_argument("--book", type=Path, metavar="BOOK", help="the record book (default: the one of the window)")


def _time(text: str) -> Fraction:
    try:
        return parse_clock(text)
    except TimeUnreadable as error:
        raise WrongUsage(str(error)) from error


def _tolerance(text: str) -> Fraction:
    seconds = _time(text)
    if seconds < 0:
        raise WrongUsage("--tolerance must not be negative.")
    return seconds


def _stretch(start: Fraction | None, end: Fraction | None) -> Span | None:
    if start is None and end is None:
        return None
    first, last = Fraction(0) if start is None else start, Fraction(10**9) if end is None else end
    if last <= first:
        raise WrongUsage("--to must lie after --from.")
    return Span(first, last)


def run(arguments: argparse.Namespace) -> int:
    from clipmark.book.store import Book
    from clipmark.reading.session.agreement import compare

    with Book.open(arguments.book, read_only=True) as book:
        record = book.session(book.find_session(arguments.session))
    a, b = arguments.between
    agreement = compare(record, a, b, arguments.tolerance, within=_stretch(arguments.start, arguments.end))
    if arguments.json:
        print(json.dumps(document(record, agreement), ensure_ascii=False, indent=1))
    else:
        print("\n".join(lines(record, agreement)))
    return 0


def lines(record: SessionRecord, agreement: Agreement) -> list[str]:
    """The agreement as the keeper reads it."""
    from clipmark.reading.session.agreement import named

    a, b = named(agreement.a), named(agreement.b)
    told = [f"{record.session.title}: {a} (A) and {b} (B), tolerance {float(agreement.tolerance):g} s", ""]
    if agreement.acts:
        told.append(f"{'act':<32}{'paired':>8}{'only A':>8}{'only B':>8}{'off':>10}{'F1':>7}{'kappa of time':>15}")
        told.extend(_act_line(act) for act in agreement.acts)
        told.append("")
    told.extend(agreement.notes)
    if not agreement.notes:
        told.append(f"Acts as events: {_kappa(agreement.events)}.")
        told.append(f"Lasting acts, unit by unit: {_timed(agreement.timed)}.")
    told.append(
        f"Calls: {agreement.same_call} of {agreement.both_called} flags that both called are called alike; "
        f"weighted by distance {_kappa(agreement.calls)}."
        if agreement.both_called
        else "Calls: there is no flag that both called."
    )
    if not agreement.clashes:
        return [*told, "No clashes."]
    told += ["", f"{len(agreement.clashes)} to look at again:"]
    names = {clip.id: Path(clip.path).name for clip in record.clips}
    for clash in agreement.clashes:
        what = f"A: {clash.a}; B: {clash.b}"
        told.append(f"  {clock(clash.at):>12}  {names[clash.clip_id]}  {clash.kind}: {what}")
    return told


def _act_line(act: ActAgreement) -> str:
    off = "–" if act.off is None else f"{act.off:.3f} s"
    f1 = "–" if act.found.f1 is None else f"{act.found.f1:.2f}"
    timed = "–" if act.timed is None or act.timed.kappa.value is None else f"{act.timed.kappa.value:.3f}"
    return f"{act.label[:31]:<32}{act.matched:>8}{act.only_a:>8}{act.only_b:>8}{off:>10}{f1:>7}{timed:>15}"


def _kappa(kappa: Kappa | None) -> str:
    if kappa is None:
        return "nothing to compare"
    if kappa.value is None:
        return f"kappa undefined (n = {kappa.n}, one word only)"
    interval = "no interval" if kappa.low is None else f"95 % {kappa.low:.3f} to {kappa.high:.3f}"
    return f"kappa {kappa.value:.3f} ({interval}, {f'{kappa.words}, ' if kappa.words else ''}n = {kappa.n})"


def _timed(timed: TimedAgreement | None) -> str:
    if timed is None:
        return "nothing to compare"
    share = f"{timed.agreed} of {timed.units} units alike"
    return (
        f"{share}, {_kappa(timed.kappa)}; within the tolerance {timed.agreed_a_to_b} (A in B) "
        f"and {timed.agreed_b_to_a} (B in A)"
    )


def document(record: SessionRecord, agreement: Agreement) -> dict[str, Any]:
    """The agreement for machines; times in seconds of the session clock, ticks of the clip beside them."""
    return {
        "format": "clipmark-agreement/1",
        "session": {"id": record.session.id, "title": record.session.title},
        "a": agreement.a,
        "b": agreement.b,
        "tolerance_s": float(agreement.tolerance),
        "acts": [
            {
                "act": act.act,
                "label": act.label,
                "paired": act.matched,
                "only_a": act.only_a,
                "only_b": act.only_b,
                "median_difference_s": act.off,
                "precision_of_b": act.found.precision,
                "recall_of_b": act.found.recall,
                "f1": act.found.f1,
                "units": _timed_document(act.timed),
            }
            for act in agreement.acts
        ],
        "events": _kappa_document(agreement.events),
        "units": _timed_document(agreement.timed),
        "calls": {
            "both": agreement.both_called,
            "alike": agreement.same_call,
            "weighted": _kappa_document(agreement.calls),
            "plain": _kappa_document(agreement.calls_plain),
        },
        "notes": list(agreement.notes),
        "clashes": [
            {
                "time_s": float(clash.at),
                "clip": Path(record.clip(clash.clip_id).path).name,
                "pts": clash.pts,
                "kind": clash.kind,
                "a": clash.a,
                "b": clash.b,
                "marks": list(clash.marks),
                "flag": clash.flag or None,
            }
            for clash in agreement.clashes
        ],
    }


def _kappa_document(kappa: Kappa | None) -> dict[str, Any] | None:
    if kappa is None:
        return None
    return {
        "kappa": kappa.value,
        "observed": kappa.observed,
        "expected": kappa.expected,
        "se": kappa.se,
        "low": kappa.low,
        "high": kappa.high,
        "n": kappa.n,
        "words": kappa.words or None,
    }


def _timed_document(timed: TimedAgreement | None) -> dict[str, Any] | None:
    if timed is None:
        return None
    return {
        "units": timed.units,
        "block_units": timed.block_units,
        "alike": timed.agreed,
        "alike_a_in_b": timed.agreed_a_to_b,
        "alike_b_in_a": timed.agreed_b_to_a,
        "exact": _kappa_document(timed.kappa),
        "a_in_b": _kappa_document(timed.kappa_a_to_b),
        "b_in_a": _kappa_document(timed.kappa_b_to_a),
    }
