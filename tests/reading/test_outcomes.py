"""Across sessions: invented breeding years whose sums are done by hand."""

from dataclasses import replace
from datetime import date

import pytest
from made_records import Made

from clipmark.book.model import Decision, LifeEvent, Sign
from clipmark.reading.cycles.flag_quality import flag_quality
from clipmark.reading.cycles.outcomes import FILM_SIGNS, outcomes

TODAY = date(2027, 1, 1)


def pairing(number, confirmed, outcome=None, days=50, female=None, counts=None):
    made = Made(session_id=number, date="2026-03-01", female_id=female or 100 + number)
    made.mark("drumming", 10, 20)
    if confirmed:
        made.flag(100, release=103, call=Decision.CONFIRMED)
    if outcome:
        day = date.fromordinal(date(2026, 3, 1).toordinal() + days).isoformat()
        made.outcome(outcome, day, **(counts or {}))
    return made.record()


def many(confirmed_sac, confirmed_moult, other_sac, other_moult):
    records = []
    for confirmed, outcome, number in (
        (True, "laid", confirmed_sac),
        (True, "moulted", confirmed_moult),
        (False, "laid", other_sac),
        (False, "moulted", other_moult),
    ):
        records += [pairing(len(records) + k + 1, confirmed, outcome) for k in range(number)]
    return records


def test_sacs_are_compared_by_what_film_showed():
    """The table of TRADE 6.2 F4 (p calculated there): 8 of 10 against 1 of 6."""
    read = outcomes(many(8, 2, 1, 5), today=TODAY)

    assert (8, 10, 1, 6) == (read.sac.with_it.k, read.sac.with_it.n, read.sac.without_it.k, read.sac.without_it.n)
    assert 0.0349650 == pytest.approx(read.sac.exact.p, abs=5e-8)
    assert {"sac": 9, "moult": 7} == read.ends


def test_below_five_cases_only_counts_are_told():
    read = outcomes(many(2, 0, 1, 1), today=TODAY)

    assert "a sac: 2 of 2 with “confirmed insertion”, 1 of 2 without" == read.sac.text
    assert (None, None, None) == (read.sac.exact, read.waiting, read.incidence)
    assert any("only counts" in note for note in read.notes)


def test_who_still_waits_is_in_the_times_and_in_no_comparison():
    records = [pairing(k, True, "laid", days=40 + k) for k in range(1, 6)] + [pairing(9, True, "none yet", days=30)]

    read = outcomes(records, today=TODAY)

    assert 5 == read.sac.with_it.n
    assert (6, 1) == (read.waiting.n, read.waiting.censored)
    assert 43 == read.waiting.median
    assert any("1 cycle still waiting" in note for note in read.notes)


def test_a_wait_is_counted_to_the_last_entry_about_her():
    record = pairing(1, True)
    life = {record.female.id: [LifeEvent(0, record.female.id, "fed", "2026-04-10")]}

    assert [40] == [c.days for c in outcomes([record], life, TODAY).cases]
    assert [0] == [c.days for c in outcomes([record], today=TODAY).cases]


def test_moults_compete_with_sacs():
    read = outcomes(many(5, 5, 0, 0), today=TODAY)

    assert (0.5, 0.5) == (
        pytest.approx(read.incidence.share["sac"][-1]),
        pytest.approx(read.incidence.share["moult"][-1]),
    )


def test_two_pairings_in_one_cycle_are_one_case():
    first = pairing(1, False, female=7)
    second = pairing(2, True, "laid", female=7)
    second = replace(second, session=replace(second.session, date="2026-03-08"))

    read = outcomes([first, second], today=TODAY)

    assert (2, 1, 1) == (read.sessions, len(read.cases), read.females)
    assert date(2026, 3, 8) == read.cases[0].cycle.start


def test_a_female_with_several_cycles_is_told():
    early = pairing(1, True, "laid", female=7)
    late = pairing(2, True, female=7)
    late = replace(late, session=replace(late.session, date="2026-11-01"))

    read = outcomes([early, late], today=TODAY)

    assert any("1 female of 1 stand for 2 of 2 cycles" in note for note in read.notes)


def test_sessions_without_a_female_or_a_date_are_left_out_and_told():
    nameless = replace(pairing(1, True), female=None)
    undated = pairing(2, True)
    undated = replace(undated, session=replace(undated.session, date=""))

    read = outcomes([nameless, undated], today=TODAY)

    assert () == read.cases
    assert [
        "1 session without a female left out.",
        "1 session without a date, or with one still to come, left out.",
    ] == list(read.notes[:2])


def test_nymphs_of_good_eggs_are_the_survival():
    """TRADE 4.6: nymphs by good eggs, with the interval of Wilson."""
    read = outcomes(
        [
            pairing(1, True, "nymphs", counts={"good eggs": 100, "bad eggs": 10, "nymphs": 80}),
            pairing(2, True, "nymphs", counts={"eggs": 50, "nymphs": 40}),
            pairing(3, True, "nymphs", counts={"eggs": 5, "nymphs": 40}),
        ],
        today=TODAY,
    )

    assert (120, 150) == (read.survival.k, read.survival.n)
    assert "1 sac with more nymphs than eggs left out of the survival." in read.notes


def test_young_are_known_only_where_a_sac_was_opened_or_a_moult_ended_it():
    records = [
        pairing(1, True, "nymphs", counts={"nymphs": 10}),
        pairing(2, True, "infertile"),
        pairing(3, True, "laid"),
        pairing(4, True, "moulted"),
    ]

    read = outcomes(records, today=TODAY)

    assert [True, False, None, False] == [c.young for c in read.cases]
    assert (1, 3) == (read.young.with_it.k, read.young.with_it.n)


def test_a_sign_counts_where_a_good_call_rests_on_it():
    made = Made(session_id=1, date="2026-03-01")
    flag = made.flag(100)
    made.call(flag, Decision.PROBABLE)
    made.calls[0] = replace(made.calls[0], signs=(Sign.ABDOMEN_DRAWN,))
    made.outcome("laid", "2026-05-01")

    shown = outcomes([made.record()], today=TODAY).cases[0].shown

    assert {"abdomen drawn in", "confirmed or probable insertion"} <= shown
    assert "confirmed insertion" not in shown
    assert shown <= set(FILM_SIGNS)


def test_an_outcome_without_any_session_is_nothing():
    read = outcomes([], today=TODAY)

    assert ((), {}, None) == (read.cases, read.ends, read.waiting)


def judged():
    made = Made()
    for k, decision in enumerate(
        (Decision.CONFIRMED, Decision.PROBABLE, Decision.ATTEMPT, Decision.OTHER, Decision.NOT_SEEN)
    ):
        made.flag(100 + 20 * k, call=decision)
    made.flag(300)
    made.flag(320, flagged=False, call=Decision.OTHER)
    made.watched(0, 600)
    return made


def test_how_good_the_flags_were_comes_from_the_calls():
    [row] = flag_quality([judged().record()])

    assert (2, 1, 1, 1, 1) == (row.right, row.attempts, row.false, row.not_seen, row.uncalled)
    assert (2, 4) == (row.insertions.k, row.insertions.n)
    assert (3, 4) == (row.worth_a_look.k, row.worth_a_look.n)


def test_flags_of_different_parameters_are_told_apart():
    made = judged()
    made.flag(400, call=Decision.OTHER, parameters="pulls-2")

    assert [("pulls-1", 4), ("pulls-2", 1)] == [(q.parameters, q.insertions.n) for q in flag_quality([made.record()])]


def test_misses_are_counted_only_where_the_film_was_watched_in_full():
    made = judged()
    own = made.flag(200, call=Decision.CONFIRMED)
    made.flags[-1] = replace(made.flags[-1], pass_id=None, parameters="", by="Ada")
    made.mark("insertion left", 500, 505)  # outside what was watched in full
    made.mark("insertion right", 100.3, 103)  # the flag at 100 stands for it

    before = flag_quality([made.record()])[0]
    made.watched_in_full(90, 250)
    after = flag_quality([made.record()])[0]

    assert own
    assert (0, 0) == (before.hits, before.missed)
    assert (2, 1, 160) == (after.hits, after.missed, after.watched_in_full_s)
    assert (2, 3) == (after.recall.k, after.recall.n)
