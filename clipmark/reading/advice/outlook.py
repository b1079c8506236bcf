"""What comes next for one pairing: pair again?, when a sac may come, when to pull it, moult risk, his remaining time.

Every window and reason carries its rule and source; thresholds are a frozen value that the keeper may change. Nothing
here is a lock or a promise: a window that has passed means "not laid yet", a moult after the pairing voids the plan,
and no text says more about the eggs than that a sac came and what was in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from clipmark.book.model import LifeEvent, SessionRecord
from clipmark.reading.advice import notices
from clipmark.reading.advice.notices import Notice
from clipmark.reading.advice.readiness import Hint, moult_hints, remaining
from clipmark.reading.advice.reasons import Reason, reasons
from clipmark.reading.advice.species import DateWindow, Known, known, windows
from clipmark.reading.advice.thresholds import DEFAULT, Thresholds, source_of
from clipmark.reading.cycles.cycle import DEVELOPED, Cycle, cycles, held
from clipmark.reading.cycles.life_dates import Life, life_of
from clipmark.reading.figure import plural


class Status(StrEnum):
    """Where the plan stands."""

    UNDATED = "undated"  # the session has no date, so nothing can be planned
    WAITING = "waiting"
    NOT_LAID_YET = "not laid yet"  # the window has passed; no failure
    VOID = "re-pair"  # she moulted on or after the pairing and before a sac
    LAID = "laid"
    YOUNG = "young"
    OVER = "over"  # infertile, eaten or lost
    GONE = "gone"  # she died or was sold


@dataclass(frozen=True, slots=True)
class Due:
    """A date worth a reminder. `key` is stable, such as "sac.first"."""

    key: str
    on: date
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """What comes next.

    Attributes:
        status, status_text: where the plan stands, in a sentence.
        start, start_said: the day from which the sac is counted; None for an undated session.
        sac: windows in which a sac may come; the first is the leading one. Empty when the plan is void or a sac came.
        latest: the longest wait that was reported.
        pull: windows for pulling the sac, once it is laid; emergence: when young may come out if it is left.
        moult: what her last moult says today; male: what is left of his time, None where it is not known.
        reasons: for and against pairing again.
        dates: what may be put on the calendar, sorted, today or later.
        notices: cautions that belong beside it.
    """

    status: Status
    status_text: str
    start: date | None
    start_said: str
    sac: tuple[DateWindow, ...]
    latest: DateWindow | None
    pull: tuple[DateWindow, ...]
    emergence: tuple[DateWindow, ...]
    moult: tuple[Hint, ...]
    male: Hint | None
    reasons: tuple[Reason, ...]
    dates: tuple[Due, ...]
    notices: tuple[Notice, ...]

    @property
    def pair_again(self) -> str:
        """`2 reasons to pair again, 1 against. Weigh them; the choice is yours.`"""
        pro = sum(r.speaks == "for" for r in self.reasons)
        con = len(self.reasons) - pro
        return f"{plural(pro, 'reason')} to pair again, {con} against. Weigh them; the choice is yours."


def outlook(
    record: SessionRecord,
    her_events: Sequence[LifeEvent] = (),
    his_events: Sequence[LifeEvent] = (),
    others: Sequence[SessionRecord] = (),
    today: date | None = None,
    thresholds: Thresholds = DEFAULT,
) -> Outlook:
    """The outlook of one session.

    Args:
        her_events, his_events: dated events of the two animals.
        others: her other sessions (with any male); they decide what cycle this one belongs to.
        today: the day to look from; the present day where None.
    """
    now = today or date.today()
    her, him = life_of(her_events, now), life_of(his_events, now)
    sessions = held([record, *(o for o in others if o.session.id != record.session.id)])
    cycle = next(
        (c for c in cycles(sessions, her) for s in c.sessions if s.record.session.id == record.session.id), None
    )
    male = remaining(him.matured, now, thresholds) if him.matured and not him.gone else None
    shown = (notices.SEEN_ONLY, notices.STANDING)
    if cycle is None:
        text = "The session has no date, so no window can be counted. Enter its date."
        return Outlook(Status.UNDATED, text, None, "", (), None, (), (), (), male, (), (), shown)
    species = _species(record)
    sac = _own("pairing to sac", cycle.start, thresholds.sac_first_days, thresholds.sac_last_days)
    sac = sac or windows(cycle.start, known(species, "pairing_to_sac"))
    status, text = _status(cycle, her, sac, now)
    waiting = status in (Status.WAITING, Status.NOT_LAID_YET)
    pull, emergence = _after_laying(cycle, species, thresholds) if status is Status.LAID else ((), ())
    latest = next(iter(windows(cycle.start, known(species, "longest_wait"))), None) if waiting else None
    latest = replace(latest, first=latest.last) if latest else None  # a day, no window
    sac = sac if waiting else ()
    return Outlook(
        status=status,
        status_text=text,
        start=cycle.start,
        start_said=cycle.start_said,
        sac=sac,
        latest=latest,
        pull=pull,
        emergence=emergence,
        moult=tuple(moult_hints(her.last_moult, now, thresholds)) if her.last_moult and not her.gone else (),
        male=male,
        reasons=() if her.gone else reasons(cycle, her, him, now, thresholds),
        dates=tuple(sorted((d for d in _dates(sac, latest, pull, emergence) if d.on >= now), key=lambda d: d.on)),
        notices=shown,
    )


def _species(record: SessionRecord) -> str:
    animals = [a for a in (record.female, record.male) if a is not None and a.species.strip()]
    return animals[0].species if animals else ""


def _own(what: str, start: date, first: int | None, last: int | None) -> tuple[DateWindow, ...]:
    """The keeper's own window, where one is set."""
    if first is None and last is None:
        return ()
    low = first if first is not None else last
    high = last if last is not None else first
    return windows(start, [Known(what, low, high, "days", "", "hobby", "read", "your own", "your own")])


def _status(cycle: Cycle, her: Life, sac: Sequence[DateWindow], now: date) -> tuple[Status, str]:
    kinds = [o.kind for o in cycle.outcomes]
    if cycle.has_sac:
        if cycle.developed:
            return Status.YOUNG, f"Young developed: {', '.join(k for k in kinds if k in DEVELOPED) or 'see counts'}."
        ended = [k for k in kinds if k in ("infertile", "eaten", "lost")]
        if ended:
            return Status.OVER, f"A sac came and ended: {', '.join(ended)}."
        when = f" on {cycle.laid}" if cycle.laid else " (its day is not noted)"
        return Status.LAID, f"She laid{when}."
    if cycle.has_moulted:
        when = f" on {cycle.moulted}" if cycle.moulted else ""
        return Status.VOID, (
            f"She moulted{when} after {cycle.start_said} and before a sac. Stored sperm is shed with the old skin, "
            "so every planned date is void: re-pair [TSU595] [RA] [MV741] [MFR] (hobby)."
        )
    if "lost" in kinds:
        return Status.OVER, "Noted as lost before a sac was seen."
    if her.gone and her.gone >= cycle.start:
        return Status.GONE, f"She {her.gone_how} on {her.gone}."
    seen = "" if cycle.confirmed else " No insertion is confirmed; the dates hold in case one was missed."
    if sac and now > sac[0].last:
        return Status.NOT_LAID_YET, (
            f"The usual window ({sac[0].text}) has passed: not laid yet, which is no failure; waits of up to twelve "
            f"months are reported [SA] (hobby).{seen}"
        )
    return Status.WAITING, f"{(now - cycle.start).days} days since {cycle.start_said}.{seen}"


def _after_laying(cycle: Cycle, species: str, t: Thresholds) -> tuple[tuple[DateWindow, ...], tuple[DateWindow, ...]]:
    if cycle.laid is None:
        return (), ()
    pull = _own("laying to pulling", cycle.laid, t.pull_first_days, t.pull_last_days)
    pull = pull or windows(cycle.laid, known(species, "sac_pulled_after"))
    return pull, windows(cycle.laid, known(species, "sac_to_emergence"))


def _dates(
    sac: Sequence[DateWindow],
    latest: DateWindow | None,
    pull: Sequence[DateWindow],
    emergence: Sequence[DateWindow],
) -> list[Due]:
    due: list[Due] = []
    for key, found, first, last in (
        ("sac", sac, "A sac may come from now on", "End of the usual window for a sac (not laid yet is no failure)"),
        ("pull", pull, "The sac may be pulled from now on", "Last usual day for pulling the sac"),
        ("emergence", emergence, "Young may come out from now on", "End of the usual time for young to come out"),
    ):
        if found:  # the leading window only: several ranges side by side would fill a calendar
            lead = found[0]
            due.append(Due(f"{key}.first", lead.first, first, lead.source))
            if lead.last != lead.first:
                due.append(Due(f"{key}.last", lead.last, last, lead.source))
    if latest is not None:
        due.append(Due("sac.latest", latest.last, "Longest wait that was reported", latest.source))
    return due


def explain(thresholds: Thresholds = DEFAULT) -> tuple[tuple[str, object, str], ...]:
    """Every threshold with its value and source, for a page on which they can be changed."""
    return tuple((name, getattr(thresholds, name), source_of(thresholds, name)) for name in thresholds.__slots__)
