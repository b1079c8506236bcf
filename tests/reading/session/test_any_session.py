"""Whatever a keeper may have marked, the reading holds together and invents nothing."""

from datetime import date, timedelta
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from clipmark.book.meaning.acts import BUILT_IN
from clipmark.book.meaning.calls import reader_of
from clipmark.book.model import Decision, LifeEvent
from clipmark.reading import roles
from clipmark.reading.advice.outlook import outlook
from clipmark.reading.cycles.outcomes import outcomes
from clipmark.reading.session.agreement import compare, reviewers
from clipmark.reading.session.measures import read
from clipmark.reading.session.occurrences import framers
from tests.reading.made_records import Made

seconds = st.integers(0, 59_000).map(lambda ms: ms / 1000)
people = st.sampled_from(["Ada", "Ben", ""])


@st.composite
def sessions(draw, number=1):
    """One or two clips of a minute, anything marked anywhere, flags with any calls, any outcome."""
    day = date(2026, 1, 1) + timedelta(days=draw(st.integers(0, 300)))
    made = Made(length=60, session_id=number, date=draw(st.sampled_from([day.isoformat(), ""])), female_id=7)
    clips = [1]
    if draw(st.booleans()):
        clips.append(made.clip(60, offset=draw(st.fractions(-20, 80, max_denominator=25)), first_pts=542))
    for act in draw(st.lists(st.sampled_from(BUILT_IN), max_size=10)):
        start = draw(seconds)
        end = draw(st.none() | seconds.map(lambda s, start=start: max(s, start))) if act.lasting else None
        made.mark(act.code, start, end, clip=draw(st.sampled_from(clips)), by=draw(people))
    for _ in range(draw(st.integers(0, 4))):
        onset = draw(seconds)
        flag = made.flag(onset, release=draw(st.sampled_from([None, onset + 2])), clip=draw(st.sampled_from(clips)))
        for by in draw(st.lists(people, max_size=2)):
            made.call(flag, draw(st.sampled_from(list(Decision))), by=by)
    for clip in clips:
        made.watched(0, draw(seconds), clip=clip)
    if draw(st.booleans()):
        kind = draw(st.sampled_from(["laid", "infertile", "moulted", "nymphs", "lost", "none yet", "eaten"]))
        made.outcome(
            kind, (day + timedelta(days=draw(st.integers(-5, 400)))).isoformat(), nymphs=draw(st.integers(0, 9))
        )
    return made.record()


@settings(max_examples=60, deadline=None)
@given(sessions())
def test_the_figures_of_any_session_hold_together(record):
    reading = read(record)
    marks, flags, calls = ({x.id for x in xs} for xs in (record.marks, record.flags, record.calls))
    insertions = reading.insertions

    for figure in (*reading.figures, *(f for act in reading.acts for f in act.figures)):
        assert set(figure.marks) <= marks
        assert set(figure.flags) <= flags
        assert set(figure.calls) <= calls
        assert figure.text
        if figure.unit == "share" and figure.value is not None:
            assert 0 <= figure.value <= 1
        if figure.unit in ("s", "count") and figure.value is not None and not figure.key.startswith("parting."):
            assert figure.value >= 0
    assert reading.figure("time.observed").value <= reading.figure("time.filmed").value
    assert insertions.judgeable == insertions.confirmed + insertions.probable + insertions.attempts
    assert len(insertions.candidates) == (
        insertions.judgeable
        + insertions.not_visible
        + insertions.other
        + insertions.uncalled
        + len(insertions.contradicted)
    )
    assert sorted(i for c in insertions.candidates for i in c.flags) == sorted(flags)
    names, framing = reader_of(record).names, framers(record)
    mine = [m for m in record.marks if m.reviewer in (framing if m.act in roles.NO_BEHAVIOUR else names)]
    assert sum(len(o.marks) for o in reading.occurrences) == len(mine)


@settings(max_examples=40, deadline=None)
@given(sessions())
def test_any_two_reviewers_can_be_compared(record):
    people = reviewers(record)
    if len(people) < 2:
        return
    agreement = compare(record, people[0], people[1])

    for act in agreement.acts:
        assert act.off is None or act.off <= float(agreement.tolerance)
    assert agreement.same_call <= agreement.both_called
    assert all(c.clip_id in {clip.id for clip in record.clips} for c in agreement.clashes)
    swapped = compare(record, people[1], people[0])
    assert [(a.act, a.matched, a.only_a, a.only_b) for a in agreement.acts] == [
        (a.act, a.matched, a.only_b, a.only_a) for a in swapped.acts
    ]


@settings(max_examples=40, deadline=None)
@given(sessions(1), sessions(2), st.lists(st.integers(0, 500), max_size=3), st.integers(0, 700))
def test_any_outlook_and_any_outcomes_hold_together(one, two, moults, today):
    now = date(2026, 1, 1) + timedelta(days=today)
    life = [LifeEvent(0, 7, "moult", (date(2026, 1, 1) + timedelta(days=d)).isoformat()) for d in moults]

    seen = outlook(one, life, [], [two], now)
    across = outcomes([one, two], {7: life}, now)

    assert seen.status_text
    assert all(d.on >= now for d in seen.dates)
    assert all(w.first <= w.last for w in (*seen.sac, *seen.pull, *seen.emergence))
    assert all(c.days is None or c.days >= 0 for c in across.cases)
    assert sum(len(c.cycle.sessions) for c in across.cases) == across.sessions
    assert sum(across.ends.values()) == len(across.cases)
    assert Fraction(across.sac.with_it.n + across.sac.without_it.n) == sum(bool(c.end) for c in across.cases)
