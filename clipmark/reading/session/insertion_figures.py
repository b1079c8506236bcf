"""Figures of the insertions of one session: how many were called what, how long from pull to release, which palp."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from clipmark.book.model import Decision
from clipmark.reading import spans
from clipmark.reading.figure import DASH, Figure, plural, seconds_text
from clipmark.reading.session.insertions import WITHOUT_SIGNS, CandidateInsertion, Insertions


def insertion_figures(judged: Insertions) -> Iterable[Figure]:
    """The headline figures of the candidates, each with the marks, flags and calls that it is made of."""
    counts = (
        ("confirmed", "Confirmed insertions", (Decision.CONFIRMED,)),
        ("probable", "Probable insertions", (Decision.PROBABLE,)),
        ("attempts", "Attempts", (Decision.ATTEMPT,)),
        ("judgeable", "Judgeable", (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT)),
        ("not_visible", "Not visible", (Decision.NOT_SEEN,)),
        ("other", "Something else", (Decision.OTHER,)),
        ("uncalled", "Flags not yet called", (None,)),
    )
    for key, label, decisions in counts:
        found = judged.of(*decisions)
        text, why = str(len(found)), _COUNTED[key]
        if key == "confirmed" and judged.unsigned:
            text, why = f"{text} ({judged.unsigned} {WITHOUT_SIGNS})", _UNSIGNED
        yield _of(found, f"insertions.{key}", label, len(found), "count", text, why)
    clash = judged.contradicted
    yield _of(clash, "insertions.contradicted", "Contradicted", len(clash), "count", str(len(clash)), _CONTRADICTED)
    sure = judged.of(Decision.CONFIRMED)
    likely = judged.of(Decision.CONFIRMED, Decision.PROBABLE)
    yield _inserted("time.inserted_confirmed", "Pull to release, confirmed", sure)
    yield _inserted("time.inserted", "Pull to release, confirmed and probable", likely)
    ended = [c for c in likely if c.end is not None]
    longest = max(ended, key=lambda c: c.span.duration, default=None)
    yield _of(
        [longest] if longest else [],
        "insertions.longest",
        "Longest insertion",
        longest.span.duration if longest else None,
        "s",
        seconds_text(longest.span.duration if longest else None),
        "The longest confirmed or probable insertion whose end was seen.",
    )
    for side in ("left", "right"):
        found = tuple(c for c in likely if c.palp == side)
        yield _of(
            found,
            f"insertions.{side}",
            f"With the {side} palp",
            len(found),
            "count",
            str(len(found)),
            f"Confirmed or probable insertions with his {side} palp, where it was told.",
        )
    untold = tuple(c for c in likely if not c.palp)
    yield _of(
        untold,
        "insertions.palp_untold",
        "Palp not told",
        len(untold),
        "count",
        str(len(untold)),
        "Confirmed or probable insertions for which no palp was named.",
    )


_COUNTED = {
    "confirmed": "Candidates called confirmed: seating was seen, and a second sign.",
    "probable": "Candidates called probable, and insertions that were marked and never called.",
    "attempts": "Candidates called attempt, and marked attempts: a palp reached her and did not seat.",
    "judgeable": "Confirmed, probable and attempts together.",
    "not_visible": "Candidates that the film does not let anybody judge; they count neither for nor against.",
    "other": "Flags whose cause was something else, such as a step or the camera.",
    "uncalled": "Proposed pulls on which nobody has decided.",
}


_UNSIGNED = (
    "Candidates called confirmed. Where no signs are stated, what the call rests on is not known, and the definition "
    "(seating seen, and a second sign) is not claimed for it."
)
_CONTRADICTED = (
    "Marked as an insertion, and the flag at its start called something else. Both cannot be right, so it counts as "
    "neither until the mark or the call is changed."
)


def _inserted(key: str, label: str, found: Sequence[CandidateInsertion]) -> Figure:
    covered = spans.total(c.span for c in found)
    unended = sum(c.end is None for c in found)
    text = seconds_text(covered) if found else DASH
    if unended:
        text = f"at least {seconds_text(covered)}; of {plural(unended, 'insertion')} the end was not seen"
    return _of(
        found,
        key,
        label,
        covered if found else None,
        "s",
        text,
        "As marked, else from the onset of her abdomen's pull to its release; overlaps count once. It is no time of "
        "insertion: a release of the abdomen need not be the moment at which the palp leaves.",
        covered if unended else None,
    )


def _of(
    found: Sequence[CandidateInsertion],
    key: str,
    label: str,
    value: Fraction | int | None,
    unit: str,
    text: str,
    explanation: str,
    at_least: Fraction | None = None,
) -> Figure:
    def ids(name: str) -> tuple[int, ...]:
        return tuple(i for c in found for i in getattr(c, name))

    return Figure(key, label, value, unit, text, explanation, ids("marks"), ids("flags"), ids("calls"), at_least)
