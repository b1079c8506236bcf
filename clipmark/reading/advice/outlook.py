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

from clipmark.book.model import LifeEvent, SessionRecord, SpeciesNote
from clipmark.reading.advice.glance import Glance, glance
from clipmark.reading.advice.his_past import his_past
from clipmark.reading.advice.readiness import Hint, moult_hints, remaining
from clipmark.reading.advice.reasons import Reason, reasons
from clipmark.reading.advice.stages import SacView, fixed, sacs
from clipmark.reading.advice.thresholds import DEFAULT, Thresholds, for_kind, names, source_of
from clipmark.reading.cycles.cycle import DEVELOPED, Cycle, cycles, held
from clipmark.reading.cycles.life_dates import Life, life_of
from clipmark.reading.figure import plural
from clipmark.reading.kinds import notices
from clipmark.reading.kinds.notices import Notice
from clipmark.reading.kinds.signs import species_of
from clipmark.reading.kinds.species import OWN, DateWindow, Known, known, windows


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
        pull: windows for pulling the sac, once it is laid; emergence: when young may come out if it is left. Of the
            latest sac that is not over.
        pull_warnings: special cases that stand before any day for pulling (text, source), such as a fixed sac.
        sacs: each sac of this pairing with its stages.
        kind: what is known of her species, at a glance and whole.
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
    pull_warnings: tuple[tuple[str, str], ...]
    sacs: tuple[SacView, ...]
    kind: Glance
    moult: tuple[Hint, ...]
    male: Hint | None
    reasons: tuple[Reason, ...]
    dates: tuple[Due, ...]
    notices: tuple[Notice, ...]

    @property
    def pair_again(self) -> str:
        """What stands over the list of reasons, which is not added up."""
        if not self.reasons:
            return ""
        return "What speaks for it and what against it. Nothing is added up; the choice is yours."


def outlook(
    record: SessionRecord,
    her_events: Sequence[LifeEvent] = (),
    his_events: Sequence[LifeEvent] = (),
    others: Sequence[SessionRecord] = (),
    today: date | None = None,
    thresholds: Thresholds = DEFAULT,
    own: Sequence[SpeciesNote] = (),
) -> Outlook:
    """The outlook of one session.

    Args:
        her_events, his_events: dated events of the two animals.
        others: her other sessions (with any male), which decide what cycle this one belongs to, and his (with any
            female), which say what he has done since.
        today: the day to look from; the present day where None.
        own: what the keeper noted of species; it goes before all sources.
    """
    now = today or date.today()
    her, him = life_of(her_events, now), life_of(his_events, now)
    species = species_of(record)
    hers = for_kind(thresholds, species, own)
    his = for_kind(thresholds, record.male.species if record.male is not None else species, own)
    past = his_past((record, *others), record.session.male_id, now, record.session.id)
    she = record.session.female_id  # sessions in which no female is entered are nobody's
    mine = [o for o in others if she is not None and o.session.id != record.session.id and o.session.female_id == she]
    sessions = held([record, *mine])
    cycle = next(
        (c for c in cycles(sessions, her) for s in c.sessions if s.record.session.id == record.session.id), None
    )
    male = remaining(him.matured, now, his) if him.matured and not him.gone and past.killed is None else None
    shown, kind = (notices.SEEN_ONLY, notices.STANDING), glance(species, own)
    if cycle is None:
        text = "The session has no date, so no window can be counted. Enter its date."
        return Outlook(
            Status.UNDATED, text, None, "", (), None, (), (), (), (), kind, (), male, (), (), shown
        )  # fmt: skip
    sac = _own("pairing to sac", cycle.start, thresholds.sac_first_days, thresholds.sac_last_days)
    sac = sac or windows(cycle.start, known(species, "pairing_to_sac", own))
    seen = sacs(record, species, own, others, _own_pull(thresholds))
    status, text = _status(cycle, her, sac, now, seen)
    waiting = status in (Status.WAITING, Status.NOT_LAID_YET)
    pull, emergence = _after_laying(cycle, seen, species, thresholds, own)
    warned = tuple((f, s) for view in seen[:1] for f, s in view.warnings) if pull or emergence else ()
    latest = next(iter(windows(cycle.start, known(species, "longest_wait", own))), None) if waiting else None
    latest = replace(latest, first=latest.last) if latest else None  # a day, no window
    sac = sac if waiting else ()
    due = _dates(sac, latest, pull, emergence, fixed(species, own))
    return Outlook(
        status=status,
        status_text=text,
        start=cycle.start,
        start_said=cycle.start_said,
        sac=sac,
        latest=latest,
        pull=pull,
        emergence=emergence,
        pull_warnings=warned,
        sacs=seen,
        kind=kind,
        moult=tuple(moult_hints(her.last_moult, now, hers)) if her.last_moult and not her.gone else (),
        male=male,
        reasons=() if her.gone else reasons(cycle, her, him, now, hers, past, his),
        dates=tuple(sorted((d for d in due if d.on >= now), key=lambda d: d.on)),
        notices=shown,
    )


def _own(what: str, start: date, first: int | None, last: int | None) -> tuple[DateWindow, ...]:
    """The keeper's own window, where one is set."""
    figure = _own_figure(what, first, last)
    return windows(start, [figure]) if figure is not None else ()


def _own_figure(what: str, first: int | None, last: int | None) -> Known | None:
    if first is None and last is None:
        return None
    low = first if first is not None else last
    high = last if last is not None else first
    return Known(what, low, high, "days", "", "own", "your own", "", "all species", OWN)


def _own_pull(t: Thresholds) -> Known | None:
    return _own_figure("sac_pulled_after", t.pull_first_days, t.pull_last_days)


def _status(
    cycle: Cycle, her: Life, sac: Sequence[DateWindow], now: date, seen: Sequence[SacView]
) -> tuple[Status, str]:
    kinds = [o.kind for o in cycle.outcomes]
    later = [view for view in seen[1:] if view.laid is not None and not view.ended and not _developed(view)]
    if cycle.has_sac and later:
        return Status.LAID, f"She laid her sac number {later[-1].number} on {later[-1].laid}."
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
    if her.gone and her.gone >= cycle.start:
        return Status.GONE, f"She {her.gone_how} on {her.gone}."
    doubt = "" if cycle.confirmed else " No insertion is confirmed; the dates hold in case one was missed."
    if sac and now > sac[0].last:
        return Status.NOT_LAID_YET, (
            f"The usual window ({sac[0].text}) has passed: not laid yet, which is no failure; waits of up to twelve "
            f"months are reported [SA] (hobby).{doubt}"
        )
    return Status.WAITING, f"{plural((now - cycle.start).days, 'day')} since {cycle.start_said}.{doubt}"


def _developed(view: SacView) -> bool:
    return any(stage.on is not None and stage.stage.kind in ("larvae", "nymphs") for stage in view.stages)


def _after_laying(
    cycle: Cycle, seen: Sequence[SacView], species: str, t: Thresholds, own: Sequence[SpeciesNote]
) -> tuple[tuple[DateWindow, ...], tuple[DateWindow, ...]]:
    """When to pull the latest sac that is not over, and when young may come out of it."""
    if cycle.has_moulted:
        return (), ()
    running = [view for view in seen if not view.ended and view.laid is not None]
    if not running:
        # laid in another session of the same cycle
        if seen or cycle.laid is None or not cycle.has_sac or cycle.developed:
            return (), ()
        if any(o.kind in ("infertile", "eaten", "lost") for o in cycle.outcomes):
            return (), ()
        pull = _own("laying to pulling", cycle.laid, t.pull_first_days, t.pull_last_days)
        pull = pull or windows(cycle.laid, known(species, "sac_pulled_after", own))
        return pull, windows(cycle.laid, known(species, "sac_to_emergence", own))
    view = running[-1]
    if _developed(view):
        return (), ()
    by_kind = {stage.stage.kind: stage.expected for stage in view.stages}
    return by_kind.get("pulled", ()), by_kind.get("out", ())


def _dates(
    sac: Sequence[DateWindow],
    latest: DateWindow | None,
    pull: Sequence[DateWindow],
    emergence: Sequence[DateWindow],
    fixed_sac: bool,
) -> list[Due]:
    due: list[Due] = []
    beware = " (this kind fixes its sac to the place: look first)" if fixed_sac else ""
    for key, found, first, last in (
        ("sac", sac, "A sac may come from now on", "End of the usual window for a sac (not laid yet is no failure)"),
        ("pull", pull, f"The sac may be pulled from now on{beware}", f"Last usual day for pulling the sac{beware}"),
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
    return tuple((name, getattr(thresholds, name), source_of(thresholds, name)) for name in names())
