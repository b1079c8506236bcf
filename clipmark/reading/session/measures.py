"""The reading of one session: every figure that follows from its marks and calls, with where it came from.

Latencies run from the introduction (act `introduced`), or from the session clock's zero where none is marked. Rates
and shares are by the observed time: film between the introduction and the separation, several cameras counted once,
out-of-view time taken off. docs/reading.md explains each figure for keepers; definitions follow TRADE 5.2.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from clipmark.book.meaning.calls import own_reader, people, reader_of
from clipmark.book.model import Decision, SessionRecord, SpeciesNote
from clipmark.reading import roles, spans
from clipmark.reading.figure import DASH, Figure, joined, plural, seconds_text, share_text
from clipmark.reading.kinds.signs import expected, species_of
from clipmark.reading.session.answers import WINDOW, answer_delays
from clipmark.reading.session.by_act import ActReading, by_act
from clipmark.reading.session.ending import Ending, how_it_ended
from clipmark.reading.session.insertion_figures import insertion_figures
from clipmark.reading.session.insertions import Insertions, insertions
from clipmark.reading.session.observed import Observed, observe
from clipmark.reading.session.occurrences import Occurrence, framers, occurrences
from clipmark.reading.session.rules import contradictions
from clipmark.timebase import clock


@dataclass(frozen=True, slots=True)
class Reading:
    """What one session says.

    Attributes:
        figures: the headline figures in the order in which a keeper reads them.
        acts: the figures of each act.
        insertions: every candidate, with `insertions.sentence` as the one line that matters.
        ending: how it ended, with `ending.sentence`.
        observed: what was filmed, in view, watched.
        occurrences: what happened, once each, on the session clock.
        notes: what must be said beside the figures, a sentence each.
        reviewer: whose marks and calls these are; "" where nobody is named.
    """

    figures: tuple[Figure, ...]
    acts: tuple[ActReading, ...]
    insertions: Insertions
    ending: Ending
    observed: Observed
    occurrences: tuple[Occurrence, ...]
    notes: tuple[str, ...]
    reviewer: str = ""

    def figure(self, key: str) -> Figure:
        """The headline or act figure of that key.

        Raises:
            KeyError: there is none.
        """
        for figure in (*self.figures, *(f for act in self.acts for f in act.figures)):
            if figure.key == key:
                return figure
        raise KeyError(key)


def read(record: SessionRecord, reviewer: str = "", own: Sequence[SpeciesNote] = ()) -> Reading:
    """Read one session.

    Args:
        reviewer: whose marks and calls; empty: the session's own (`book.meaning.calls.reader_of`).
        own: what the keeper noted of species; it may say which signs to expect.
    """
    happened = occurrences(record, reviewer)
    observed = observe(record, happened)
    judged = insertions(record, happened, reviewer)
    ending = how_it_ended(happened)
    figures = (
        *_latencies(happened, judged, observed),
        *_answer_figures(happened, observed),
        *insertion_figures(judged),
        *_parting(happened, judged, observed, ending),
        *_time_figures(record, observed),
    )
    return Reading(
        figures=figures,
        acts=by_act(record, happened, observed),
        insertions=judged,
        ending=ending,
        observed=observed,
        occurrences=happened,
        notes=(*_notes(record, happened, judged, observed, reviewer), *_kind(record, own)),
        reviewer=reader_of(record, reviewer).name,
    )


def _latencies(happened: Sequence[Occurrence], judged: Insertions, observed: Observed) -> Iterable[Figure]:
    firsts: tuple[tuple[str, str, Callable[[Occurrence], bool]], ...] = (
        ("drumming", "his first drumming", lambda o: o.act in roles.DRUMMING),
        ("shaking", "his first body shaking", lambda o: o.act in roles.SHAKING),
        ("answer", "her first answer", lambda o: o.act in roles.ANSWER),
        ("contact", "first contact", lambda o: o.act in roles.TOUCHING),
        ("clasp", "first clasp", lambda o: o.act in roles.HOLD),
    )
    for key, words, wanted in firsts:
        began = [o for o in happened if wanted(o) and o.start >= observed.start]
        first = began[0] if began else None
        yield _latency(key, words, first.start if first else None, observed, first.marks if first else ())
    for key, words, decisions in (
        ("insertion", "first insertion, confirmed or probable", (Decision.CONFIRMED, Decision.PROBABLE)),
        ("confirmed", "first confirmed insertion", (Decision.CONFIRMED,)),
    ):
        came = [c for c in judged.of(*decisions) if c.start >= observed.start]
        at = came[0] if came else None
        yield _latency(
            key,
            words,
            at.start if at else None,
            observed,
            at.marks if at else (),
            at.flags if at else (),
            at.calls if at else (),
        )


def _latency(
    key: str,
    words: str,
    at: Fraction | None,
    observed: Observed,
    marks: tuple[int, ...],
    flags: tuple[int, ...] = (),
    calls: tuple[int, ...] = (),
) -> Figure:
    label = f"To {words}"
    explanation = f"From {observed.start_said} to {words}."
    if at is None:
        least = observed.seconds
        return Figure(
            f"latency.{key}",
            label,
            None,
            "s",
            f"not seen in {seconds_text(least)} observed",
            explanation,
            observed.introduced,
            at_least=least,
        )
    blind = (at - observed.start) - observed.seen_between(observed.start, at)
    text = seconds_text(at - observed.start)
    if blind > 0:
        text += f" ({seconds_text(blind)} of it not in view)"
    return Figure(
        f"latency.{key}",
        label,
        at - observed.start,
        "s",
        text,
        explanation,
        (*observed.introduced, *marks),
        flags,
        calls,
    )


def _answer_figures(happened: Sequence[Occurrence], observed: Observed) -> Iterable[Figure]:
    sides = (
        ("her", "Her answers to his drumming", "drumming", roles.DRUMMING, roles.ANSWER),
        ("his", "His drumming after her answers", "answer", roles.ANSWER, roles.DRUMMING),
    )
    for key, label, what, first, second in sides:
        calls, delays = answer_delays(happened, observed, first, second)
        text = f"{DASH} (no {what} is marked)"
        if calls:
            text = f"{len(delays)} of {plural(calls, what)} within {seconds_text(WINDOW)}"
        if delays:
            text += f", median {seconds_text(Fraction(statistics.median(delays)))}"
        yield Figure(f"answers.{key}", label, len(delays) if calls else None, "count", text,
                     "Onsets that the other answered within the window and before the next one. How many chance "
                     "alone would give, the shuffle test says.",
                     tuple(m for o in happened if o.act in first | second for m in o.marks))  # fmt: skip


def _parting(
    happened: Sequence[Occurrence], judged: Insertions, observed: Observed, ending: Ending
) -> Iterable[Figure]:
    sure = judged.of(Decision.CONFIRMED)
    last = sure[-1] if sure else None
    label, why = (
        "Last confirmed insertion to separation",
        ("From the end of the last confirmed insertion (its start where no end was seen) to the mark “separated”."),
    )
    if last is None or observed.separated is None:
        missing = "no confirmed insertion" if last is None else "no separation is marked"
        yield Figure("parting.last_confirmed", label, None, "s", f"{DASH} ({missing})", why)
    else:
        since = observed.separated - last.span.end
        yield Figure(
            "parting.last_confirmed", label, since, "s", seconds_text(since), why, last.marks, last.flags, last.calls
        )
    held = [o for o in happened if o.act in roles.HOLD]
    clasped = spans.total(o.span for o in held)
    still = any(o.open for o in held)
    yield Figure(
        "time.clasped",
        "Time in the clasp",
        clasped if held else None,
        "s",
        ("at least " if still else "") + seconds_text(clasped) if held else DASH,
        "Clasps (and knock-downs) added up, overlaps once.",
        tuple(m for o in held for m in o.marks),
        at_least=clasped if still else None,
    )
    yield Figure(
        "ending",
        "How it ended",
        None,
        "",
        ending.sentence,
        "The strongest parting marked from the last touch on: killed, lunge, bolted, calm, separated.",
        ending.marks,
    )


def _time_figures(record: SessionRecord, observed: Observed) -> Iterable[Figure]:
    filmed, seen = spans.total(observed.filmed), observed.seconds
    yield Figure(
        "time.filmed",
        "Filmed",
        filmed,
        "s",
        seconds_text(filmed),
        f"Film from {observed.start_said} to the separation or the film's end; two cameras count once.",
    )
    yield Figure(
        "time.observed",
        "Observed",
        seen,
        "s",
        seconds_text(seen),
        "Filmed time less what was out of view of every running camera: rates and shares are by this.",
    )
    share = spans.total(observed.watched) / seen if seen else None
    text = share_text(share) if observed.scanned else "no motion pass was made"
    yield Figure(
        "time.watched",
        "Watched by the motion pass",
        share if observed.scanned else None,
        "share",
        text,
        "The part of the observed time in which the pass could follow her abdomen on at least one camera; "
        "in "
        "the rest, silence is no evidence.",
    )
    frame = max((_frame_time(c.frames, (c.end_pts - c.first_pts) * c.time_base) for c in record.clips), default=None)
    yield Figure(
        "time.frame",
        "One frame",
        frame,
        "s",
        DASH if frame is None else f"{1000 * float(frame):.1f} ms",
        "Mean frame time of the slowest camera: a moment is known to half of it either way, a length to a whole one.",
    )


def _frame_time(frames: int, seconds: Fraction) -> Fraction:
    return seconds / frames if frames else Fraction(0)


def _notes(
    record: SessionRecord, happened: Sequence[Occurrence], judged: Insertions, observed: Observed, reviewer: str
) -> Iterable[str]:
    yield from _whose(record, reviewer)
    if not observed.introduced:
        yield f"No introduction is marked, so latencies run from {observed.start_said}."
    open_ones = [o for o in happened if o.open]
    if open_ones:
        yield f"{plural(len(open_ones), 'act is', 'acts are')} still open: such lengths are told as “at least”."
    merged = sum(len(o.clips) > 1 for o in happened)
    if merged:
        were = plural(merged, "act was", "acts were")
        yield f"{were} marked on several cameras; each counts once."
    if judged.disputed:
        yield f"On {plural(judged.disputed, 'candidate')} calls of several people or cameras differ."
    for clash in judged.contradicted:
        yield (
            f"At {clock(clash.start, 1)} an insertion is marked, and the pull there was called something else. It "
            "counts as neither: change the mark or the call."
        )
    yield from _blind(observed)
    yield from contradictions(record, happened)


def _kind(record: SessionRecord, own: Sequence[SpeciesNote]) -> Iterable[str]:
    """What a missing pull means in this kind, where it means less than usual."""
    signs = expected(species_of(record), own)
    if signs.pull_is_weak:
        yield f"{signs.missing_pull} Look at his palps and his stretch ({signs.source})."


def _whose(record: SessionRecord, reviewer: str) -> Iterable[str]:
    """Whose reading it is, where that is not plain."""
    name, own = reader_of(record, reviewer).name, record.session.reviewer
    others = [one for one in people(record) if one != name]
    if not reviewer and own and name != own:
        yield f"{own} has marked and called nothing here: this is the reading of {name}."
    if others:
        yield f"This is the reading of {name or 'the session'}; {joined(others)} marked or called here too."
    names = reader_of(record, reviewer).names
    if framers(record, reviewer) != names:
        own = own_reader(record)
        yield f"{name} marked no introduction, separation or time out of view: those of {own} are taken."


def _blind(observed: Observed) -> Iterable[str]:
    """The unwatched stretches one by one, or together where they are many."""
    found = observed.unwatched
    if len(found) <= 3:
        for blind in found:
            yield f"Unwatched {clock(blind.span.start, 1)} to {clock(blind.span.end, 1)}: {blind.why}."
        return
    whys = ", ".join(dict.fromkeys(blind.why for blind in found))
    together = seconds_text(sum((blind.span.duration for blind in found), Fraction(0)))
    yield f"Unwatched: {len(found)} stretches, {together} together ({whys})."
