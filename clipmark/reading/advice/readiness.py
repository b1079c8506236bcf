"""Are they ready: hints for the Pair page, each with its rule and source, none of them a lock (TRADE 4.1, 4.2)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from clipmark.book.model import LifeEvent
from clipmark.reading.advice.notices import COMMON_PRACTICE
from clipmark.reading.advice.species import add
from clipmark.reading.advice.thresholds import DEFAULT, Thresholds, source_of
from clipmark.reading.cycles.life_dates import Life, life_of


@dataclass(frozen=True, slots=True)
class Hint:
    """One hint. `speaks` is "for", "against" or "unknown"; `whom` is "her" or "him"."""

    whom: str
    speaks: str
    text: str
    rule: str
    source: str


def readiness(
    her_events: Sequence[LifeEvent],
    his_events: Sequence[LifeEvent],
    today: date,
    thresholds: Thresholds = DEFAULT,
) -> tuple[Hint, ...]:
    """What speaks for and against pairing these two today, as far as the book knows."""
    her, him = life_of(her_events, today), life_of(his_events, today)
    return (*_her(her, today, thresholds), *_him(him, today, thresholds))


def _her(life: Life, today: date, t: Thresholds) -> Iterable[Hint]:
    if life.gone:
        yield Hint("her", "against", f"She {life.gone_how} on {life.gone}.", "as noted in the book", "your book")
        return
    if life.last_moult is None:
        yield Hint("her", "unknown", "No moult of hers is noted: how far she is in her cycle is not known.",
                   "wait after a moult, and do not pair late in the cycle",
                   source_of(t, "moult_wait_days"))  # fmt: skip
    else:
        yield from moult_hints(life.last_moult, today, t)
    fed = [d for d in life.fed if d >= today - timedelta(days=14)]
    if life.fed and not fed:
        yield Hint("her", "against", f"Last noted meal {life.fed[-1]}: a hungry female is a risk to him.",
                   "feed heavily for one or two weeks before, until she refuses", "[MFR] (hobby)")  # fmt: skip
    elif fed:
        yield Hint("her", "for", f"Fed in the last two weeks (last on {fed[-1]}).",
                   "feed heavily for one or two weeks before, until she refuses", "[MFR] (hobby)")  # fmt: skip


def moult_hints(last: date, today: date, t: Thresholds) -> Iterable[Hint]:
    """What her last moult says about pairing today: too fresh, ready, or late in the cycle."""
    since = (today - last).days
    ready = last + timedelta(days=t.moult_wait_days)
    late = add(last, t.cycle_months - t.late_months, "months")
    wait = f"wait {t.moult_wait_days} days after her moult"
    not_late = f"do not pair in the last {t.late_months} months of a cycle of {t.cycle_months} months"
    if today < ready:
        yield Hint("her", "against", f"She moulted {since} days ago; hardened and fed from about {ready}.", wait,
                   source_of(t, "moult_wait_days"))  # fmt: skip
    else:
        yield Hint("her", "for", f"Her moult lies {since} days back.", wait, source_of(t, "moult_wait_days"))
    if today >= late:
        yield Hint("her", "against", f"Late in her cycle since {late}: a moult before the sac undoes the pairing.",
                   not_late, source_of(t, "late_months"))  # fmt: skip


def _him(life: Life, today: date, t: Thresholds) -> Iterable[Hint]:
    if life.gone:
        yield Hint("him", "against", f"He {life.gone_how} on {life.gone}.", "as noted in the book", "your book")
        return
    rest_rule = f"rest and food for {t.male_rest_days} days after his maturing moult"
    if life.matured is None:
        yield Hint("him", "unknown", "His maturing moult is not noted.", rest_rule, source_of(t, "male_rest_days"))
    else:
        rested = life.matured + timedelta(days=t.male_rest_days)
        speaks = "for" if today >= rested else "against"
        yield Hint("him", speaks, f"Matured {(today - life.matured).days} days ago.", rest_rule,
                   source_of(t, "male_rest_days"))  # fmt: skip
        yield remaining(life.matured, today, t)
    if life.sperm_webs:
        yield Hint("him", "for", f"Sperm web noted, last on {life.sperm_webs[-1]}.",
                   "he charges his palps from a sperm web before he courts", "[GSB] [TSU595] (hobby)")  # fmt: skip
    else:
        yield Hint("him", "unknown", "No sperm web is noted; it is often overlooked.",
                   "the first one usually two to three weeks after maturing", "[TSU595] (hobby)")  # fmt: skip


def remaining(matured: date, today: date, t: Thresholds) -> Hint:
    """How much of his fertile time is left, as a rule."""
    end = add(matured, t.male_fertile_months, "months")
    rule = f"fertile for about {t.male_fertile_months} months after maturing"
    source = source_of(t, "male_fertile_months")
    if today > end:
        return Hint("him", "against", f"His usual fertile time ended about {end}.", rule, source)
    return Hint(
        "him", "for", f"His usual fertile time lasts until about {end} ({(end - today).days} days).", rule, source
    )


def always() -> tuple[Hint, ...]:
    """What no book entry can answer and a keeper asks before every pairing."""
    return (
        Hint("her", "unknown", "Is she at least three quarters of the usual adult size?", "size before pairing",
             "[TF] (hobby)"),
        Hint("him", "unknown", "Is he put to her, not she to him?", "he goes to her quarters", "[TZ] [ART] (hobby)"),
        Hint("him", "unknown", "If he hides: leave him 15 to 20 minutes before coaxing him out.", "patience",
             COMMON_PRACTICE),
    )  # fmt: skip
