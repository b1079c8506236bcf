"""Do two reviewers of one session agree: on what happened when, on each flag, and where they clash.

Three views, since they say different things [BQ09]: acts paired in time (precision, recall, kappa of events), time
unit by unit for lasting acts, and a weighted kappa of the calls. The clashes are a list to step through on film.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from clipmark.book.meaning.calls import calls_by, people
from clipmark.book.model import Call, Decision, SessionRecord
from clipmark.errors import ClipmarkError
from clipmark.reading import roles, spans
from clipmark.reading.numbers.block_bootstrap import block_length, bootstrapped, limits
from clipmark.reading.numbers.detection import Found
from clipmark.reading.numbers.kappa import Kappa, kappa
from clipmark.reading.numbers.matching import match
from clipmark.reading.numbers.timed_kappa import TimedAgreement, compare_units
from clipmark.reading.sequence import scale_to_margins
from clipmark.reading.session.observed import observe
from clipmark.reading.session.occurrences import Occurrence, occurrences
from clipmark.timebase import Span

Floats = NDArray[np.float64]
TOLERANCE = Fraction(1, 2)  # s; proposal, editable
FEWEST_EVENTS = 10  # below these no interval is told
UNIT = Fraction(1, 5)  # s, one unit of time; proposal
# The scale of calls: how much seating was seen. "something else" (no insertion at all) stands at its foot.
SCALE = (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT, Decision.OTHER, Decision.NOT_SEEN)
# Steps on that scale; "not seen" is no grade, so against any other it counts as two steps. Proposal.
STEPS = ((0, 1, 2, 3, 2), (1, 0, 1, 2, 2), (2, 1, 0, 1, 2), (3, 2, 1, 0, 2), (2, 2, 2, 2, 0))


def known_reviewer(record: SessionRecord, name: str) -> str:
    """The name, where it is empty or of one who marked or called something here.

    Raises:
        NothingByReviewer.
    """
    if name and name not in people(record):
        raise NothingByReviewer(name, people(record))
    return name


def named(reviewer: str) -> str:
    """The reviewer's name, or "(no name)" for marks and calls that were made without one."""
    return reviewer or "(no name)"


class NothingByReviewer(ClipmarkError):
    def __init__(self, name: str, known: Sequence[str]):
        there = f"There are some by {', '.join(map(named, known))}." if known else "Nobody has marked anything here."
        super().__init__(f"“{name}” has marked and called nothing in this session. {there}")
        self.name = name


class SameReviewer(ClipmarkError):
    def __init__(self, name: str):
        super().__init__(f"“{name}” was named twice. Name two reviewers.")


@dataclass(frozen=True, slots=True)
class ActAgreement:
    """One act: onsets paired within the tolerance, A taken as the reference.

    Attributes:
        matched: pairs; only_a, only_b: onsets without a partner.
        off: median |difference| of the pairs, seconds; None without pairs.
        timed: unit by unit, for lasting acts; None for momentary ones.
    """

    act: str
    label: str
    matched: int
    only_a: int
    only_b: int
    off: float | None
    timed: TimedAgreement | None

    @property
    def found(self) -> Found:
        """B's precision, recall and F1 against A."""
        return Found(self.matched, self.only_b, self.only_a)


@dataclass(frozen=True, slots=True)
class Clash:
    """Something to look at again on film. `kind` is "only A", "only B", "another act", "another call" or "called by
    one"; `a`, `b` are what each said. `pts` is a tick of the clip."""

    at: Fraction
    clip_id: int
    pts: int
    kind: str
    a: str
    b: str
    marks: tuple[int, ...] = ()
    flag: int = 0


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two reviewers compared.

    Attributes:
        a, b: their names; tolerance: seconds.
        acts: act by act.
        events: kappa of events, with "not marked" as a word that both can never say; None without events.
        timed: unit by unit over all lasting acts at once (the acts that are on, as one label).
        calls: weighted kappa over flags that both called; `calls_plain` unweighted; None without such flags.
        both_called, same_call: counts of flags.
        clashes: sorted by time.
        notes: what must be said beside it: who marked nothing, so that acts cannot be compared.
    """

    a: str
    b: str
    tolerance: Fraction
    acts: tuple[ActAgreement, ...]
    events: Kappa | None
    timed: TimedAgreement | None
    calls: Kappa | None
    calls_plain: Kappa | None
    both_called: int
    same_call: int
    clashes: tuple[Clash, ...]
    notes: tuple[str, ...] = ()


def reviewers(record: SessionRecord) -> tuple[str, ...]:
    """Who has marked or called something, sorted by name."""
    return tuple(sorted({m.reviewer for m in record.marks} | {c.reviewer for c in record.calls}))


def compare(
    record: SessionRecord,
    a: str,
    b: str,
    tolerance: Fraction = TOLERANCE,
    unit: Fraction = UNIT,
    within: Span | None = None,
) -> Agreement:
    """Compare two reviewers of a session.

    Acts are compared only where both marked some: who only called flags has not said that nothing else happened.

    Args:
        within: only what begins in this stretch of the session clock, for a film that one of them saw in part.
    Raises:
        SameReviewer, NothingByReviewer: the names do not fit the session.
        ValueError: a negative tolerance, or a unit that is not positive.
    """
    if tolerance < 0 or unit <= 0:
        raise ValueError("tolerance must not be negative, and the unit must be positive")
    if a == b:
        raise SameReviewer(a)
    for name in (a, b):
        if name not in reviewers(record):
            raise NothingByReviewer(name, reviewers(record))
    mine, theirs = _behaviour(record, a, within), _behaviour(record, b, within)
    idle = [name for name, marked in ((a, mine), (b, theirs)) if not marked]
    if idle:
        mine = theirs = []
    pairs = _pair(mine, theirs, tolerance)
    codes = tuple(dict.fromkeys(o.act for o in sorted((*mine, *theirs), key=lambda o: (o.start, o.act))))
    reach = int(tolerance / unit)
    film = spans.overlap(*(observe(record, occurrences(record, name)).seen for name in (a, b)))
    film = film if within is None else spans.overlap(film, [within])
    middles = _unit_middles(film, unit) if not idle else np.empty(0)
    called = _calls_of(record, a, within), _calls_of(record, b, within)
    weighted, plain, both, same = _call_kappa(*called)
    clashes = [*_mark_clashes(record, mine, theirs, pairs), *_call_clashes(record, *called)]
    return Agreement(
        a=a,
        b=b,
        tolerance=tolerance,
        acts=tuple(_act(record, code, mine, theirs, pairs, middles, reach) for code in codes),
        events=_event_kappa(codes, mine, theirs, pairs),
        timed=compare_units(_labels(mine, middles), _labels(theirs, middles), reach),
        calls=weighted,
        calls_plain=plain,
        both_called=both,
        same_call=same,
        clashes=tuple(sorted(clashes, key=lambda c: (c.at, c.clip_id, c.kind))),
        notes=tuple(f"{named(name)} marked no acts here, so acts are not compared." for name in idle),
    )


def _behaviour(record: SessionRecord, reviewer: str, within: Span | None) -> list[Occurrence]:
    return [
        o
        for o in occurrences(record, by={reviewer})
        if o.act not in roles.NO_BEHAVIOUR and (within is None or o.start in within)
    ]


Pairs = list[tuple[Occurrence, Occurrence]]


def _pair(mine: Sequence[Occurrence], theirs: Sequence[Occurrence], tolerance: Fraction) -> Pairs:
    """Same act and actor first; what is left over then across acts, which gives the confusions."""
    pairs: Pairs = []
    kinds = dict.fromkeys((o.act, o.actor) for o in mine)
    for kind in kinds:
        x = [o for o in mine if (o.act, o.actor) == kind]
        y = [o for o in theirs if (o.act, o.actor) == kind]
        pairs.extend((x[i], y[j]) for i, j in match([o.start for o in x], [o.start for o in y], tolerance))
    used = {o.marks for pair in pairs for o in pair}
    x = [o for o in mine if o.marks not in used]
    y = [o for o in theirs if o.marks not in used]
    pairs.extend((x[i], y[j]) for i, j in match([o.start for o in x], [o.start for o in y], tolerance))
    return pairs


def _same(pair: tuple[Occurrence, Occurrence]) -> bool:
    return (pair[0].act, pair[0].actor) == (pair[1].act, pair[1].actor)


def _act(
    record: SessionRecord,
    code: str,
    mine: Sequence[Occurrence],
    theirs: Sequence[Occurrence],
    pairs: Pairs,
    middles: Floats,
    reach: int,
) -> ActAgreement:
    own = [p for p in pairs if _same(p) and p[0].act == code]
    x, y = [o for o in mine if o.act == code], [o for o in theirs if o.act == code]
    off = statistics.median(abs(p[0].start - p[1].start) for p in own) if own else None
    lasting = any(o.lasting for o in (*x, *y))
    return ActAgreement(
        act=code,
        label=roles.label(record, code),
        matched=len(own),
        only_a=len(x) - len(own),
        only_b=len(y) - len(own),
        off=None if off is None else float(off),
        timed=compare_units(_labels(x, middles), _labels(y, middles), reach, 0) if lasting else None,
    )


def _unit_middles(film: Sequence[Span], unit: Fraction) -> Floats:
    """The middle of each whole unit of filmed time, seconds of the session clock, shape (n,)."""
    half = Fraction(1, 2)
    return np.array([float(s.start + (k + half) * unit) for s in film for k in range(int(s.duration / unit))])


def _labels(happened: Iterable[Occurrence], middle: Floats) -> list[frozenset[str]]:
    """For each unit of time, the lasting acts that are on at its middle."""
    acts = [o for o in happened if o.lasting]
    names = sorted({f"{o.act}/{o.actor}" for o in acts})
    on = np.zeros((len(names), len(middle)), bool)
    for o in acts:
        on[names.index(f"{o.act}/{o.actor}")] |= (middle >= float(o.span.start)) & (middle < float(o.span.end))
    sets: dict[bytes, frozenset[str]] = {}
    columns = np.packbits(on, axis=0).T
    labels = []
    for k, row in enumerate(columns):
        key = row.tobytes()
        if key not in sets:
            sets[key] = frozenset(name for name, present in zip(names, on[:, k], strict=True) if present)
        labels.append(sets[key])
    return labels


def _event_kappa(
    codes: Sequence[str], mine: Sequence[Occurrence], theirs: Sequence[Occurrence], pairs: Pairs
) -> Kappa | None:
    """Kappa over paired and unpaired events. That both marked nothing is no event, so that cell is structurally empty
    and chance is fitted round it ([BQ09]; the fitting as for transitions)."""
    k = len(codes) + 1
    table = np.zeros((k, k))
    place = {code: i for i, code in enumerate(codes)}
    for x, y in pairs:
        table[place[x.act], place[y.act]] += 1
    used = {o.marks for pair in pairs for o in pair}
    for o in mine:
        table[place[o.act], -1] += o.marks not in used
    for o in theirs:
        table[-1, place[o.act]] += o.marks not in used
    n = table.sum()
    if n == 0:
        return None
    possible = np.ones((k, k), bool)
    possible[-1, -1] = False
    expected = scale_to_margins(table, possible)
    seen, chance = float(np.trace(table) / n), float(np.trace(expected) / n)
    value = (seen - chance) / (1 - chance) if 1 - chance > 1e-12 else None
    low, high = (None, None) if value is None else _event_limits(table, _in_order(mine, theirs, pairs, place))
    return Kappa(value, seen, chance, int(n), None, None, None, None, None, low, high)


def _event_value(table: Floats) -> float | None:
    """Kappa with the last cell structurally empty. With one such cell the fit to the margins has a closed form: the
    cell is filled so that rows and columns are independent."""
    n, row, column = table.sum(), table.sum(1), table.sum(0)
    left = n - row[-1] - column[-1]
    if left <= 0:
        return None
    filled = row[-1] * column[-1] / left
    chance = float(row[:-1] @ column[:-1]) / (n + filled) / n
    return None if 1 - chance <= 1e-12 else (float(np.trace(table)) / n - chance) / (1 - chance)


def _in_order(
    mine: Sequence[Occurrence], theirs: Sequence[Occurrence], pairs: Pairs, place: dict[str, int]
) -> list[tuple[int, int]]:
    """Row and column of each event in order of time; the last row and column are “not marked”."""
    last = len(place)
    used = {o.marks for pair in pairs for o in pair}
    events = [(min(x.start, y.start), place[x.act], place[y.act]) for x, y in pairs]
    events += [(o.start, place[o.act], last) for o in mine if o.marks not in used]
    events += [(o.start, last, place[o.act]) for o in theirs if o.marks not in used]
    return [(row, column) for _, row, column in sorted(events)]


def _event_limits(table: Floats, events: list[tuple[int, int]]) -> tuple[float | None, float | None]:
    """95 % limits of the kappa of events, events resampled in blocks; None for fewer than ten events."""
    if len(events) < FEWEST_EVENTS:
        return None, None
    k = len(table)
    pairs, codes = np.unique([row * k + column for row, column in events], return_inverse=True)
    rows, columns = np.divmod(pairs, k)

    def statistic(counts: Floats) -> float | None:
        drawn = np.zeros((k, k))
        drawn[rows, columns] = counts
        return _event_value(drawn)

    length = block_length(np.array([row == column for row, column in events]))
    found = limits(bootstrapped(codes.astype(np.int64), len(pairs), statistic, length))
    return found if found is not None else (None, None)


def _calls_of(record: SessionRecord, reviewer: str, within: Span | None) -> dict[int, Call]:
    flags = {
        flag.id
        for flag in (*record.flags, *record.older_flags)
        if within is None or record.clip(flag.clip_id).on_clock(flag.onset_pts) in within
    }
    return {flag: call for flag, call in calls_by(record.calls, reviewer).items() if flag in flags}


def _call_kappa(mine: dict[int, Call], theirs: dict[int, Call]) -> tuple[Kappa | None, Kappa | None, int, int]:
    both = sorted(mine.keys() & theirs.keys())
    if not both:
        return None, None, 0, 0
    table = np.zeros((len(SCALE), len(SCALE)))
    for flag in both:
        table[SCALE.index(mine[flag].decision), SCALE.index(theirs[flag].decision)] += 1
    return kappa(table, STEPS), kappa(table), len(both), int(np.trace(table))


def _mark_clashes(
    record: SessionRecord, mine: Sequence[Occurrence], theirs: Sequence[Occurrence], pairs: Pairs
) -> Iterable[Clash]:
    used = {o.marks for pair in pairs for o in pair}
    for x, y in pairs:
        if not _same((x, y)):
            yield _clash(record, min(x, y, key=lambda o: o.start), "another act", x, y)
    for o in mine:
        if o.marks not in used:
            yield _clash(record, o, "only A", o, None)
    for o in theirs:
        if o.marks not in used:
            yield _clash(record, o, "only B", None, o)


def _clash(record: SessionRecord, o: Occurrence, kind: str, a: Occurrence | None, b: Occurrence | None) -> Clash:
    mark = next(m for m in record.marks if m.id == o.marks[0])
    said = [roles.label(record, x.act) + f" ({x.actor})" if x else "–" for x in (a, b)]
    marks = tuple(m for x in (a, b) if x for m in x.marks)
    return Clash(o.start, mark.clip_id, mark.start_pts, kind, said[0], said[1], marks)


def _call_clashes(record: SessionRecord, mine: dict[int, Call], theirs: dict[int, Call]) -> Iterable[Clash]:
    for flag in (*record.flags, *record.older_flags):
        x, y = mine.get(flag.id), theirs.get(flag.id)
        if (x is None and y is None) or (x and y and x.decision is y.decision and x.palp == y.palp):
            continue
        kind = "another call" if x and y else "called by one"
        at = record.clip(flag.clip_id).on_clock(flag.onset_pts)
        yield Clash(at, flag.clip_id, flag.onset_pts, kind, _said(x), _said(y), (), flag.id)


def _said(call: Call | None) -> str:
    return "–" if call is None else str(call.decision) + (f", {call.palp} palp" if call.palp else "")
