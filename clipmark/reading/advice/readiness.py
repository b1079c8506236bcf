"""Are they ready: hints for the Pair page, each with its rule and source, none of them a lock (TRADE 4.1, 4.2)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from clipmark.book.model import LifeEvent
from clipmark.reading.advice.his_past import NO_PAST, HisPast
from clipmark.reading.advice.thresholds import DEFAULT, Thresholds, source_of
from clipmark.reading.cycles.life_dates import Life, day, life_of
from clipmark.reading.figure import plural
from clipmark.reading.kinds.notices import COMMON_PRACTICE
from clipmark.reading.kinds.species import add


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
    past: HisPast = NO_PAST,
    his_thresholds: Thresholds | None = None,
) -> tuple[Hint, ...]:
    """What speaks for and against pairing these two today, as far as the book knows.

    Args:
        thresholds: those of her kind (thresholds.for_kind); his_thresholds: of his kind, the same where None.
        past: his other pairings, with any female.
    """
    her, him = life_of(her_events, today), life_of(his_events, today)
    return (
        *_her(her, today, thresholds),
        *_cooling(her_events, today),
        *_him(him, today, his_thresholds or thresholds, past),
    )


def _cooling(events: Sequence[LifeEvent], today: date) -> Iterable[Hint]:
    """What the keeper noted of a cool season; no source says which kind needs it, so nothing speaks for it."""
    dated = sorted((d, e.kind, e.note) for e in events if (d := day(e.date)) is not None and d <= today)
    began = [one for one in dated if one[1] == "cooling began"]
    ended = [one for one in dated if one[1] == "cooling ended"]
    if began:
        start, _, note = began[-1]
        end = next((d for d, _, _ in ended if d >= start), None)
        lasted = f"{start} to {end} ({(end - start).days} days)" if end else f"since {start}"
        yield Hint("her", "unknown", f"Cool season noted: {lasted}{f', {note}' if note else ''}.",
                   "some kinds are said to need it; which, and how cool, is your own note", "your book")  # fmt: skip


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


def _him(life: Life, today: date, t: Thresholds, past: HisPast) -> Iterable[Hint]:
    if past.killed is not None:
        yield Hint(
            "him", "against", f"She killed him in the pairing of {past.killed}.", "as marked on film", "your book"
        )
        return
    if life.gone:
        yield Hint("him", "against", f"He {life.gone_how} on {life.gone}.", "as noted in the book", "your book")
        return
    rest_rule = f"rest and food for {t.male_rest_days} days after his maturing moult"
    if life.matured is None:
        yield Hint("him", "unknown", "His maturing moult is not noted.", rest_rule, source_of(t, "male_rest_days"))
    else:
        rested = life.matured + timedelta(days=t.male_rest_days)
        speaks = "for" if today >= rested else "against"
        yield Hint("him", speaks, f"Matured {plural((today - life.matured).days, 'day')} ago.", rest_rule,
                   source_of(t, "male_rest_days"))  # fmt: skip
        yield remaining(life.matured, today, t)
    yield from _charged(life, past)
    yield from _rested(today, past)


def _charged(life: Life, past: HisPast) -> Iterable[Hint]:
    """Whether he made a sperm web since he was last put to anybody; an older web does not speak for him."""
    if not life.sperm_webs:
        yield Hint("him", "unknown", "No sperm web is noted; it is often overlooked.",
                   "the first one usually two to three weeks after maturing", "[TSU595] (hobby)")  # fmt: skip
        return
    web, last = life.sperm_webs[-1], past.last
    if last is not None and web <= last:
        yield Hint("him", "unknown", f"His last noted sperm web ({web}) is older than his last pairing ({last}): "
                   "whether he has charged again is not noted.",
                   "new webs come every few days at first, rarer later; one charge usually serves several females",
                   "[GSB] (hobby), [LS] (news)")  # fmt: skip
        return
    since = f", after his last pairing on {last}" if last is not None else ""
    yield Hint("him", "for", f"Sperm web noted, last on {web}{since}.",
               "he charges his palps from a sperm web before he courts", "[GSB] [TSU595] (hobby)")  # fmt: skip


def _rested(today: date, past: HisPast) -> Iterable[Hint]:
    """How long he has rested since his last pairing with anybody: told, not judged, for no source gives a number."""
    if past.last is None:
        return
    with_whom = f" (with {past.females[-1]})" if past.females[-1] else ""
    often = past.recent(today)
    more = f" {plural(often, 'pairing')} in the last thirty days." if often > 1 else ""
    yield Hint("him", "unknown", f"He was last paired {plural((today - past.last).days, 'day')} ago, on {past.last}"
               f"{with_whom}.{more}", "rest between pairings: no source gives a number", "your book")  # fmt: skip


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
