"""Pair again? Reasons for and against, each with its rule and source, to be weighed by the keeper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from clipmark.book.model import Decision
from clipmark.reading import roles
from clipmark.reading.advice.his_past import NO_PAST, HisPast
from clipmark.reading.advice.readiness import moult_hints, remaining
from clipmark.reading.advice.thresholds import FROM_MEMORY, Thresholds, source_of
from clipmark.reading.cycles.cycle import Cycle, Held
from clipmark.reading.cycles.life_dates import Life
from clipmark.reading.figure import plural
from clipmark.reading.kinds.notices import COMMON_PRACTICE
from clipmark.reading.session.ending import EndKind


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason to pair these two again, or not to.

    Attributes:
        speaks: "for" or "against".
        text: the reason as it applies here.
        rule: the rule behind it.
        source: where the rule is from.
        calls, marks: ids that it rests on.
    """

    speaks: str
    text: str
    rule: str
    source: str
    calls: tuple[int, ...] = ()
    marks: tuple[int, ...] = ()


def reasons(
    cycle: Cycle,
    her: Life,
    him: Life,
    today: date,
    t: Thresholds,
    past: HisPast = NO_PAST,
    his_thresholds: Thresholds | None = None,
) -> tuple[Reason, ...]:
    """Reasons for and against another pairing of hers in this cycle, with this male.

    Args:
        past: his other pairings; after a killing nothing speaks for his fertile time.
    """
    told = any(s.ending.kind is EndKind.KILLED for s in cycle.sessions)
    male = tuple(_male(him, today, his_thresholds or t, past, told))
    if cycle.has_moulted:
        return (*_after_moult(cycle, today, t), *male)
    return (
        *_insertions(cycle, t),
        *_sessions(cycle, her, today, t),
        *_sac(cycle),
        *_manners(cycle),
        *_moult(her, today, t),
        *male,
    )


def _insertions(cycle: Cycle, t: Thresholds) -> Iterable[Reason]:
    enough = f"{plural(t.enough_confirmed, 'good insertion is', 'good insertions are')} often enough"
    source = source_of(t, "enough_confirmed")
    sure = [c for s in cycle.sessions for c in s.insertions.of(Decision.CONFIRMED)]
    calls, marks = tuple(i for c in sure for i in c.calls), tuple(i for c in sure for i in c.marks)
    hidden = sum(s.insertions.not_visible for s in cycle.sessions)
    if not sure:
        probable = f"; {cycle.probable} probable" if cycle.probable else ""
        yield Reason("for", f"No insertion is confirmed{probable}.", enough, source)
    elif len(sure) < t.enough_confirmed:
        yield Reason("for", f"Only {plural(len(sure), 'insertion is', 'insertions are')} confirmed.", enough, source,
                     calls, marks)  # fmt: skip
    else:
        yield Reason("against", f"{len(sure)} insertions are confirmed.", enough, source, calls, marks)
    if hidden and not sure:
        yield Reason("for", f"{plural(hidden, 'candidate')} could not be seen: what happened there is not known.",
                     "what was not seen counts neither way", COMMON_PRACTICE)  # fmt: skip
    open_flags = sum(s.insertions.uncalled for s in cycle.sessions)
    if open_flags:
        yield Reason("against", f"{plural(open_flags, 'flag')} not yet called: look at the film before deciding.",
                     "call every flag first", COMMON_PRACTICE)  # fmt: skip


def _sessions(cycle: Cycle, her: Life, today: date, t: Thresholds) -> Iterable[Reason]:
    since_when = "since her last moult" if her.moults and her.moults[0] <= cycle.sessions[0].on else "in this book"
    rule = f"most keepers pair at least {t.usual_pairings} times, even after good insertions"
    number = len(cycle.sessions)
    if cycle.sessions[-1].record.session.female_id is None:
        pass  # nobody knows how often she was paired
    elif number < t.usual_pairings:
        yield Reason("for", f"This is her {_ordinal(number)} pairing {since_when}.", rule,
                     source_of(t, "usual_pairings"))  # fmt: skip
    else:
        yield Reason("against", f"She has been paired {number} times {since_when}.", rule,
                     source_of(t, "usual_pairings"))  # fmt: skip
    last = cycle.sessions[-1].on
    pause = f"{t.again_after_days} to {t.again_within_days} days between pairings"
    since = (today - last).days
    if since < t.again_after_days:
        ready = last + timedelta(days=t.again_after_days)
        yield Reason("against", f"The last pairing was {plural(since, 'day')} ago; usual from {ready}.", pause,
                     source_of(t, "again_after_days"))  # fmt: skip


def _ordinal(number: int) -> str:
    return {1: "first", 2: "second", 3: "third"}.get(number, f"{number}th")


def _sac(cycle: Cycle) -> Iterable[Reason]:
    ended = [o.kind for o in cycle.outcomes if o.kind in ("infertile", "eaten", "lost")]
    if cycle.has_sac and ended and not cycle.developed:
        yield Reason("for", f"Her sac is over ({', '.join(dict.fromkeys(ended))}): there is nothing to guard.",
                     "guarding counts only while she has a sac", "your book")  # fmt: skip
    elif cycle.has_sac:
        yield Reason("against", "She has laid in this cycle.", "a guarding female is left alone", COMMON_PRACTICE)


def _manners(cycle: Cycle) -> Iterable[Reason]:
    last = cycle.sessions[-1]
    happened, ending = last.happened, last.ending
    courted = any(o.act in roles.COURTSHIP for o in happened)
    if ending.kind is EndKind.KILLED:
        yield Reason("against", "She killed him.", "he is gone", "your book", (), ending.marks)
    elif ending.kind is EndKind.LUNGE:
        yield Reason("against", "She lunged at him at the end of the last pairing.",
                     "separate when she attacks; a hungry or unwilling female is a risk to him", COMMON_PRACTICE,
                     (), ending.marks)  # fmt: skip
    if not courted and any(o.act in roles.TOUCHING for o in happened):
        rule = "in Grammostola schulzei males were eaten only where they had not courted"
        yield Reason("against", "He touched her without any courtship being marked.", rule, "[FF08] (paper)")
    refused = [o for o in happened if o.act in roles.REFUSAL]
    if refused:
        yield from _refusal(cycle, last, tuple(m for o in refused for m in o.marks))


def _refusal(cycle: Cycle, last: Held, marks: tuple[int, ...]) -> Iterable[Reason]:
    earlier = sum(s.insertions.confirmed for s in cycle.sessions if s is not last)
    if earlier:
        yield Reason("against", "She refused after an earlier pairing with a confirmed insertion: she may count "
                     "herself as mated.", "females that have mated once tend to refuse (Eupalaestrus weijenberghi)",
                     FROM_MEMORY, (), marks)  # fmt: skip
    else:
        yield Reason("against", "She refused him (rocking or threat is marked).",
                     "rocking on the third legs is read as refusal", "[CO12] (paper)", (), marks)  # fmt: skip


def _after_moult(cycle: Cycle, today: date, t: Thresholds) -> Iterable[Reason]:
    when = f" on {cycle.moulted}" if cycle.moulted else ""
    yield Reason("for", f"She moulted{when} after the pairing and before a sac: she is as unmated.",
                 "stored sperm is shed with the old skin", "[TSU595] [RA] [MV741] [MFR] (hobby)")  # fmt: skip
    if cycle.moulted:
        for hint in moult_hints(cycle.moulted, today, t):
            if hint.speaks == "against":
                yield Reason("against", hint.text, hint.rule, hint.source)


def _moult(her: Life, today: date, t: Thresholds) -> Iterable[Reason]:
    if her.last_moult is not None:
        for hint in moult_hints(her.last_moult, today, t):
            if hint.speaks == "against":
                yield Reason("against", hint.text, hint.rule, hint.source)


def _male(him: Life, today: date, t: Thresholds, past: HisPast, killing_told: bool) -> Iterable[Reason]:
    if past.killed is not None:  # nothing speaks for his time any more
        if not killing_told:
            yield Reason("against", f"He was killed in the pairing of {past.killed}.", "another male is needed",
                         "your book")  # fmt: skip
        return
    if him.gone:
        yield Reason("against", f"He {him.gone_how} on {him.gone}.", "another male is needed", "your book")
        return
    if him.matured is not None:
        left = remaining(him.matured, today, t)
        yield Reason(left.speaks, left.text, left.rule, left.source)
    if him.sperm_webs and past.last is not None and him.sperm_webs[-1] <= past.last:
        yield Reason("against", f"His last noted sperm web ({him.sperm_webs[-1]}) is older than his last pairing "
                     f"({past.last}).", "whether he has charged again is not noted", "your book")  # fmt: skip
